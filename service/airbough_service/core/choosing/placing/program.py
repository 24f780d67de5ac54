"""The dynamic program: the least price of a sub-tree that brings a set of machines to a point.

State (set, diameter, heading, point). The last element of a sub-tree is a way to the neighbour, a turn, or a join of
two sub-trees of disjoint sets; its price depends on the states joined alone, so each may be the cheapest of its own.
At one point a run turns at most once and is joined at most once, and goes on after that: elbow before wye. A machine's
riser turns into the level and goes on, or enters a run that passes over the machine.
Two arms may share a way or cross without joining: such an answer is a bound, and `trace` tells of it.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.compiled import compiled

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


class Prices(NamedTuple):
    """What things cost, by row: a set of machines with a diameter. Headings differ by quarter turns.

    Attributes:
        length: shape (rows,), of one metre.
        turn: shape (rows,), of a turn of 90 degrees.
        start: shape (machines, diameters), of a machine's riser that turns into a run of that diameter.
        tap: shape (machines, diameters), of one of that diameter that enters a run passing over it; infinite where it
            may not.
        join: shape (diameters, diameters, diameters), of the pieces in which two runs meet, by the diameters of the
            outlet, of what goes straight on and of the branch; infinite where there are none.
        straight: shape (rows, diameters), of entering a join straight, besides, by the outlet's diameter.
        branch: shape (rows, diameters), of entering one from the side.
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
    """

    number: Integers
    group: Integers
    diameter: Integers


class Solved(NamedTuple):
    """The least prices.

    Attributes:
        arrived: shape (rows, 4, n), of a sub-tree that came to a point by a way in a heading.
        left, right: the same, of one that came so, or turned there into that heading; not out of the way by which a
            branch comes that is one or three quarters ahead.
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


def rows_of(allowed: NDArray[np.bool_]) -> Rows:
    """Return the rows of what is allowed, shape (sets, diameters), by rising number of the set."""
    number = np.full(allowed.shape, -1, np.int64)
    kept = allowed.copy()
    kept[0] = False
    group, diameter = np.nonzero(kept)
    number[group, diameter] = np.arange(group.size)
    return Rows(number, group, diameter)


def without(rows: Rows, group: int) -> Rows:
    """Return the rows in which a set of machines never runs alone through one duct."""
    number = rows.number.copy()
    number[group] = -1
    return rows._replace(number=number)


def work(rows: Rows, machines: int) -> int:
    """Return how many pairs of rows may be joined, as a measure of the time that solving takes."""
    held = (rows.number >= 0).sum(axis=1)
    return sum(int((held[parts] * held[group ^ parts]).sum() * held[group])
               for group, parts in enumerate(subsets(machines)) if held[group])  # fmt: skip


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
    shape = (rows.group.size, 4, lattice.x.size)
    solved = Solved(np.full(shape, np.inf), np.full(shape, np.inf), np.full(shape, np.inf), rows)
    _fill(lattice, machines, solved, prices, range(1, 1 << len(machines)))
    return solved


def _fill(lattice: Lattice, machines: Integers, solved: Solved, prices: Prices, groups: range | list[int]) -> None:
    """Find the states of sets, smaller ones of each first."""
    order = in_order(lattice)
    members = subsets(len(machines))
    rows, arrived, left, right = solved.rows, solved.arrived, solved.left, solved.right
    for group in groups:
        deadline.check()
        mine = rows.number[group][rows.number[group] >= 0]
        if mine.size == 0:
            continue
        fresh = np.full((mine.size, *arrived.shape[1:]), np.inf)
        _join(group, mine, members[group], rows, machines, prices, arrived, left, right, fresh)
        if group & (group - 1) == 0:
            single = group.bit_length() - 1
            fresh[:, :, machines[single]] = prices.start[single, rows.diameter[mine]][:, None]
        _sweep(mine, lattice.to, lattice.length, order, prices, fresh, arrived, left, right)


class Saved(NamedTuple):
    """What a solution held for some rows."""

    rows: Integers
    arrived: Floats
    left: Floats
    right: Floats


def solve_without(
    lattice: Lattice, machines: Integers, solved: Solved, prices: Prices, group: int
) -> tuple[Solved, Saved]:
    """Solve anew without a set of machines in one duct, in place: only sets that hold it change.

    Returns:
        The solution, which shares its arrays with the one given, and what `restore` needs to bring that back.
    """
    rows = without(solved.rows, group)
    changed = [one for one in range(group + 1, 1 << len(machines)) if one & group == group]
    numbers = rows.number[changed]
    numbers = numbers[numbers >= 0]
    saved = Saved(numbers, solved.arrived[numbers], solved.left[numbers], solved.right[numbers])
    for one in (solved.arrived, solved.left, solved.right):
        one[numbers] = np.inf
    found = solved._replace(rows=rows)
    _fill(lattice, machines, found, prices, changed)
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
        for heading in range(4) if inlet.heading < 0 else (inlet.heading,):
            if row >= 0:
                price = float(solved.arrived[row, heading, inlet.point] + prices.end[diameter])
                found = min(found, (price, int(row), heading))
    return found if math.isfinite(found[0]) else (math.inf, -1, -1)


def in_order(lattice: Lattice) -> Integers:
    """Return for each heading the points in the order in which the air passes them, shape (4, n)."""
    keys = (lattice.x, lattice.y, -lattice.x, -lattice.y)
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


@compiled
def _join(
    group: int,
    mine: Integers,
    parts: Integers,
    rows: Rows,
    machines: Integers,
    prices: Prices,
    arrived: Floats,
    left: Floats,
    right: Floats,
    fresh: Floats,
) -> None:
    """Two sub-trees meet: one goes straight on, the other enters from its side."""
    for place in range(mine.size):
        out = rows.diameter[mine[place]]
        for part in parts:
            rest = group ^ part
            single = alone(rest)
            for one in range(rows.number.shape[1]):
                straight = rows.number[part, one]
                if straight < 0:
                    continue
                for other in range(rows.number.shape[1]):
                    branch = rows.number[rest, other]
                    if branch < 0:
                        continue
                    price = prices.join[out, one, other]
                    price += prices.straight[straight, out] + prices.branch[branch, out]
                    if np.isfinite(price):
                        _meet(fresh[place], left[straight], right[straight], arrived[branch], price)
                        if single >= 0:
                            price += prices.tap[single, other]
                            _enter(fresh[place], left[straight], right[straight], machines[single], price)


@compiled
def alone(group: int) -> int:
    """Return the machine of a set of one; -1 of another set."""
    if group & (group - 1) != 0:
        return -1
    machine = 0
    while group >> (machine + 1) != 0:
        machine += 1
    return machine


@compiled
def _meet(target: Floats, left: Floats, right: Floats, branch: Floats, price: float) -> None:
    """A run enters another from either side, but not out of the way by which that came before its turn."""
    for heading in range(4):
        one, other = branch[(heading + 1) % 4], branch[(heading + 3) % 4]
        for point in range(target.shape[1]):
            total = min(left[heading, point] + one[point], right[heading, point] + other[point]) + price
            if total < target[heading, point]:
                target[heading, point] = total


@compiled
def _enter(target: Floats, left: Floats, right: Floats, point: int, price: float) -> None:
    """A machine's riser enters the run that passes over it."""
    for heading in range(4):
        total = min(left[heading, point], right[heading, point]) + price
        target[heading, point] = min(target[heading, point], total)


@compiled
def _sweep(
    mine: Integers,
    to: Integers,
    length: Floats,
    order: Integers,
    prices: Prices,
    fresh: Floats,
    arrived: Floats,
    left: Floats,
    right: Floats,
) -> None:
    """Go on and turn until nothing is cheaper."""
    for place in range(mine.size):
        row = mine[place]
        changed = True
        while changed:
            for heading in range(4):
                for point in order[heading]:
                    there = to[heading, point]
                    if there < 0:
                        continue
                    here = min(fresh[place, heading, point], left[row, heading, point], right[row, heading, point])
                    total = here + length[heading, point] * prices.length[row]
                    arrived[row, heading, there] = min(arrived[row, heading, there], total)
                    left[row, heading, there] = min(left[row, heading, there], total)
                    right[row, heading, there] = min(right[row, heading, there], total)
            changed = _turn(arrived[row], left[row], right[row], prices.turn[row])


@compiled
def _turn(arrived: Floats, left: Floats, right: Floats, price: float) -> bool:
    """Turn by 90 degrees wherever that is cheaper, and say whether it is anywhere."""
    changed = False
    for point in range(arrived.shape[1]):
        for heading in range(4):
            turned = arrived[(heading + 3) % 4, point] + price
            if turned < left[heading, point]:
                left[heading, point] = turned
                changed = True
            turned = arrived[(heading + 1) % 4, point] + price
            if turned < right[heading, point]:
                right[heading, point] = turned
                changed = True
    return changed
