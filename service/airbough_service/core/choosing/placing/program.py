"""The dynamic program: the least price of a sub-tree that brings a set of machines to a point.

State (set, diameter, heading, point). The last element of a sub-tree is a way to the neighbour, a turn, or a join of
two sub-trees of disjoint sets; its price depends on the states joined alone, so each may be the cheapest of its own.
At one point a run turns at most once and is joined at most once, and goes on after that: elbow before wye. A machine's
riser turns into the level and goes on, or enters a run that passes over the machine.
Two arms may share a way or cross without joining: such an answer is a bound, and `trace` tells of it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.placing import steps
from airbough_service.core.choosing.placing.lattice import Lattice

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
DENSE: Final = 4  # times as long as one of many points takes one of a few
ANYWHERE: Final = -1  # in place of a point
SWEPT: Final = 20  # times as long as a sum takes a state of a row on its ways and turns


class Prices(NamedTuple):
    """What things cost, by row: a set of machines with a diameter; turns by steps from one heading to the next.

    Attributes:
        length: shape (rows,), of one metre.
        turn: shape (rows, steps), of a turn by so many steps, 90 degrees at most.
        start: shape (machines, diameters), of a machine's riser that turns into a run of that diameter.
        tap: shape (machines, diameters), of one of that diameter that enters a run passing over it; infinite where it
            may not.
        join: shape (diameters, diameters, diameters), of the pieces in which two runs meet, by the diameters of the
            outlet, of what goes straight on and of the branch; infinite where there are none.
        straight: shape (rows, diameters), of entering a join straight, besides, by the outlet's diameter.
        branch: shape (rows, diameters, steps), of entering one from the side, so many steps off its heading.
        end: shape (diameters,), of meeting the collector's inlet.
    """

    length: Floats
    turn: Floats
    start: Floats
    tap: Floats
    join: Floats
    straight: Floats
    branch: Floats
    end: Floats


class Rows(NamedTuple):
    """The sets of machines with their diameters.

    Attributes:
        number: shape (sets, diameters), the row; -1 where a set cannot have the diameter.
        group: shape (rows,), the set of each row.
        diameter: shape (rows,), its diameter.
        worth: shape (sets, n), the points at which runs that meet may become one of a set; None: everywhere.
    """

    number: Integers
    group: Integers
    diameter: Integers
    worth: NDArray[np.bool_] | None = None

    def points(self, group: int, every: Integers) -> Integers:
        """Return the points at which runs may become one of a set; all where they are most."""
        if self.worth is None:
            return every
        found = np.flatnonzero(self.worth[group])
        return found if DENSE * found.size < every.size else every


class Solved(NamedTuple):
    """The least prices.

    Attributes:
        arrived: shape (rows, headings, n), of a sub-tree that came to a point by a way in a heading.
        left, right: the same, of one that came so, or turned there into that heading; not from the side ahead in turn
            or behind, from which a branch comes.
        rows: as given.
    """

    arrived: Floats
    left: Floats
    right: Floats
    rows: Rows


class Inlet(NamedTuple):
    """Where all ends: the point, and the heading in which the air enters; -1 for any."""

    point: int
    heading: int

    def headings(self, solved: Solved) -> range:
        """Return the headings in which the air may enter."""
        return range(solved.arrived.shape[1]) if self.heading < 0 else range(self.heading, self.heading + 1)


def rows_of(allowed: NDArray[np.bool_]) -> Rows:
    """Return the rows of what is allowed, shape (sets, diameters), by rising number of the set."""
    number = np.full(allowed.shape, -1, np.int64)
    kept = allowed.copy()
    kept[0] = False
    group, diameter = np.nonzero(kept)
    number[group, diameter] = np.arange(group.size)
    return Rows(number, group, diameter)


def kept(rows: Rows, keep: NDArray[np.bool_]) -> Rows:
    """Return some of the rows, shape (rows,), numbered anew."""
    allowed = np.zeros(rows.number.shape, np.bool_)
    allowed[rows.group[keep], rows.diameter[keep]] = True
    return rows_of(allowed)._replace(worth=rows.worth)


def without(rows: Rows, groups: Iterable[int]) -> Rows:
    """Return the rows in which none of some sets of machines runs alone through one duct."""
    number = rows.number.copy()
    number[list(groups)] = -1
    return rows._replace(number=number)


def work(lattice: Lattice, rows: Rows, machines: int) -> int:
    """Return how many sums of two prices solving takes, as a measure of its time."""
    held, (headings, size) = (rows.number >= 0).sum(axis=1), lattice.to.shape
    points = np.full(held.size, size) if rows.worth is None else rows.worth.sum(axis=1)
    points = headings * np.where(DENSE * points < size, DENSE * points, size)
    pairs = [int((held[parts] * held[group ^ parts]).sum()) if held[group] else 0
             for group, parts in enumerate(subsets(machines))]  # fmt: skip
    return int((held * points * pairs).sum() + lattice.to.size * rows.group.size * SWEPT)


def solve(lattice: Lattice, machines: Integers, rows: Rows, prices: Prices) -> Solved:
    """Return the least price of every state.

    Args:
        lattice: where ducts may run.
        machines: shape (machines,), the point of each riser.
        rows: sets with their diameters.
        prices: what things cost; a metre costs something.

    Raises:
        ValueError: for a price that is not above 0 where it must be.
        OutOfTimeError: past the limit of time.
    """
    if not (prices.length > 0.0).all():
        raise ValueError("what costs nothing has no cheapest way")
    shape = (rows.group.size, *lattice.to.shape)
    solved = Solved(np.full(shape, np.inf), np.full(shape, np.inf), np.full(shape, np.inf), rows)
    _fill(lattice, machines, solved, prices, range(1, 1 << len(machines)))
    return solved


def _fill(
    lattice: Lattice,
    machines: Integers,
    solved: Solved,
    prices: Prices,
    groups: range | list[int],
    away: Mapping[int, list[int]] | None = None,
) -> None:
    """Find the states of sets, smaller ones of each first; `away`: points to which a set's ducts may not come."""
    order, every = in_order(lattice), np.arange(lattice.x.size)
    members = subsets(len(machines))
    rows, arrived, left, right = solved.rows, solved.arrived, solved.left, solved.right
    for group in groups:
        deadline.check()
        mine = rows.number[group][rows.number[group] >= 0]
        if mine.size == 0:
            continue
        fresh = np.full((mine.size, *arrived.shape[1:]), np.inf)
        steps.join(
            group, mine, members[group], rows.points(group, every), rows.number, rows.diameter, machines,
            prices.join, prices.straight, prices.branch, prices.tap, arrived, left, right, fresh,
        )  # fmt: skip
        if group & (group - 1) == 0:
            single = group.bit_length() - 1
            fresh[:, :, machines[single]] = prices.start[single, rows.diameter[mine]][:, None]
        to = lattice.to
        if away is not None and group in away:
            fresh[:, :, away[group]] = np.inf
            to = _clear_of(to, away[group])
        steps.sweep(mine, to, lattice.length, order, prices.length, prices.turn, fresh, arrived, left, right)


def _clear_of(to: Integers, points: list[int]) -> Integers:
    """Return where ways lead, without those that begin or end at some points."""
    out = np.where(np.isin(to, points), -1, to)
    out[:, points] = -1
    return out


class Saved(NamedTuple):
    """What a solution held for some rows."""

    rows: Integers
    arrived: Floats
    left: Floats
    right: Floats


class Apart(NamedTuple):
    """What a tree may not have: a duct of a set of machines, at a point of the lattice; `ANYWHERE`: nowhere at all."""

    group: int
    point: int


def solve_apart(
    lattice: Lattice, machines: Integers, solved: Solved, prices: Prices, apart: Collection[Apart]
) -> tuple[Solved, Saved]:
    """Solve anew without some ducts, in place: only sets that hold one of theirs change.

    Returns:
        The solution, which shares its arrays with the one given, and what `restore` needs to bring that back.
    """
    rows = without(solved.rows, [one.group for one in apart if one.point == ANYWHERE])
    away: dict[int, list[int]] = {}
    for one in apart:
        if one.point != ANYWHERE:
            away.setdefault(one.group, []).append(one.point)
    groups = {one.group for one in apart}
    changed = [one for one in range(1, 1 << len(machines)) if any(one & group == group for group in groups)]
    numbers = rows.number[changed]
    numbers = numbers[numbers >= 0]
    saved = Saved(numbers, solved.arrived[numbers], solved.left[numbers], solved.right[numbers])
    for held in (solved.arrived, solved.left, solved.right):
        held[numbers] = np.inf
    found = solved._replace(rows=rows)
    _fill(lattice, machines, found, prices, changed, away)
    return found, saved


def restore(solved: Solved, saved: Saved) -> None:
    """Bring back what a solution held."""
    solved.arrived[saved.rows] = saved.arrived
    solved.left[saved.rows] = saved.left
    solved.right[saved.rows] = saved.right


def best(solved: Solved, prices: Prices, inlet: Inlet) -> tuple[float, int, int]:
    """Return the least price of all machines at the inlet, its row and heading; infinite and -1 where none is."""
    found = (math.inf, -1, -1)
    for diameter, row in enumerate(solved.rows.number[-1]):
        for heading in inlet.headings(solved):
            if row >= 0:
                price = float(solved.arrived[row, heading, inlet.point] + prices.end[diameter])
                found = min(found, (price, int(row), heading))
    return found if math.isfinite(found[0]) else (math.inf, -1, -1)


def in_order(lattice: Lattice) -> Integers:
    """Return for each heading the points in the order in which the air passes them, shape (headings, n)."""
    keys = [dx * lattice.x + dy * lattice.y for dx, dy in lattice.headings]
    return np.array([np.argsort(key, kind="stable") for key in keys])


@lru_cache(2)
def subsets(machines: int) -> list[Integers]:
    """Return the proper subsets of each set, not the empty one."""
    out = []
    numbers = np.arange(1 << machines)
    for group in range(1 << machines):
        bits = [bit for bit in range(machines) if group >> bit & 1]
        inside = np.zeros(1 << len(bits), np.int64)
        for place, bit in enumerate(bits):
            inside |= (numbers[: inside.size] >> place & 1) << bit
        out.append(inside[1:-1])
    return out
