"""From the least prices back to the tree: the runs, their ways and turns, and what they share without joining."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import Prices, Solved

ALIKE = 1.0e-9  # share by which two sums of the same prices may differ


@dataclass(slots=True)
class Stretch:
    """A run from its upstream end on: a machine's riser, or a join.

    Attributes:
        machines: the set upstream, bit i for machine i.
        diameter: its number.
        points: of the lattice, in the direction of the air; it turns where the heading changes.
        first: its heading where it begins.
        last: its heading where it ends, after whatever turn it takes there.
        straight: the run that goes on in this one; None at a machine.
        branch: the one that enters from its side.
    """

    machines: int
    diameter: int
    points: list[int]
    first: int
    last: int
    straight: Stretch | None = None
    branch: Stretch | None = None

    def runs(self) -> Iterator[Stretch]:
        """Yield this run and all upstream of it, each before those that flow into it."""
        yield self
        for arm in (self.straight, self.branch):
            if arm is not None:
                yield from arm.runs()


@dataclass(frozen=True, slots=True)
class Traced:
    """A tree.

    Attributes:
        root: the run that meets the collector.
        price: all of it.
        overlaps: points that runs share which do not join there: they cross, or run side by side.
    """

    root: Stretch
    price: float
    overlaps: list[int]


def trace(
    lattice: Lattice, machines: list[int], solved: Solved, prices: Prices, inlet: tuple[int, int], row: int
) -> Traced:
    """Return the tree that has the price of a row at the inlet."""
    point, heading = inlet
    root = _stretch(_Way(lattice, machines, solved, prices), row, heading, point)
    price = float(solved.arrived[row, heading, point] + prices.end[solved.rows.diameter[row]])
    return Traced(root, price, _overlaps(root))


def _overlaps(root: Stretch) -> list[int]:
    """Return the points at which runs touch that no join there ties together."""
    touching: dict[int, list[Stretch]] = {}
    for run in root.runs():
        for point in dict.fromkeys(run.points):
            touching.setdefault(point, []).append(run)
    return sorted(point for point, runs in touching.items() if not _joined(point, runs))


def _joined(point: int, runs: list[Stretch]) -> bool:
    """Return whether the runs at a point hang together by joins there, none passing through."""
    if len(runs) == 1:
        return runs[0].points.count(point) == 1
    if any(point in run.points[1:-1] for run in runs):
        return False
    tied = {id(runs[0])}
    for _ in runs:
        for run in runs:
            arms = [arm for arm in (run.straight, run.branch) if arm is not None and run.points[0] == point]
            if id(run) in tied or any(id(arm) in tied for arm in arms):
                tied |= {id(run), *(id(arm) for arm in arms)}
    return len(tied) == len(runs)


@dataclass(frozen=True, slots=True)
class _Way:
    lattice: Lattice
    machines: list[int]
    solved: Solved
    prices: Prices


def _stretch(way: _Way, row: int, heading: int, point: int) -> Stretch:
    """Go back from a state to where its run begins."""
    rows, arrived = way.solved.rows, way.solved.arrived
    group, diameter = int(rows.group[row]), int(rows.diameter[row])
    points, last = [point], heading
    while True:
        price = float(arrived[row, heading, point])
        made = _begin(way, row, heading, point, price)
        if made is not None:
            return Stretch(group, diameter, points[::-1], heading, last, *made)
        before = _before(way.lattice, heading, point)
        moved = math.inf
        if before >= 0:
            moved = float(arrived[row, heading, before] + way.lattice.length[heading, before] * way.prices.length[row])
        if _alike(price, moved):
            point = before
            points.append(point)
            continue
        heading = _turned(way, row, heading, point, price)


def _begin(way: _Way, row: int, heading: int, point: int, price: float) -> tuple[Stretch | None, Stretch | None] | None:
    """Return the runs that a run begins with: none at a machine, two at a join; None where it does not begin here."""
    rows, prices, solved = way.solved.rows, way.prices, way.solved
    group, out = int(rows.group[row]), int(rows.diameter[row])
    if group & (group - 1) == 0:
        machine = group.bit_length() - 1
        at_machine = way.machines[machine] == point and _alike(price, float(prices.start[machine, out]))
        return (None, None) if at_machine else None
    part = (group - 1) & group
    while part > 0:
        for one, other in _diameters(rows.number[part], rows.number[group ^ part]):
            straight, branch = int(rows.number[part, one]), int(rows.number[group ^ part, other])
            total = float(
                solved.arrived[straight, heading, point]
                + solved.beside[branch, heading, point]
                + prices.narrow[one, out]
                + prices.join[out, other]
                + prices.straight[straight]
                + prices.branch[branch]
            )
            if _alike(price, total):
                side = min((heading + 1) % 4, (heading + 3) % 4, key=lambda at: solved.arrived[branch, at, point])
                return _stretch(way, straight, heading, point), _stretch(way, branch, side, point)
        part = (part - 1) & group
    return None


def _diameters(ones: object, others: object) -> Iterator[tuple[int, int]]:
    for one, row in enumerate(ones):  # type: ignore[arg-type,var-annotated]  # rows of an array
        for other, second in enumerate(others):  # type: ignore[arg-type,var-annotated]
            if row >= 0 and second >= 0:
                yield one, other


def _before(lattice: Lattice, heading: int, point: int) -> int:
    """Return the point from which a way leads here; -1 where none does."""
    back = int(lattice.to[(heading + 2) % 4, point])
    return back if back >= 0 and int(lattice.to[heading, back]) == point else -1


def _turned(way: _Way, row: int, heading: int, point: int, price: float) -> int:
    """Return the heading from which the air turned here."""
    arrived = way.solved.arrived
    for side in ((heading + 1) % 4, (heading + 3) % 4):
        if _alike(price, float(arrived[row, side, point] + way.prices.turn[row])):
            return side
    raise AssertionError("a price that nothing adds up to")


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= ALIKE * max(1.0, abs(one))
