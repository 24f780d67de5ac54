"""The loops of the quick bound, in single precision: one row for each set of machines, and one array of prices.

What a run costs that turned, or did not, follows from what it costs as it came; so that alone is kept, and two sets are
brought together both ways at once.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled, inner

Singles = NDArray[np.float32]
Integers = NDArray[np.int64]


@inner
def meet(one: Singles, other: Singles, turn: Singles, other_turn: Singles, ways: Singles, fresh: Singles) -> None:
    """Two runs meet with turns of 90 degrees, either going straight on and the other entering from its side.

    Each is told as it came, shape (4, n), with its turn, shape (1,), and `ways`, shape (2, 1), the pieces where one
    goes straight on and where the other does; what the run costs that they make is lowered in `fresh`, shape (4, n).
    """
    price, other_price, elbow, other_elbow = ways[0, 0], ways[1, 0], turn[0], other_turn[0]
    for heading in range(4):
        before, after = (heading + 3) % 4, (heading + 1) % 4
        here, there, then = one[heading], one[before], one[after]
        own, back, on = other[heading], other[before], other[after]
        target = fresh[heading]
        for point in range(target.size):
            left = min(here[point], there[point] + elbow) + on[point]
            right = min(here[point], then[point] + elbow) + back[point]
            total = min(left, right) + price
            left = min(own[point], back[point] + other_elbow) + then[point]
            right = min(own[point], on[point] + other_elbow) + there[point]
            total = min(total, min(left, right) + other_price)
            target[point] = min(target[point], total)


@inner
def meet_aslant(
    one: Singles, other: Singles, turn: Singles, other_turn: Singles, ways: Singles, fresh: Singles, work: Singles
) -> None:
    """As `meet`, with any number of steps aside; `work` of shape (4, headings, n) is written over."""
    turned(one, turn, work[0], work[1])
    turned(other, other_turn, work[2], work[3])
    headings = fresh.shape[0]
    for step in range(1, ways.shape[1] + 1):
        price, other_price = ways[0, step - 1], ways[1, step - 1]
        for heading in range(headings):
            after, before = (heading + step) % headings, (heading + headings - step) % headings
            left, right, other_left, other_right = (
                work[0, heading],
                work[1, heading],
                work[2, heading],
                work[3, heading],
            )
            one_after, one_before, other_after, other_before = one[after], one[before], other[after], other[before]
            target = fresh[heading]
            for point in range(target.size):
                total = min(left[point] + other_after[point], right[point] + other_before[point]) + price
                second = min(other_left[point] + one_after[point], other_right[point] + one_before[point])
                target[point] = min(target[point], min(total, second + other_price))


@inner
def turned(came: Singles, turn: Singles, left: Singles, right: Singles) -> None:
    """Fill in what a run costs that came so or turned into a heading, from the one side or from the other."""
    headings = came.shape[0]
    for heading in range(headings):
        here, one, other = came[heading], left[heading], right[heading]
        for point in range(here.size):
            one[point] = here[point]
            other[point] = here[point]
        for step in range(1, turn.size + 1):
            price = turn[step - 1]
            before, after = came[(heading + headings - step) % headings], came[(heading + step) % headings]
            for point in range(here.size):
                one[point] = min(one[point], before[point] + price)
                other[point] = min(other[point], after[point] + price)


@inner
def enter(came: Singles, turn: Singles, point: int, price: np.float32, fresh: Singles) -> None:
    """A machine's riser enters the run that passes over it, turned there or not."""
    headings = came.shape[0]
    for heading in range(headings):
        least = came[heading, point]
        for step in range(1, turn.size + 1):
            least = min(least, came[(heading + step) % headings, point] + turn[step - 1])
            least = min(least, came[(heading + headings - step) % headings, point] + turn[step - 1])
        fresh[heading, point] = min(fresh[heading, point], least + price)


@inner
def _turn(others: Singles, turn: Singles, own: Singles) -> bool:
    """Lower each place to what another heading there and the turn from it come to; return whether any was."""
    headings, size = own.shape
    changed = False
    for heading in range(headings):
        here = own[heading]
        for step in range(1, turn.size + 1):
            before, after = others[(heading + headings - step) % headings], others[(heading + step) % headings]
            price = turn[step - 1]
            for point in range(size):
                total = min(before[point], after[point]) + price
                if total < here[point]:
                    here[point] = total
                    changed = True
    return changed


@compiled
def sweep(
    to: Integers, length: Singles, order: Integers, metre: np.float32, turn: Singles, begun: Singles, came: Singles
) -> None:
    """Go on and turn until nothing is cheaper; `begun`, where runs go on or begin, is written over."""
    headings = came.shape[0]
    changed = True
    while changed:
        for heading in range(headings):
            for point in order[heading]:
                there = to[heading, point]
                if there >= 0:
                    total = min(begun[heading, point], came[heading, point]) + length[heading, point] * metre
                    came[heading, there] = min(came[heading, there], total)
        changed = _turn(came, turn, begun)


@compiled
def sweep_back(
    to: Integers, length: Singles, order: Integers, metre: np.float32, turn: Singles, came: Singles, onward: Singles
) -> None:
    """Go back along ways and turns until nothing is cheaper; fill in what is to pay where a run goes on or begins."""
    headings = came.shape[0]
    onward[:] = np.inf
    changed = True
    while changed:
        for heading in range(headings):
            for point in order[heading][::-1]:
                there = to[heading, point]
                if there >= 0:
                    onward[heading, point] = length[heading, point] * metre + came[heading, there]
                    came[heading, point] = min(came[heading, point], onward[heading, point])
        changed = _turn(onward, turn, came)


@inner
def near(one: Singles, other: Singles, onward: Singles, price: np.float32, points: Integers, found: Integers) -> int:
    """Fill in at which of the points two sets may meet at no more than so much, whatever their headings; how many.

    Each is told by its least over the headings, shape (n,).
    """
    count = 0
    for point in points:
        if one[point] + other[point] + onward[point] <= price:
            found[count] = point
            count += 1
    return count


@inner
def share(
    one: Singles,
    other: Singles,
    turn: Singles,
    onward: Singles,
    points: Integers,
    step: int,
    price: np.float32,
    most: np.float32,
    one_still: Singles,
    other_still: Singles,
) -> None:
    """What is still to pay of a run and of the one that enters it at `points`, each beside the other's price.

    Nothing is told of what is dearer than `most` in all.
    """
    headings = onward.shape[0]
    for heading in range(headings):
        after, before = (heading + step) % headings, (heading + headings - step) % headings
        for point in points:
            rest = onward[heading, point] + price
            left, right = other[after, point] + rest, other[before, point] + rest
            ahead_left = ahead_right = one[heading, point]
            for bend in range(1, turn.size + 1):
                side, opposite = (heading + headings - bend) % headings, (heading + bend) % headings
                ahead_left = min(ahead_left, one[side, point] + turn[bend - 1])
                ahead_right = min(ahead_right, one[opposite, point] + turn[bend - 1])
            if min(ahead_left + left, ahead_right + right) > most:
                continue
            for bend in range(1, turn.size + 1):
                side, opposite = (heading + headings - bend) % headings, (heading + bend) % headings
                one_still[side, point] = min(one_still[side, point], left + turn[bend - 1])
                one_still[opposite, point] = min(one_still[opposite, point], right + turn[bend - 1])
            one_still[heading, point] = min(one_still[heading, point], min(left, right))
            other_still[after, point] = min(other_still[after, point], ahead_left + rest)
            other_still[before, point] = min(other_still[before, point], ahead_right + rest)


@inner
def passed(onward: Singles, turn: Singles, point: int, price: np.float32, still: Singles) -> None:
    """What is still to pay of a run that a riser enters."""
    headings = onward.shape[0]
    for heading in range(headings):
        total = onward[heading, point] + price
        still[heading, point] = min(still[heading, point], total)
        for step in range(1, turn.size + 1):
            for side in ((heading + step) % headings, (heading + headings - step) % headings):
                still[side, point] = min(still[side, point], total + turn[step - 1])
