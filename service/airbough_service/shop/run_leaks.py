"""The leaks of a document: each run's class as a leak coefficient for the packed tree."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.catalogue import (
    Passport,
    UnknownWordError,
)
from airbough_service.catalogue.leakage import (
    LeakageClass,
    all_leakage_classes,
    leakage_class,
)
from airbough_service.core.laws.leakage import leak_coefficient
from airbough_service.core.network.parted_runs import Part, PartedRuns, part_runs
from airbough_service.core.network.tree import Run as PackedRun
from airbough_service.shop.pieces import Found, course, nearest_fault


class Leaking(Struct, frozen=True):
    """Leak of each run at 1 Pa [m3/s per Pa^exponent], in document order; 0 where it does not leak.

    Attributes:
        coefficients: one for each run.
        exponent: of the law.
        passports: where classes and law come from.
    """

    coefficients: tuple[float, ...]
    exponent: float
    passports: tuple[Passport, ...]

    @property
    def any(self) -> bool:
        """Whether any run leaks."""
        return max(self.coefficients, default=0.0) > 0.0

    def parted(self, rows: Sequence[PackedRun], parts: Mapping[int, Sequence[Part]] | None = None) -> PartedRuns:
        """Return the rows with their leaks; rows beyond those of the document do not leak.

        Args:
            rows: one for each run, then those behind the inlet.
            parts: of the runs whose bore changes between lengths of duct.
        """
        none = [0.0] * (len(rows) - len(self.coefficients))
        return part_runs(rows, [*self.coefficients, *none], self.exponent, parts)


def leaking(runs: Sequence[Run]) -> tuple[Leaking, list[Fault]]:
    """Return the leaks of a document's runs, in SI, and a fault for each class that the catalogue does not have."""
    if not [run for run in runs if run.leakage_class is not None or run.leak is not None]:
        return Leaking((0.0,) * len(runs), all_leakage_classes()[0].exponent, ()), []
    coefficients: list[float] = []
    faults: list[Fault] = []
    classes: list[LeakageClass] = []
    for index, run in enumerate(runs):
        found = None if run.leakage_class is None else _class(run.leakage_class, index, faults)
        if run.leakage_class is not None and run.leak is not None:
            detail = "`leakage_class` is given already"
            faults.append(Fault(path=f"runs[{index}].leak", code="given-twice", detail=detail))
        known = 0.0 if run.leak is None else run.leak.coefficient
        coefficients.append(known if found is None else _coefficient(run, found))
        classes += [] if found is None else [found]
    exponent = classes[0].exponent if classes else all_leakage_classes()[0].exponent
    own = {run.leak.exponent for run in runs if run.leak is not None}
    if len(own | {one.exponent for one in classes}) > 1:
        detail = "all leaks of a tree have one exponent"
        faults.append(Fault(path="runs", code="leak-exponents-differ", detail=detail))
    exponent = min(own, default=exponent)
    passports = tuple(dict.fromkeys(passport for one in classes for passport in (one.passport, one.law)))
    return Leaking(tuple(coefficients), exponent, passports), faults


def _class(word: str, index: int, faults: list[Fault]) -> LeakageClass | None:
    """Return a class, or note that the catalogue does not have it."""
    try:
        return leakage_class(word)
    except UnknownWordError as error:
        faults.append(nearest_fault(f"runs[{index}].leakage_class", error))
        return None


def _coefficient(run: Run, found: LeakageClass) -> float:
    """Return the leak of a run's wall at 1 Pa; the surface is that of its bores and straight lengths."""
    parts = course(Found(), run).parts  # faults are gathered where the run is made ready
    return sum(leak_coefficient(1.0, found.coefficient, part.bore, part.length) for part in parts)
