"""What is still to pay from every state on: with the least price up to it, the cheapest tree that has that state.

The same steps as the program's, from the inlet back; so the least price of a tree with some duct along a way is the
least over the states that came by that way.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.placing import steps
from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import (
    Floats,
    Inlet,
    Integers,
    Prices,
    Solved,
    in_order,
    subsets,
)


def still(lattice: Lattice, machines: Integers, solved: Solved, prices: Prices, inlet: Inlet) -> Floats:
    """Return the least that is still to pay of a sub-tree that came to a point in a heading, shape (rows, headings, n).

    Raises:
        OutOfTimeError: past the limit of time.
    """
    came, left, right = (np.full_like(solved.arrived, np.inf) for _ in range(3))
    rows, order, members = solved.rows, in_order(lattice), subsets(len(machines))
    every = np.arange(lattice.x.size)
    for row in rows.number[-1][rows.number[-1] >= 0]:
        for heading in inlet.headings(solved):
            came[row, heading, inlet.point] = prices.end[rows.diameter[row]]
    for group in range((1 << len(machines)) - 1, 0, -1):
        deadline.check()
        mine = rows.number[group][rows.number[group] >= 0]
        if mine.size:
            fresh = steps.sweep_back(
                mine, lattice.to, lattice.length, order, prices.length, prices.turn, came, left, right
            )  # fmt: skip
            steps.part(
                group, mine, members[group], rows.points(group, every), rows.number, rows.diameter, machines,
                prices.join, prices.straight, prices.branch, prices.tap,
                solved.arrived, solved.left, solved.right, fresh, came, left, right,
            )  # fmt: skip
    return came


def least_along(lattice: Lattice, solved: Solved, still_to_pay: Floats, along: NDArray[np.bool_]) -> float:
    """Return the least price of a tree with some duct along some ways, shape (headings, n), by where they begin."""
    whole = (solved.arrived + still_to_pay).min(axis=0)
    heading, point = np.nonzero(along)
    if heading.size == 0:
        return float(np.inf)
    return float(whole[heading, lattice.to[heading, point]].min())
