"""What is still to pay from every state on: with the least price up to it, the cheapest tree that has that state.

The same steps as the program's, from the inlet back; so the least price of a tree with some duct along a way is the
least over the states that came by that way.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import (
    Floats,
    Inlet,
    Integers,
    Prices,
    Solved,
    alone,
    in_order,
    subsets,
)
from airbough_service.core.compiled import compiled


def still(lattice: Lattice, machines: Integers, solved: Solved, prices: Prices, inlet: Inlet) -> Floats:
    """Return the least that is still to pay of a sub-tree that came to a point in a heading, shape (rows, 4, n).

    Raises:
        OutOfTimeError: past the limit of time.
    """
    came, left, right = (np.full_like(solved.arrived, np.inf) for _ in range(3))
    rows, order, members = solved.rows, in_order(lattice), subsets(len(machines))
    for row in rows.number[-1][rows.number[-1] >= 0]:
        for heading in range(4) if inlet.heading < 0 else (inlet.heading,):
            came[row, heading, inlet.point] = prices.end[rows.diameter[row]]
    for group in range((1 << len(machines)) - 1, 0, -1):
        deadline.check()
        mine = rows.number[group][rows.number[group] >= 0]
        if mine.size:
            fresh = _sweep_back(mine, lattice.to, lattice.length, order, prices, came, left, right)
            _part(group, mine, members[group], machines, solved, prices, fresh, came, left, right)
    return came


def least_along(lattice: Lattice, solved: Solved, still_to_pay: Floats, along: NDArray[np.bool_]) -> float:
    """Return the least price of a tree with some duct along some ways, shape (4, n), by the points they begin at."""
    whole = (solved.arrived + still_to_pay).min(axis=0)
    heading, point = np.nonzero(along)
    if heading.size == 0:
        return float(np.inf)
    return float(whole[heading, lattice.to[heading, point]].min())


@compiled
def _sweep_back(
    mine: Integers,
    to: Integers,
    length: Floats,
    order: Integers,
    prices: Prices,
    came: Floats,
    left: Floats,
    right: Floats,
) -> Floats:
    """Go back along ways and turns until nothing is cheaper; return what is to pay where runs begin."""
    fresh = np.full((mine.size, 4, order.shape[1]), np.inf)
    for place in range(mine.size):
        row = mine[place]
        turn = prices.turn[row]
        changed = True
        while changed:
            changed = False
            for heading in range(4):
                for point in order[heading][::-1]:
                    there = to[heading, point]
                    if there >= 0:
                        on = length[heading, point] * prices.length[row] + came[row, heading, there]
                        fresh[place, heading, point] = on
                        left[row, heading, point] = min(left[row, heading, point], on)
                        right[row, heading, point] = min(right[row, heading, point], on)
                    least = min(left[row, heading, point], right[row, heading, point])
                    least = min(least, left[row, (heading + 1) % 4, point] + turn)
                    least = min(least, right[row, (heading + 3) % 4, point] + turn)
                    if least < came[row, heading, point]:
                        came[row, heading, point] = least
                        changed = True
    return fresh


@compiled
def _part(
    group: int,
    mine: Integers,
    parts: Integers,
    machines: Integers,
    solved: Solved,
    prices: Prices,
    fresh: Floats,
    came: Floats,
    left: Floats,
    right: Floats,
) -> None:
    """Tell the two sub-trees of every join what is still to pay beside their own."""
    rows = solved.rows
    for place in range(mine.size):
        out = rows.diameter[mine[place]]
        for part in parts:
            single = alone(group ^ part)
            for one in range(rows.number.shape[1]):
                straight = rows.number[part, one]
                if straight < 0:
                    continue
                for other in range(rows.number.shape[1]):
                    branch = rows.number[group ^ part, other]
                    if branch < 0:
                        continue
                    price = prices.join[out, one, other]
                    price += prices.straight[straight, out] + prices.branch[branch, out]
                    if np.isfinite(price):
                        _share(solved, straight, branch, fresh[place], price, came, left, right)
                        if single >= 0:
                            point = machines[single]
                            price += prices.tap[single, other]
                            for heading in range(4):
                                total = fresh[place, heading, point] + price
                                left[straight, heading, point] = min(left[straight, heading, point], total)
                                right[straight, heading, point] = min(right[straight, heading, point], total)


@compiled
def _share(
    solved: Solved,
    straight: int,
    branch: int,
    fresh: Floats,
    price: float,
    came: Floats,
    left: Floats,
    right: Floats,
) -> None:
    for heading in range(4):
        one, other = (heading + 1) % 4, (heading + 3) % 4
        first, second = solved.arrived[branch, one], solved.arrived[branch, other]
        for point in range(fresh.shape[1]):
            rest = fresh[heading, point] + price
            left[straight, heading, point] = min(left[straight, heading, point], first[point] + rest)
            right[straight, heading, point] = min(right[straight, heading, point], second[point] + rest)
            came[branch, one, point] = min(came[branch, one, point], solved.left[straight, heading, point] + rest)
            came[branch, other, point] = min(came[branch, other, point], solved.right[straight, heading, point] + rest)
