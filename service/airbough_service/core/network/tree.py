"""The packed tree: runs as rows of arrays in the order the compiled loop wants."""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.errors import NotATreeError
from airbough_service.core.laws.junction import NO_CONSTANTS, FlowRatioConstants
from airbough_service.core.network import columns as c
from airbough_service.core.network import into_columns
from airbough_service.core.network.into_columns import dynamic

__all__ = ["Arm", "Run", "Tree", "area", "dynamic", "fill", "fill_arm", "given", "pack"]

Floats = NDArray[np.float64]
Integers = NDArray[np.int32]


class _Arm(NamedTuple):
    is_branch: bool = False
    cosine: float = 1.0
    area_ratio: float = 1.0
    entry_factor: float = 0.0
    factor: tuple[float, float, float, float] = (1.0, 0.0, 1.0, 9.0)
    lift: float = 0.0
    linear: float = 0.0
    drag: float = 0.0
    constants: FlowRatioConstants = NO_CONSTANTS


class Arm(_Arm):
    """How a run enters its junction under the flow-ratio and entry-angle laws.

    Attributes:
        is_branch: whether it enters at an angle.
        cosine: of the angle; 1 for a straight.
        area_ratio: area of `into` over the arm's; 1 for a straight.
        entry_factor: entry factor on the arm's own velocity pressure.
        factor: branch factor as (low, slope, high, step): low + slope * flow ratio below the step, high above.
        lift: of a branch: 1 where the factor is on 1 + the momentum form, 0 where it is on that form itself.
        linear: of a branch: what its flow costs the straight run, per flow of `into`.
        drag: of a branch: the share of its momentum along `into` that the straight run feels.
        constants: of the flow-ratio law; without them no flow-ratio law answers.
    """

    @cached_property
    def packed(self) -> bytes:
        """What is given of it, in the last columns of ``core.network.into_columns``; arms come again and again."""
        is_branch, cosine, area_ratio, entry_factor, factor, lift, linear, drag, constants = self
        given = (is_branch, cosine, area_ratio, entry_factor, *factor, lift, linear, drag, *constants)
        return struct.pack(f"{into_columns.GIVEN - into_columns.G_BRANCH}d", *given)


class Run(NamedTuple):
    """One run for packing. Quadratic losses are coefficients on velocity pressure at the bore named.

    Attributes:
        parent: index of the run that this one flows into; -1 at the fan.
        start: bore at the upstream end, m.
        end: bore at the downstream end, m.
        length: straight length, m.
        roughness: m.
        entry, port, fittings, change: losses in Pa per (m3/s)^2 at the tree's density; `change` is the change of size
            at the run's downstream end.
        power_law: (a, exponent): friction a * flow^exponent in place of Colebrook, or None.
        resistance: (a, exponent): loss inside the machine.
        gate: Pa per (m3/s)^2; infinite when shut.
        arm: how it enters its junction.
        law: of the junction at its upstream end, in place of the tree's; None for the tree's.
        bore: of its length, m, whose friction it has; None for that of its upstream end.
        terms: what else it loses, one `term` after the other: added to entry, port, fittings and change at the tree's
            density.
    """

    parent: int
    start: float
    end: float
    length: float
    roughness: float
    entry: float = 0.0
    port: float = 0.0
    fittings: float = 0.0
    change: float = 0.0
    power_law: tuple[float, float] | None = None
    resistance: tuple[float, float] | None = None
    gate: float = 0.0
    arm: Arm = Arm()
    law: int | None = None
    bore: float | None = None
    terms: bytes = b""


class Tree(NamedTuple):
    """A packed tree of n runs, breadth-first from the fan.

    Attributes:
        table: shape (n, FLOAT_COLUMNS).
        links: shape (n, LINK_COLUMNS).
        gate: shape (n,), Pa per (m3/s)^2, infinite where shut.
        entry, port, fittings, change: shape (n,), parts of the LOCAL column.
        place: shape (runs given,), row of each run given.
        density: kg/m3.
    """

    table: Floats
    links: Integers
    gate: Floats
    entry: Floats
    port: Floats
    fittings: Floats
    change: Floats
    place: Integers
    density: float


def area(diameter: float) -> float:
    """Return the area of a round bore in m2."""
    return math.pi * diameter * diameter / 4.0


def term(line: int, coefficient: float, over: float) -> bytes:
    """Return what a piece loses, `coefficient` * density / `over` in Pa per (m3/s)^2, as `Run.terms` has it.

    Args:
        line: of which losses: 0 entry, 1 port, 2 fittings, 3 change.
        coefficient: of all the pieces together, on the velocity pressure in their bore.
        over: flow squared over it, times the density, is that velocity pressure, m4.
    """
    return _TERM(line, coefficient, over)


def sums(terms: bytes, density: float) -> tuple[float, float, float, float]:
    """Return what terms come to as entry, port, fittings and change, Pa per (m3/s)^2."""
    out = np.zeros(_SUMS)
    into_columns.add_terms(term_lines(terms), 0, len(terms) // TERM_BYTES, density, out, 0)
    entry, port, fittings, change = out.tolist()
    return entry, port, fittings, change


def term_lines(terms: bytes) -> Floats:
    """Return terms as lines of an array."""
    return np.frombuffer(bytearray(terms)).reshape(-1, into_columns.TERM)


_SUMS: Final = 4  # of a run's losses that terms are added to
_TERM: Final = struct.Struct(f"{into_columns.TERM}d").pack
TERM_BYTES: Final = 8 * into_columns.TERM


def given(run: Sequence[Any]) -> list[float]:
    """Return what is given of a run as numbers, in the columns of ``core.network.into_columns``.

    Args:
        run: a `Run`, or its fields in their order: of hundreds of runs naming them takes as long as packing them. Its
            terms are only counted.
    """
    return np.frombuffer(_bytes(run)).tolist()


def _bytes(run: Sequence[Any]) -> bytes:
    """Return what `given` does as bytes, for numpy takes long over a list of numbers."""
    (
        parent, start, end, length, roughness, entry, port, fittings, change, power_law, resistance, gate, arm, law,
        bore, terms,
    ) = run  # fmt: skip
    power, exponent = power_law or _NO_POWER
    inside, inside_exponent = resistance or _NO_LOSS
    own: bytes = _OWN(
        parent, -1 if law is None else law, start, end, start if bore is None else bore, length, roughness,
        entry, port, fittings, change, gate, power, exponent, inside, inside_exponent, len(terms) // TERM_BYTES,
    )  # fmt: skip
    return own + arm.packed


_OWN: Final = struct.Struct(f"{into_columns.G_BRANCH}d").pack  # of what is given of a run, all but of its arm
_TERMS: Final = Run._fields.index("terms")
_NO_POWER: Final = (-1.0, 0.0)
_NO_LOSS: Final = (0.0, 0.0)
_ENDED: Final = {
    into_columns.NOT_ONE_ROOT: "not one run alone ends at the fan; the packed tree needs one",
    into_columns.CYCLE: "some runs form a cycle",
    into_columns.TOO_MANY_ARMS: f"more runs meet than the flow-ratio law is for, {into_columns.MOST_ARMS}",
    into_columns.NO_CONSTANTS_GIVEN: "runs that meet by the flow-ratio law need its constants",
}


def pack(runs: Sequence[Sequence[Any]], density: float, viscosity: float, law: int) -> Tree:
    """Pack runs for the solver.

    Args:
        runs: as `given` takes them; exactly one has parent -1.
        density: kg/m3.
        viscosity: Pa*s.
        law: MEET, FLOW_RATIO or ENTRY of ``core.network.columns``.

    Raises:
        NotATreeError: no run or more than one ends at the fan, some run does not reach it, or the flow-ratio law is not
            for a junction's arms.
    """
    n = len(runs)
    numbers, terms = _lines([_bytes(run) for run in runs]), term_lines(b"".join([run[_TERMS] for run in runs]))
    order, place = np.empty((2, n), np.int32)
    table, links, parts = np.zeros((n, c.FLOAT_COLUMNS)), np.zeros((n, c.LINK_COLUMNS), np.int32), np.empty((5, n))
    ended = into_columns.fill_all(numbers, terms, order, place, density, viscosity, law, table, links, parts)
    if ended != into_columns.FILLED:
        raise NotATreeError(_ENDED[ended])
    return Tree(
        table=table,
        links=links,
        gate=parts[4],
        entry=parts[0],
        port=parts[1],
        fittings=parts[2],
        change=parts[3],
        place=place,
        density=density,
    )


def _lines(runs: list[bytes]) -> Floats:
    """Return what is given of runs as lines of an array that can be written to."""
    return np.frombuffer(bytearray(b"".join(runs))).reshape(len(runs), into_columns.GIVEN)


def fill(row: Floats, run: Run, density: float, viscosity: float) -> None:
    """Fill one row of a table, all zeros."""
    into_columns.fill_row(np.array(given(run)), density, viscosity, row)


def fill_arm(row: Floats, arm: Arm) -> None:
    """Fill a row's columns on how it enters its junction."""
    into_columns.fill_arm(np.array(given(_WITH_ARM._replace(arm=arm))), row)


def arm_lines(arms: Sequence[Arm]) -> Floats:
    """Return rows of a table, shape (arms, FLOAT_COLUMNS), zeros but for how each enters its junction."""
    lines = np.zeros((len(arms), c.FLOAT_COLUMNS))
    into_columns.fill_arms(given_arms(arms), lines)
    return lines


def given_arms(arms: Sequence[Arm]) -> Floats:
    """Return what is given of runs that tell of their arms alone, shape (arms, columns of what is given)."""
    return _lines([_NO_DUCT + arm.packed for arm in arms])


_WITH_ARM: Final = Run(parent=-1, start=1.0, end=1.0, length=0.0, roughness=0.0)
_NO_DUCT: Final = _bytes(_WITH_ARM)[: 8 * into_columns.G_BRANCH]
