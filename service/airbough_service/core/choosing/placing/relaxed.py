"""A quick bound: one row for each set of machines, in which every metre, turn and join takes its cheapest diameter.

So no tree that shares ducts by a set costs less than what this says of that set: what is dearer than a known tree need
not be looked at. It is reckoned in single precision, and what it says is told lower by as much as that may be off.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.placing import program, quick_steps
from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import (
    Floats,
    Inlet,
    Integers,
    Prices,
    Rows,
    in_order,
    subsets,
)
from airbough_service.core.choosing.placing.steps import alone
from airbough_service.core.compiled import compiled, inner

Singles = NDArray[np.float32]
GRAIN: Final = 3.0e-4  # share by which 5,000 sums of single precision may be off, one upon the other
AS_LONG: Final = 0.25  # times as long as a sum of the program takes one of these
BACK: Final = 1.4  # the same of the way back
PAIRED: Final = 200.0  # as many sums take the prices of a join of two sets
LARGEST: Final = 3.0e38  # of single precision, nearly
TINY: Final = 1.0e-12  # what a metre costs at least, for a cheapest way to be one


class Relaxed(NamedTuple):
    """Least prices by set, shape (sets, headings, n) each: as a run came to a point, and where one begins there."""

    came: Singles
    begun: Singles


def work(lattice: Lattice, machines: int) -> float:
    """Return how many sums of the program `solve` takes as long as."""
    steps_aside = len(lattice.to) // 4
    return AS_LONG * steps_aside * lattice.to.size * 3.0**machines + PAIRED * 3.0**machines


def work_back(lattice: Lattice, machines: int, by_point: Floats) -> float:
    """Return how many sums of the program the way back took as long as, which found so much worth a look."""
    headings = len(lattice.to)
    points = np.isfinite(by_point).sum(axis=1)
    pairs = 2.0 ** np.array([group.bit_count() for group in range(len(by_point))])
    return BACK * (headings // 4) * headings * float(points @ pairs) + PAIRED * 3.0**machines


def solve(lattice: Lattice, machines: Integers, rows: Rows, prices: Prices) -> Relaxed:
    """Return what no sub-tree of a set costs less than, in every state.

    Raises:
        OutOfTimeError: past the limit of time.
    """
    metre, turn = _least(rows, prices)
    members, held, ways = subsets(len(machines)), _held(rows), _Ways(lattice, machines)
    shape = (len(rows.number), *lattice.to.shape)
    came, begun = (np.full(shape, np.inf, np.float32) for _ in range(2))
    for group in range(1, len(rows.number)):
        deadline.check()
        if held[group, 0] == held[group, 1]:
            continue
        fresh = begun[group]
        _join(
            group, members[group], held, rows.diameter, ways.machines, *_of_joins(prices), turn, came, ways.room, fresh
        )
        if group & (group - 1) == 0:
            single = group.bit_length() - 1
            fresh[:, machines[single]] = prices.start[single, rows.diameter[slice(*held[group])]].min()
        quick_steps.sweep(ways.to, ways.length, ways.order, metre[group], turn[group], fresh.copy(), came[group])
    return Relaxed(came, begun)


def least(relaxed: Relaxed, rows: Rows, prices: Prices, inlet: Inlet) -> float:
    """Return what no tree costs less than; infinite where there is none."""
    here = slice(None) if inlet.heading < 0 else inlet.heading
    end = prices.end[rows.number[-1] >= 0].min(initial=np.inf)
    return float(_lower(float(relaxed.came[-1, here, inlet.point].min()) + float(end)))


def least_way(lattice: Lattice, machine: int, inlet: Inlet, metre: float, turn: Floats) -> float:
    """Return what a way from a machine's point to the inlet costs at least; infinite where none leads there.

    Args:
        lattice: where ducts may run.
        machine: its point.
        inlet: where all ends.
        metre: price of a metre, at least 0.
        turn: shape (steps,), of a turn by so many steps, at least 0.
    """
    rows = program.rows_of(np.array([[False], [True]]))
    none, never = np.zeros((1, 1)), np.full((1, 1), np.inf)
    prices = Prices(
        length=np.array([max(metre, TINY)]),
        turn=turn[None, :],
        start=none,
        tap=never,
        join=never[None],
        straight=none,
        branch=np.zeros((1, 1, turn.size)),
        end=none[0],
    )
    return program.best(program.solve(lattice, np.array([machine]), rows, prices), prices, inlet)[0]


def least_by_point(
    lattice: Lattice, machines: Integers, rows: Rows, prices: Prices, inlet: Inlet, relaxed: Relaxed, most: float
) -> Floats:
    """Return what no tree costs less than in which runs become one of a set at a point, shape (sets, n).

    Infinite beyond so much, and 0 of a machine alone: its riser may enter another's run and share no duct.

    Raises:
        OutOfTimeError: past the limit of time.
    """
    metre, turn = _least(rows, prices)
    members, held, ways = subsets(len(machines)), _held(rows), _Ways(lattice, machines)
    still, onward = np.full_like(relaxed.came, np.inf), np.empty_like(relaxed.came[0])
    least, limit = relaxed.came.min(axis=1), np.float32(min(most * (1.0 + GRAIN), LARGEST))
    end = prices.end[rows.number[-1] >= 0].min(initial=np.inf)
    for heading in range(len(lattice.to)) if inlet.heading < 0 else (inlet.heading,):
        still[-1, heading, inlet.point] = float(end)
    whole = np.full((len(rows.number), lattice.x.size), np.inf)
    every = np.arange(lattice.x.size)
    for group in range(len(rows.number) - 1, 0, -1):
        deadline.check()
        if group & (group - 1) == 0:
            whole[group] = 0.0
            continue
        if held[group, 0] == held[group, 1] or not np.isfinite(still[group]).any():
            continue
        quick_steps.sweep_back(ways.to, ways.length, ways.order, metre[group], turn[group], still[group], onward)
        found = _lower((relaxed.begun[group] + onward).min(axis=0).astype(float))
        worth = found <= most
        if not worth.any():
            continue
        whole[group, worth] = found[worth]
        _part(
            group, members[group], every[worth], held, rows.diameter, ways.machines, *_of_joins(prices), turn,
            relaxed.came, least, onward, limit, still,
        )  # fmt: skip
    return whole


def _lower(sums: Floats | float) -> Floats:
    """Return sums of single precision lower by as much as they may be off; losses at joins may make one negative."""
    return np.asarray(sums * (1.0 - GRAIN * np.sign(sums)), float)


class _Ways:
    """The lattice as the loops take it, and room to work in."""

    def __init__(self, lattice: Lattice, machines: Integers) -> None:
        self.to, self.order, self.machines = lattice.to, in_order(lattice), machines
        self.length = lattice.length.astype(np.float32)
        self.room = np.empty((4, *lattice.to.shape), np.float32)


def _of_joins(prices: Prices) -> tuple[Floats, Floats, Floats, Floats]:
    return prices.join, prices.straight, prices.branch, prices.tap


def _held(rows: Rows) -> Integers:
    """Return the first row of each set and the one behind its last, shape (sets, 2)."""
    count = (rows.number >= 0).sum(axis=1)
    first = np.where(count > 0, np.where(rows.number >= 0, rows.number, rows.group.size).min(axis=1), 0)
    return np.column_stack([first, first + count])


def _least(rows: Rows, prices: Prices) -> tuple[Singles, Singles]:
    """Return the cheapest metre, shape (sets,), and the cheapest turns, shape (sets, steps), of every set."""
    length = np.full(len(rows.number), np.inf)
    turn = np.full((len(rows.number), prices.turn.shape[1]), np.inf)
    number = rows.number[rows.number >= 0]
    np.minimum.at(length, rows.group[number], prices.length[number])
    np.minimum.at(turn, rows.group[number], prices.turn[number])
    return length.astype(np.float32), turn.astype(np.float32)


@inner
def _meeting(
    into: Integers,
    ahead: Integers,
    aside: Integers,
    diameter: Integers,
    single: int,
    join_price: Floats,
    straight_price: Floats,
    branch_price: Floats,
    tap_price: Floats,
    least: Singles,
) -> None:
    """Fill in the cheapest join of two sets, each of rows from one to another, by the steps aside; last of a riser."""
    least[:] = np.inf
    across = branch_price.shape[2]
    for row in range(into[0], into[1]):
        out = diameter[row]
        for straight in range(ahead[0], ahead[1]):
            for branch in range(aside[0], aside[1]):
                price = join_price[out, diameter[straight], diameter[branch]] + straight_price[straight, out]
                for step in range(across):
                    whole = np.float32(price + branch_price[branch, out, step])
                    if whole < least[step]:
                        least[step] = whole
                if single >= 0:
                    aside_price = branch_price[branch, out, across - 1] + tap_price[single, diameter[branch]]
                    whole = np.float32(price + aside_price)
                    if whole < least[across]:
                        least[across] = whole


@compiled
def _join(
    group: int,
    parts: Integers,
    held: Integers,
    diameter: Integers,
    machines: Integers,
    join_price: Floats,
    straight_price: Floats,
    branch_price: Floats,
    tap_price: Floats,
    turn: Singles,
    came: Singles,
    room: Singles,
    fresh: Singles,
) -> None:
    """Two sub-trees meet in the cheapest way of all diameters."""
    across = branch_price.shape[2]
    least = np.empty((2, across + 1), np.float32)
    for one in parts:
        other = group ^ one
        if one > other or held[one, 0] == held[one, 1] or held[other, 0] == held[other, 1]:
            continue
        for way, ahead, aside in ((0, one, other), (1, other, one)):
            _meeting(
                held[group], held[ahead], held[aside], diameter, alone(aside),
                join_price, straight_price, branch_price, tap_price, least[way],
            )  # fmt: skip
            if np.isfinite(least[way, across]):
                quick_steps.enter(came[ahead], turn[ahead], machines[alone(aside)], least[way, across], fresh)
        ways = least[:, :across]
        if not np.isfinite(ways).any():
            continue
        if fresh.shape[0] == 4:  # square headings
            quick_steps.meet(came[one], came[other], turn[one], turn[other], ways, fresh)
        else:
            quick_steps.meet_aslant(came[one], came[other], turn[one], turn[other], ways, fresh, room)


@compiled
def _part(
    group: int,
    parts: Integers,
    points: Integers,
    held: Integers,
    diameter: Integers,
    machines: Integers,
    join_price: Floats,
    straight_price: Floats,
    branch_price: Floats,
    tap_price: Floats,
    turn: Singles,
    came: Singles,
    cheapest: Singles,
    onward: Singles,
    most: np.float32,
    still: Singles,
) -> None:
    """Tell the two sub-trees of every join what is still to pay beside their own, at `most` in all."""
    across = branch_price.shape[2]
    least, found, on = np.empty((2, across + 1), np.float32), np.empty_like(points), np.empty_like(cheapest[0])
    for point in points:
        on[point] = onward[:, point].min()
    for one in parts:
        other = group ^ one
        if one > other or held[one, 0] == held[one, 1] or held[other, 0] == held[other, 1]:
            continue
        riser = alone(one) >= 0 or alone(other) >= 0  # which enters for less than its own run costs
        if not riser and quick_steps.near(cheapest[one], cheapest[other], on, most, points, found) == 0:
            continue
        for way, ahead, aside in ((0, one, other), (1, other, one)):
            _meeting(
                held[group], held[ahead], held[aside], diameter, alone(aside),
                join_price, straight_price, branch_price, tap_price, least[way],
            )  # fmt: skip
        price = least[:, :across].min()
        count = quick_steps.near(cheapest[one], cheapest[other], on, most - price, points, found)
        for way, ahead, aside in ((0, one, other), (1, other, one)):
            for step in range(1, across + 1):
                if np.isfinite(least[way, step - 1]) and count > 0:
                    quick_steps.share(
                        came[ahead], came[aside], turn[ahead], onward, found[:count], step, least[way, step - 1], most,
                        still[ahead], still[aside],
                    )  # fmt: skip
            if np.isfinite(least[way, across]):
                machine = machines[alone(aside)]
                quick_steps.passed(onward, turn[ahead], machine, least[way, across], still[ahead])
