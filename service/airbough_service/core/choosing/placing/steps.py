"""The loops of the dynamic program: two runs meet, a run goes on, a run turns. Headings go round by equal steps.

A turn is of 90 degrees at most; a branch comes from up to 90 degrees off the heading of what it enters.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled, inner

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@compiled
def join(
    group: int,
    mine: Integers,
    parts: Integers,
    points: Integers,
    number: Integers,
    diameter: Integers,
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
    """Two sub-trees meet: one goes straight on, the other enters from its side. Arguments as the program's fields.

    Those that meet do so at `points`, rising; a riser enters wherever its machine is.
    """
    across = branch_price.shape[2]
    for place in range(mine.size):
        out = diameter[mine[place]]
        for part in parts:
            rest = group ^ part
            single = alone(rest)
            for one in range(number.shape[1]):
                straight = number[part, one]
                if straight < 0:
                    continue
                for other in range(number.shape[1]):
                    branch = number[rest, other]
                    if branch < 0:
                        continue
                    price = join_price[out, one, other] + straight_price[straight, out]
                    if not np.isfinite(price):
                        continue
                    for step in range(1, across + 1):
                        aside = price + branch_price[branch, out, step - 1]
                        meet(fresh[place], left[straight], right[straight], arrived[branch], points, step, aside)
                    if single >= 0:
                        price += branch_price[branch, out, across - 1] + tap_price[single, other]
                        enter(fresh[place], left[straight], right[straight], machines[single], price)


@inner
def alone(group: int) -> int:
    """Return the machine of a set of one; -1 of another set."""
    if group & (group - 1) != 0:
        return -1
    machine = 0
    while group >> (machine + 1) != 0:
        machine += 1
    return machine


@inner
def meet(
    target: Floats, left: Floats, right: Floats, branch: Floats, points: Integers, step: int, price: float
) -> None:
    """A run enters another from either side, but not from that from which the other came to its turn."""
    headings, everywhere = target.shape[0], points.size == target.shape[1]
    for heading in range(headings):
        one, other = branch[(heading + step) % headings], branch[(heading + headings - step) % headings]
        if everywhere:  # told apart since only this is done for several points at once by the processor
            for point in range(target.shape[1]):
                total = min(left[heading, point] + one[point], right[heading, point] + other[point]) + price
                if total < target[heading, point]:
                    target[heading, point] = total
        else:
            for point in points:
                total = min(left[heading, point] + one[point], right[heading, point] + other[point]) + price
                target[heading, point] = min(target[heading, point], total)


@inner
def enter(target: Floats, left: Floats, right: Floats, point: int, price: float) -> None:
    """A machine's riser enters the run that passes over it."""
    for heading in range(target.shape[0]):
        total = min(left[heading, point], right[heading, point]) + price
        target[heading, point] = min(target[heading, point], total)


@compiled
def sweep(
    mine: Integers,
    to: Integers,
    length: Floats,
    order: Integers,
    length_price: Floats,
    turn_price: Floats,
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
            for heading in range(to.shape[0]):
                for point in order[heading]:
                    there = to[heading, point]
                    if there < 0:
                        continue
                    here = min(fresh[place, heading, point], left[row, heading, point], right[row, heading, point])
                    total = here + length[heading, point] * length_price[row]
                    arrived[row, heading, there] = min(arrived[row, heading, there], total)
                    left[row, heading, there] = min(left[row, heading, there], total)
                    right[row, heading, there] = min(right[row, heading, there], total)
            changed = turn(arrived[row], left[row], right[row], turn_price[row])


@inner
def turn(arrived: Floats, left: Floats, right: Floats, price: Floats) -> bool:
    """Turn wherever that is cheaper, and say whether it is anywhere."""
    changed = False
    headings = arrived.shape[0]
    for point in range(arrived.shape[1]):
        for heading in range(headings):
            for step in range(1, price.size + 1):
                turned = arrived[(heading + headings - step) % headings, point] + price[step - 1]
                if turned < left[heading, point]:
                    left[heading, point] = turned
                    changed = True
                turned = arrived[(heading + step) % headings, point] + price[step - 1]
                if turned < right[heading, point]:
                    right[heading, point] = turned
                    changed = True
    return changed


@compiled
def sweep_back(
    mine: Integers,
    to: Integers,
    length: Floats,
    order: Integers,
    length_price: Floats,
    turn_price: Floats,
    came: Floats,
    left: Floats,
    right: Floats,
) -> Floats:
    """Go back along ways and turns until nothing is cheaper; return what is to pay where runs begin."""
    headings = to.shape[0]
    fresh = np.full((mine.size, headings, order.shape[1]), np.inf)
    for place in range(mine.size):
        row = mine[place]
        changed = True
        while changed:
            changed = False
            for heading in range(headings):
                for point in order[heading][::-1]:
                    there = to[heading, point]
                    if there >= 0:
                        on = length[heading, point] * length_price[row] + came[row, heading, there]
                        fresh[place, heading, point] = on
                        left[row, heading, point] = min(left[row, heading, point], on)
                        right[row, heading, point] = min(right[row, heading, point], on)
                    least = min(left[row, heading, point], right[row, heading, point])
                    for step in range(1, turn_price.shape[1] + 1):
                        price = turn_price[row, step - 1]
                        least = min(least, left[row, (heading + step) % headings, point] + price)
                        least = min(least, right[row, (heading + headings - step) % headings, point] + price)
                    if least < came[row, heading, point]:
                        came[row, heading, point] = least
                        changed = True
    return fresh


@compiled
def part(
    group: int,
    mine: Integers,
    parts: Integers,
    points: Integers,
    number: Integers,
    diameter: Integers,
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
    for place in range(mine.size):
        out = diameter[mine[place]]
        for arm in parts:
            rest = group ^ arm
            single = alone(rest)
            for one in range(number.shape[1]):
                straight = number[arm, one]
                if straight < 0:
                    continue
                for other in range(number.shape[1]):
                    branch = number[rest, other]
                    if branch < 0:
                        continue
                    price = join_price[out, one, other] + straight_price[straight, out]
                    if not np.isfinite(price):
                        continue
                    for step in range(1, across + 1):
                        share(
                            left[straight], right[straight], arrived[branch], fresh[place], points, step,
                            price + branch_price[branch, out, step - 1],
                            came[branch], left_still[straight], right_still[straight],
                        )  # fmt: skip
                    if single >= 0:
                        price += branch_price[branch, out, across - 1] + tap_price[single, other]
                        passed(fresh[place], machines[single], price, left_still[straight], right_still[straight])


@inner
def passed(fresh: Floats, point: int, price: float, left_still: Floats, right_still: Floats) -> None:
    """What is still to pay of a run that a riser enters."""
    for heading in range(fresh.shape[0]):
        total = fresh[heading, point] + price
        left_still[heading, point] = min(left_still[heading, point], total)
        right_still[heading, point] = min(right_still[heading, point], total)


@inner
def share(
    left: Floats,
    right: Floats,
    branch: Floats,
    fresh: Floats,
    points: Integers,
    step: int,
    price: float,
    came: Floats,
    left_still: Floats,
    right_still: Floats,
) -> None:
    """What is still to pay of a run and of the one that enters it at `points`, each beside the other's price."""
    headings = fresh.shape[0]
    for heading in range(headings):
        one, other = (heading + step) % headings, (heading + headings - step) % headings
        first, second = branch[one], branch[other]
        for point in points:
            rest = fresh[heading, point] + price
            left_still[heading, point] = min(left_still[heading, point], first[point] + rest)
            right_still[heading, point] = min(right_still[heading, point], second[point] + rest)
            came[one, point] = min(came[one, point], left[heading, point] + rest)
            came[other, point] = min(came[other, point], right[heading, point] + rest)
