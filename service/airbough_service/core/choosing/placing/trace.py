"""From the least prices back to the tree: the runs, their ways and turns, and what they share without joining."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import Inlet, Prices, Solved

ALIKE = 1.0e-9  # share by which two sums of the same prices may differ


@dataclass(slots=True, eq=False)
class Stretch:
    """A run from its upstream end on: a machine's riser, or a join.

    Attributes:
        machines: the set upstream, bit i for machine i.
        diameter: its number.
        points: of the lattice, in the direction of the air; it turns where the heading changes. One alone where a
            machine's riser enters the run that passes over it.
        straight: the run that goes on in this one; None at a machine.
        branch: the one that enters from its side.
    """

    machines: int
    diameter: int
    points: list[int]
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
    lattice: Lattice, machines: list[int], solved: Solved, prices: Prices, inlet: Inlet, row: int, heading: int
) -> Traced:
    """Return the tree that has the price of a row at the inlet, entered in a heading."""
    root = _stretch(_Way(lattice, machines, solved, prices), row, heading, inlet.point)
    price = float(solved.arrived[row, heading, inlet.point] + prices.end[solved.rows.diameter[row]])
    return Traced(root, price, overlaps(root))


def overlaps(root: Stretch) -> list[int]:
    """Return the points at which runs touch that no join there ties together."""
    touching: dict[int, list[Stretch]] = {}
    for run in root.runs():
        for point in dict.fromkeys(run.points):
            touching.setdefault(point, []).append(run)
    return sorted(point for point, runs in touching.items() if not _joined(point, runs))


def _joined(point: int, runs: list[Stretch]) -> bool:
    """Return whether the runs at a point hang together by joins there, none passing through."""
    if any(run.points.count(point) > 1 for run in runs):
        return False
    if len(runs) == 1:
        return True
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


def _stretch(way: _Way, row: int, heading: int, point: int, sides: tuple[int, ...] = ()) -> Stretch:
    """Go back from a state to where its run begins.

    Args:
        way: what was solved.
        row: set and diameter.
        heading: of the air.
        point: where it is.
        sides: headings out of which it may have turned there, in steps ahead.
    """
    rows, arrived = way.solved.rows, way.solved.arrived
    points, half = [point], len(way.lattice.to) // 2
    while True:
        heading = _before_turn(way, row, heading, point, sides)
        price = float(arrived[row, heading, point])
        back = int(way.lattice.to[(heading + half) % (2 * half), point])
        along = float(way.lattice.length[heading, back] * way.prices.length[row])
        points.append(back)
        if not _alike(price, _through(way, row, heading, back) + along):
            made = _begin(way, row, heading, back, price - along)
            return Stretch(int(rows.group[row]), int(rows.diameter[row]), points[::-1], *made)
        point, sides = back, _both(way, row)


def _through(way: _Way, row: int, heading: int, point: int) -> float:
    return float(min(way.solved.left[row, heading, point], way.solved.right[row, heading, point]))


def _both(way: _Way, row: int) -> tuple[int, ...]:
    """Return the headings out of which a run may turn, in steps ahead."""
    steps = range(1, way.prices.turn.shape[1] + 1)
    return *steps, *(len(way.lattice.to) - step for step in steps)


def _before_turn(way: _Way, row: int, heading: int, point: int, sides: tuple[int, ...]) -> int:
    """Return the heading in which the air came here, whether it turned or not."""
    arrived, turn, headings = way.solved.arrived, way.prices.turn[row], len(way.lattice.to)
    came = [(heading, 0.0)]
    came += [((heading + side) % headings, float(turn[min(side, headings - side) - 1])) for side in sides]
    return min(came, key=lambda one: float(arrived[row, one[0], point]) + one[1])[0]


def _begin(way: _Way, row: int, heading: int, point: int, price: float) -> tuple[Stretch | None, Stretch | None]:
    """Return the runs that a run begins with: none at a machine, two at a join."""
    rows, prices = way.solved.rows, way.prices
    group, out = int(rows.group[row]), int(rows.diameter[row])
    if group & (group - 1) == 0:
        return None, None
    part = (group - 1) & group
    while part > 0:
        for one, other in _diameters(rows.number[part], rows.number[group ^ part]):
            straight, branch = int(rows.number[part, one]), int(rows.number[group ^ part, other])
            besides = float(prices.join[out, one, other] + prices.straight[straight, out])
            made = _meeting(way, (straight, branch), heading, point, price - besides, out)
            if made is not None:
                return made
        part = (part - 1) & group
    raise AssertionError("a price that nothing adds up to")


def _meeting(
    way: _Way, rows: tuple[int, int], heading: int, point: int, price: float, out: int
) -> tuple[Stretch, Stretch] | None:
    """Return the two runs that meet at a price, the second from the side; None where they do not."""
    (straight, branch), solved, headings = rows, way.solved, len(way.lattice.to)
    aside = way.prices.branch[branch, out]
    for step in range(1, aside.size + 1):
        for side, ahead, turned in ((step, solved.left, headings), (headings - step, solved.right, 0)):
            beside = (heading + side) % headings
            total = float(ahead[straight, heading, point] + solved.arrived[branch, beside, point] + aside[step - 1])
            if _alike(price, total):
                sides = tuple(abs(turned - one) for one in range(1, way.prices.turn.shape[1] + 1))
                return _stretch(way, straight, heading, point, sides), _stretch(way, branch, beside, point)
    group, diameter = int(solved.rows.group[branch]), int(solved.rows.diameter[branch])
    machine = group.bit_length() - 1
    if group & (group - 1) or way.machines[machine] != point:
        return None
    entering = float(aside[-1] + way.prices.tap[machine, diameter])
    if not _alike(price, _through(way, straight, heading, point) + entering):
        return None
    return _stretch(way, straight, heading, point, _both(way, straight)), Stretch(group, diameter, [point])


def _diameters(ones: object, others: object) -> Iterator[tuple[int, int]]:
    for one, row in enumerate(ones):  # type: ignore[arg-type,var-annotated]  # rows of an array
        for other, second in enumerate(others):  # type: ignore[arg-type,var-annotated]
            if row >= 0 and second >= 0:
                yield one, other


def _alike(one: float, other: float) -> bool:
    return math.isfinite(one) and abs(one - other) <= ALIKE * max(1.0, abs(one))
