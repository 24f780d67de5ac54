"""A quick bound: one row for each set of machines, in which every metre, turn and join takes its cheapest diameter.

So no tree that shares ducts by a set costs less than what this says of that set: what is dearer than a known tree need
not be looked at.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from airbough_service.core import deadline
from airbough_service.core.choosing.placing import steps
from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import (
    DENSE,
    Floats,
    Inlet,
    Integers,
    Prices,
    Rows,
    in_order,
    subsets,
)
from airbough_service.core.compiled import compiled

AS_LONG: Final = 2.0  # times as long as a sum of the program takes one of these
BACK: Final = 3.0  # the same of the way back
PAIRED: Final = 400.0  # as many sums take the prices of a join of two sets


class Relaxed(NamedTuple):
    """Least prices by set, shape (sets, headings, n) each, as of `Solved`; `fresh`: where a run of the set begins."""

    arrived: Floats
    left: Floats
    right: Floats
    fresh: Floats


def work(lattice: Lattice, machines: int) -> float:
    """Return how many sums of the program `solve` takes as long as."""
    steps_aside = len(lattice.to) // 4
    return AS_LONG * steps_aside * lattice.to.size * 3.0**machines


def work_back(lattice: Lattice, machines: int, by_point: Floats) -> float:
    """Return how many sums of the program the way back took as long as, which found so much worth a look."""
    headings, size = lattice.to.shape
    points = np.minimum(DENSE * np.isfinite(by_point).sum(axis=1), size)
    pairs = 2.0 ** np.array([group.bit_count() for group in range(len(by_point))])
    return BACK * (headings // 4) * headings * float(points @ pairs) + PAIRED * 3.0**machines


def solve(lattice: Lattice, machines: Integers, rows: Rows, prices: Prices) -> Relaxed:
    """Return what no sub-tree of a set costs less than, in every state.

    Raises:
        OutOfTimeError: past the limit of time.
    """
    length, turn = _least(rows, prices)
    order, members = in_order(lattice), subsets(len(machines))
    every, shape = np.arange(lattice.x.size), (len(rows.number), *lattice.to.shape)
    arrived, left, right, begun = (np.full(shape, np.inf) for _ in range(4))
    for group in range(1, len(rows.number)):
        deadline.check()
        own = rows.number[group] >= 0
        if not own.any():
            continue
        fresh = begun[group : group + 1]
        _join(
            group, members[group], every, rows.number, machines,
            prices.join, prices.straight, prices.branch, prices.tap, arrived, left, right, fresh[0],
        )  # fmt: skip
        if group & (group - 1) == 0:
            single = group.bit_length() - 1
            fresh[0, :, machines[single]] = prices.start[single, own].min()
        steps.sweep(
            np.array([group]), lattice.to, lattice.length, order, length, turn, fresh, arrived, left, right
        )  # fmt: skip
    return Relaxed(arrived, left, right, begun)


def least(relaxed: Relaxed, rows: Rows, prices: Prices, inlet: Inlet) -> float:
    """Return what no tree costs less than; infinite where there is none."""
    here = slice(None) if inlet.heading < 0 else inlet.heading
    end = prices.end[rows.number[-1] >= 0].min(initial=np.inf)
    return float(relaxed.arrived[-1, here, inlet.point].min() + end)


def least_by_point(
    lattice: Lattice, machines: Integers, rows: Rows, prices: Prices, inlet: Inlet, relaxed: Relaxed, most: float
) -> Floats:
    """Return what no tree costs less than in which runs become one of a set at a point, shape (sets, n).

    Infinite beyond so much, and 0 of a machine alone: its riser may enter another's run and share no duct.

    Raises:
        OutOfTimeError: past the limit of time.
    """
    length, turn = _least(rows, prices)
    order, members, every = in_order(lattice), subsets(len(machines)), np.arange(lattice.x.size)
    came, left, right = (np.full_like(relaxed.arrived, np.inf) for _ in range(3))
    own = rows.number[-1] >= 0
    for heading in range(len(lattice.to)) if inlet.heading < 0 else (inlet.heading,):
        came[-1, heading, inlet.point] = prices.end[own].min(initial=np.inf)
    whole = np.full((len(rows.number), lattice.x.size), np.inf)
    for group in range(len(rows.number) - 1, 0, -1):
        deadline.check()
        if group & (group - 1) == 0:
            whole[group] = 0.0
            continue
        if not (rows.number[group] >= 0).any():
            continue
        fresh = steps.sweep_back(
            np.array([group]), lattice.to, lattice.length, order, length, turn, came, left, right
        )  # fmt: skip
        found = (relaxed.fresh[group] + fresh[0]).min(axis=0)
        worth = found <= most
        if not worth.any():
            continue
        whole[group, worth] = found[worth]
        _part(
            group, members[group], every[worth], rows.number, machines,
            prices.join, prices.straight, prices.branch, prices.tap,
            relaxed.arrived, relaxed.left, relaxed.right, fresh[0], came, left, right,
        )  # fmt: skip
    return whole


def _least(rows: Rows, prices: Prices) -> tuple[Floats, Floats]:
    """Return the cheapest metre, shape (sets,), and the cheapest turns, shape (sets, steps), of every set."""
    length = np.full(len(rows.number), np.inf)
    turn = np.full((len(rows.number), prices.turn.shape[1]), np.inf)
    number = rows.number[rows.number >= 0]
    np.minimum.at(length, rows.group[number], prices.length[number])
    np.minimum.at(turn, rows.group[number], prices.turn[number])
    return length, turn


@compiled
def _meeting(
    group: int,
    part: int,
    number: Integers,
    single: int,
    join_price: Floats,
    straight_price: Floats,
    branch_price: Floats,
    tap_price: Floats,
    least: Floats,
) -> None:
    """Fill in the cheapest join of two sets by the steps aside; last of a riser that enters."""
    least[:] = np.inf
    across = branch_price.shape[2]
    for out in range(number.shape[1]):
        if number[group, out] < 0:
            continue
        for one in range(number.shape[1]):
            straight = number[part, one]
            if straight < 0:
                continue
            for other in range(number.shape[1]):
                branch = number[group ^ part, other]
                if branch < 0:
                    continue
                price = join_price[out, one, other] + straight_price[straight, out]
                for step in range(across):
                    least[step] = min(least[step], price + branch_price[branch, out, step])
                if single >= 0:
                    aside = branch_price[branch, out, across - 1] + tap_price[single, other]
                    least[across] = min(least[across], price + aside)


@compiled
def _join(
    group: int,
    parts: Integers,
    points: Integers,
    number: Integers,
    machines: Integers,
    join_price: Floats,
    straight_price: Floats,
    branch_price: Floats,
    tap_price: Floats,
    arrived: Floats,
    left: Floats,
    right: Floats,
    fresh: Floats,
) -> None:
    """Two sub-trees meet in the cheapest way of all diameters."""
    across = branch_price.shape[2]
    least = np.empty(across + 1)
    for part in parts:
        rest = group ^ part
        single = steps.alone(rest)
        _meeting(group, part, number, single, join_price, straight_price, branch_price, tap_price, least)
        for step in range(1, across + 1):
            if np.isfinite(least[step - 1]):
                steps.meet(fresh, left[part], right[part], arrived[rest], points, step, float(least[step - 1]))
        if np.isfinite(least[across]):
            steps.enter(fresh, left[part], right[part], int(machines[single]), float(least[across]))


@compiled
def _part(
    group: int,
    parts: Integers,
    points: Integers,
    number: Integers,
    machines: Integers,
    join_price: Floats,
    straight_price: Floats,
    branch_price: Floats,
    tap_price: Floats,
    arrived: Floats,
    left: Floats,
    right: Floats,
    fresh: Floats,
    came: Floats,
    left_still: Floats,
    right_still: Floats,
) -> None:
    """Tell the two sub-trees of every join what is still to pay beside their own."""
    across = branch_price.shape[2]
    least = np.empty(across + 1)
    for part in parts:
        rest = group ^ part
        single = steps.alone(rest)
        _meeting(group, part, number, single, join_price, straight_price, branch_price, tap_price, least)
        for step in range(1, across + 1):
            if np.isfinite(least[step - 1]):
                steps.share(
                    left[part], right[part], arrived[rest], fresh, points, step, float(least[step - 1]),
                    came[rest], left_still[part], right_still[part],
                )  # fmt: skip
        if np.isfinite(least[across]):
            steps.passed(fresh, int(machines[single]), float(least[across]), left_still[part], right_still[part])
