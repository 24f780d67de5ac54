"""The dynamic program: the least price of a sub-tree that brings a set of machines to a point.

State (set, diameter, heading, point). The last element of a sub-tree is a way to the neighbour, a turn, or a join of
two sub-trees of disjoint sets; its price depends on the states joined alone, so each may be the cheapest of its own.
Two arms may share a way or cross without joining: such an answer is a bound, and `trace` tells of it.
"""

from __future__ import annotations

import math
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
        start: shape (machines, diameters), of a machine's riser with its turn into the level.
        narrow: shape (diameters, diameters), of what widens the straight run at a join; 0 where both are one, infinite
            where it would narrow.
        join: shape (diameters, diameters), of a wye by its outlet's and its branch's diameter with the branch's turn to
            its angle; infinite where there is none.
        straight: shape (rows,), of entering a join straight, besides.
        branch: shape (rows,), of entering one from the side, besides.
        end: shape (diameters,), of meeting the collector's inlet.
    """

    length: Floats
    turn: Floats
    start: Floats
    narrow: Floats
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
        arrived: shape (rows, 4, n), of a sub-tree that arrives in a heading.
        beside: shape (rows, 4, n), of one that may enter a run of that heading from its side.
        rows: as given.
    """

    arrived: Floats
    beside: Floats
    rows: Rows


def rows_of(allowed: NDArray[np.bool_]) -> Rows:
    """Return the rows of what is allowed, shape (sets, diameters), smaller sets of the same number first."""
    number = np.full(allowed.shape, -1, np.int64)
    kept = allowed.copy()
    kept[0] = False
    group, diameter = np.nonzero(kept)
    number[group, diameter] = np.arange(group.size)
    return Rows(number, group, diameter)


def solve(lattice: Lattice, machines: Integers, rows: Rows, prices: Prices) -> Solved:
    """Return the least price of every state.

    Args:
        lattice: where ducts may run.
        machines: shape (machines,), the point of each riser.
        rows: sets with their diameters.
        prices: what things cost; a metre and a turn cost something.

    Raises:
        ValueError: for a price that is not above 0 where it must be.
        OutOfTimeError: past the limit of time.
    """
    if not ((prices.length > 0.0).all() and (prices.turn > 0.0).all()):
        raise ValueError("what costs nothing has no cheapest way")
    shape = (rows.group.size, 4, lattice.x.size)
    arrived, beside = np.full(shape, np.inf), np.full(shape, np.inf)
    order = _orders(lattice)
    members = _subsets(len(machines))
    for group in range(1, 1 << len(machines)):
        deadline.check()
        mine = rows.number[group][rows.number[group] >= 0]
        if mine.size == 0:
            continue
        _join(group, mine, members[group], rows, prices, arrived, beside)
        if group & (group - 1) == 0:
            _start(group.bit_length() - 1, mine, machines, rows, prices, arrived)
        _sweep(mine, lattice.to, lattice.length, order, prices, arrived, beside)
    return Solved(arrived, beside, rows)


def best(solved: Solved, prices: Prices, inlet: tuple[int, int]) -> tuple[float, int]:
    """Return the least price of all machines at the collector's inlet, and its row; infinite and -1 where none is."""
    point, heading = inlet
    whole = solved.rows.number[-1]
    found = (math.inf, -1)
    for diameter, row in enumerate(whole):
        if row >= 0:
            price = float(solved.arrived[row, heading, point] + prices.end[diameter])
            found = min(found, (price, int(row)))
    return found if math.isfinite(found[0]) else (math.inf, -1)


def _orders(lattice: Lattice) -> Integers:
    """Return for each heading the points in the order in which the air passes them, shape (4, n)."""
    keys = (lattice.x, lattice.y, -lattice.x, -lattice.y)
    return np.array([np.argsort(key, kind="stable") for key in keys])


def _subsets(machines: int) -> list[Integers]:
    """Return the proper subsets of each set, not the empty one."""
    out = []
    for group in range(1 << machines):
        inside, part = [], (group - 1) & group
        while part > 0:
            inside.append(part)
            part = (part - 1) & group
        out.append(np.array(inside, np.int64))
    return out


@compiled
def _start(machine: int, mine: Integers, machines: Integers, rows: Rows, prices: Prices, arrived: Floats) -> None:
    """A machine's riser turns into any heading."""
    for row in mine:
        price = prices.start[machine, rows.diameter[row]]
        for heading in range(4):
            arrived[row, heading, machines[machine]] = min(arrived[row, heading, machines[machine]], price)


@compiled
def _join(
    group: int, mine: Integers, parts: Integers, rows: Rows, prices: Prices, arrived: Floats, beside: Floats
) -> None:
    """Two sub-trees meet: one goes straight on, the other enters from its side."""
    for row in mine:
        out = rows.diameter[row]
        for part in parts:
            for one in range(rows.number.shape[1]):
                straight = rows.number[part, one]
                if straight < 0 or not np.isfinite(prices.narrow[one, out]):
                    continue
                for other in range(rows.number.shape[1]):
                    branch = rows.number[group ^ part, other]
                    if branch < 0 or not np.isfinite(prices.join[out, other]):
                        continue
                    price = prices.narrow[one, out] + prices.join[out, other]
                    price += prices.straight[straight] + prices.branch[branch]
                    for heading in range(4):
                        target, first = arrived[row, heading], arrived[straight, heading]
                        second = beside[branch, heading]
                        for point in range(target.size):
                            total = first[point] + second[point] + price
                            if total < target[point]:
                                target[point] = total


@compiled
def _sweep(
    mine: Integers,
    to: Integers,
    length: Floats,
    order: Integers,
    prices: Prices,
    arrived: Floats,
    beside: Floats,
) -> None:
    """Go on and turn until nothing is cheaper; then what may enter another run from its side."""
    for row in mine:
        changed = True
        while changed:
            for heading in range(4):
                here = arrived[row, heading]
                for point in order[heading]:
                    there = to[heading, point]
                    if there >= 0:
                        here[there] = min(here[there], here[point] + length[heading, point] * prices.length[row])
            changed = _turn(arrived[row], prices.turn[row])
        for heading in range(4):
            left, right = arrived[row, (heading + 1) % 4], arrived[row, (heading + 3) % 4]
            for point in range(order.shape[1]):
                beside[row, heading, point] = min(left[point], right[point])


@compiled
def _turn(arrived: Floats, price: float) -> bool:
    """Turn by 90 degrees wherever that is cheaper, and say whether it is anywhere."""
    changed = False
    for point in range(arrived.shape[1]):
        for heading in range(4):
            turned = min(arrived[(heading + 1) % 4, point], arrived[(heading + 3) % 4, point]) + price
            if turned < arrived[heading, point]:
                arrived[heading, point] = turned
                changed = True
    return changed
