"""Where the runs of a tree go on the sheet: one row a run, so that labels cannot meet.

What goes straight through a junction keeps its column and goes on downwards; a branch leaves to the right, and all
that lies upstream of it stands in the rows below before the straight way goes on. No duct crosses another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from airbough_service.questions.drawing.picture import DrawnRun
from airbough_service.questions.drawing.svg import Point


@dataclass(frozen=True, slots=True)
class Spacing:
    """Distances on the sheet.

    Attributes:
        left, top: middle of the first column, top of the first row.
        start: height at which the collector is met.
        row: height of a row.
        column: distance of two columns.
        slant: fall of a slanted branch.
    """

    left: float
    top: float
    start: float
    row: float
    column: float
    slant: float


@dataclass(frozen=True, slots=True)
class Place:
    """Where a run stands: its column, its row, and whether it leaves its junction sideways."""

    column: int
    row: int
    sideways: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """Places and courses of all runs, by index.

    Attributes:
        courses: points from the downstream to the upstream end; a leaf's ends at its hood.
        zones: junctions of several branches, drawn long: the run that they meet, their two ends.
        chamber: the inlet chamber's two ends where several runs enter it.
        anchors: where a run's label, gate and arrow belong.
    """

    places: tuple[Place, ...]
    courses: tuple[tuple[Point, ...], ...]
    zones: tuple[tuple[int, Point, Point], ...]
    chamber: tuple[Point, Point] | None
    anchors: tuple[Point, ...]


def children(runs: Sequence[DrawnRun]) -> tuple[list[int], list[list[int]]]:
    """Return the runs at the collector, and of every run those that flow into it."""
    roots: list[int] = []
    arms: list[list[int]] = [[] for _ in runs]
    for index, run in enumerate(runs):
        (roots if run.into is None else arms[run.into]).append(index)
    return roots, arms


def place(runs: Sequence[DrawnRun]) -> tuple[tuple[Place, ...], list[list[int]]]:
    """Return every run's place, and of every run its arms: branches in order, then the one that goes on."""
    roots, arms = children(runs)
    weight = _leaves(roots, arms)
    for index, own in enumerate(arms):
        if own:
            onward = _onward(own, runs, weight)
            arms[index] = [*(arm for arm in own if arm != onward), onward]
    several = len(roots) > 1
    waiting = [(root, int(several), several) for root in reversed(roots)]
    places: dict[int, Place] = {}
    while waiting:
        index, column, sideways = waiting.pop()
        places[index] = Place(column, len(places), sideways)
        own = arms[index]
        if own:
            waiting.append((own[-1], column, False))
            waiting.extend((arm, column + 1, True) for arm in reversed(own[:-1]))
    return tuple(places[index] for index in range(len(runs))), arms


def _leaves(roots: list[int], arms: list[list[int]]) -> list[int]:
    order = list(roots)
    for index in order:
        order.extend(arms[index])
    weight = [0] * len(arms)
    for index in reversed(order):
        weight[index] = sum(weight[arm] for arm in arms[index]) or 1
    return weight


def _onward(own: list[int], runs: Sequence[DrawnRun], weight: list[int]) -> int:
    """Return the arm that keeps the column: the straight one, else the one with most hoods."""
    for arm in own:
        if runs[arm].straight:
            return arm
    return max(own, key=lambda arm: (weight[arm], -arm))


def lay_out(runs: Sequence[DrawnRun], spacing: Spacing, hoods_at: float) -> Layout:
    """Return where everything goes; hoods stand in one column at `hoods_at`."""
    places, arms = place(runs)
    high = [spacing.top + (one.row + 0.5) * spacing.row for one in places]
    across = [spacing.left + one.column * spacing.column for one in places]
    slant = min(spacing.slant, spacing.column * 0.7)
    joined: list[Point] = [(0.0, 0.0)] * len(runs)
    zones: list[tuple[int, Point, Point]] = []
    after: dict[int, Point] = {}

    def touch(arm: int) -> float:
        return high[arm] - (0.0 if runs[arm].square else slant)

    for index, own in enumerate(arms):
        branches = own[:-1]
        first = touch(branches[0]) if branches else (high[own[-1]] - spacing.row / 2 if own else high[index])
        last = touch(branches[-1]) if branches else first
        joined[index], end = (across[index], first), (across[index], last)
        if len(branches) > 1:
            zones.append((index, joined[index], end))
        if own:
            after[own[-1]] = end
    courses = []
    for index, one in enumerate(places):
        start = _start(runs, index, one, after, across, high, spacing, slant)
        tail: list[Point] = [(hoods_at, high[index])] if not arms[index] else [joined[index]]
        if not one.sideways and not arms[index]:
            tail = [(across[index], high[index]), *tail]
        if one.sideways and arms[index]:
            tail = [(across[index], high[index]), *tail]
        courses.append((*start, *tail))
    roots = [index for index, run in enumerate(runs) if run.into is None]
    bottom = max(high[root] for root in roots)
    chamber = ((spacing.left, spacing.start), (spacing.left, bottom)) if len(roots) > 1 else None
    return Layout(places, tuple(courses), tuple(zones), chamber, tuple(zip(across, high, strict=True)))


def _start(
    runs: Sequence[DrawnRun], index: int, one: Place, after: dict[int, Point], across: list[float], high: list[float],
    spacing: Spacing, slant: float,
) -> list[Point]:  # fmt: skip
    """Return the first points of a run's course, from where it meets what it flows into."""
    into = runs[index].into
    if not one.sideways:
        return [(spacing.left, spacing.start) if into is None else after[index]]
    meets = spacing.left if into is None else across[into]
    if into is None or runs[index].square:
        return [(meets, high[index])]
    return [(meets, high[index] - slant), (meets + slant, high[index])]
