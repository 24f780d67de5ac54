"""What a traverse must hold to be averaged: a printed number of points, and readings that fit them."""

from __future__ import annotations

from itertools import pairwise

from airbough.wire.measurement import TraverseRequest
from airbough.wire.problem import Fault
from airbough_service.catalogue.traverse import rule
from airbough_service.terms.refusal import Refusal


def fault(path: str, code: str, detail: str) -> Fault:
    """Return a fault."""
    return Fault(path=path, code=code, detail=detail)


def points(request: TraverseRequest) -> tuple[float, ...]:
    """Return the rule's points as shares of the bore.

    Raises:
        Refusal: a number of points that the rule does not print, or rows that do not fit it.
    """
    printed = rule(request.rule).fractions
    if request.per_diameter not in printed:
        numbers = ", ".join(map(str, sorted(printed)))
        detail = f"the {request.rule} rule is printed for {numbers} points on a diameter"
        raise Refusal("not-computable", [fault("per_diameter", "points-not-printed", detail)])
    fractions = printed[request.per_diameter]
    faults = [*_rows(request), *_order(request)]
    if faults:
        raise Refusal("not-computable", faults)
    return fractions


def _rows(request: TraverseRequest) -> list[Fault]:
    """Return the faults of rows that are too many, too few, too long or too short."""
    given = {
        "velocity_pressures": request.velocity_pressures,
        "velocities": request.velocities,
        "depths": request.depths,
    }
    faults = []
    if request.velocity_pressures and request.velocities:
        faults.append(fault("velocities", "two-kinds-of-reading", "give velocity pressures or velocities, not both"))
    if request.depths and not request.velocity_pressures and not request.velocities:
        faults.append(fault("depths", "depths-without-readings", "depths go with readings"))
    for name, rows in given.items():
        if rows and len(rows) != request.diameters:
            detail = f"{request.diameters} diameters need {request.diameters} rows; {len(rows)} are given"
            faults.append(fault(name, "rows-do-not-fit", detail))
        faults += [
            fault(f"{name}[{k}]", "readings-do-not-fit", f"{request.per_diameter} are needed; {len(row)} are given")
            for k, row in enumerate(rows)
            if len(row) != request.per_diameter
        ]
    return faults


def _order(request: TraverseRequest) -> list[Fault]:
    """Return a fault for each row of depths that does not rise from the wall."""
    rows = [(k, tuple(map(float, row))) for k, row in enumerate(request.depths)]
    return [
        fault(
            f"depths[{k}]", "depths-not-rising", "depths count from one wall and rise; turn the row with its readings"
        )
        for k, row in rows
        if any(there <= here for here, there in pairwise(row))
    ]
