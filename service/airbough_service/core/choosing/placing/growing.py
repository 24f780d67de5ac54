"""The loops that grow labels: a riser begins a run, two runs meet, a run goes on or turns."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.choosing.placing.steps import alone
from airbough_service.core.compiled import compiled, inner, whole

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
NONE: Final = -1
ENTERED: Final = -2  # less the diameter of a riser that enters


class Labels(NamedTuple):
    """Sub-trees, each that came to a point by a way; the first `used` of the arrays.

    Attributes:
        price, weighted: shape (limit,), without and with weighted losses.
        need: shape (limit, states), Pa.
        row, heading, point: shape (limit,), the state.
        before: the label of the run that goes on in this one; -1 where a riser begins it.
        branch: the label that entered there, `NONE`, or `ENTERED` less the diameter of a riser that did.
        following: the next in the state's list; -1 at its end.
        dead: whether another beats it.
        head: shape (rows, headings, n), the first of the state's list.
        used: shape (1,), how many labels there are.
        pairs: shape (2,), how many were compared or joined, and how many may be.
    """

    price: Floats
    weighted: Floats
    need: Floats
    row: NDArray[np.int32]
    heading: NDArray[np.int8]
    point: NDArray[np.int32]
    before: NDArray[np.int32]
    branch: NDArray[np.int32]
    following: NDArray[np.int32]
    dead: NDArray[np.bool_]
    head: NDArray[np.int32]
    used: Integers
    pairs: Integers


@inner
def _push(
    labels: Any,
    row: int,
    heading: int,
    point: int,
    price: float,
    weighted: float,
    need: Floats,
    before: int,
    branch: int,
) -> None:
    """Keep a label that no other of its state beats, and drop those that it beats."""
    new = labels.used[0]
    if new >= labels.price.size:
        return
    last, label = -1, labels.head[row, heading, point]
    while label >= 0:
        labels.pairs[0] += 1
        worse = price >= labels.price[label]
        better = price <= labels.price[label]
        for state in range(need.size):
            if need[state] < labels.need[label, state]:
                worse = False
            elif need[state] > labels.need[label, state]:
                better = False
        if worse:
            return
        if better:
            labels.dead[label] = True
            if last < 0:
                labels.head[row, heading, point] = labels.following[label]
            else:
                labels.following[last] = labels.following[label]
        else:
            last = label
        label = labels.following[label]
    labels.price[new], labels.weighted[new] = price, weighted
    labels.need[new] = need
    labels.row[new], labels.heading[new], labels.point[new] = row, heading, point
    labels.before[new], labels.branch[new] = before, branch
    labels.following[new] = labels.head[row, heading, point]
    labels.head[row, heading, point] = new
    labels.used[0] = new + 1


@inner
def _way(
    labels: Any,
    row: int,
    heading: int,
    point: int,
    price: float,
    weighted: float,
    need: Floats,
    before: int,
    branch: int,
    to: Integers,
    length: Floats,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    most: float,
    work: Floats,
) -> None:
    """Go on from a point to the next; keep it where its weighted price and its pressure may do."""
    there = to[heading, point]
    if there < 0:
        return
    far = length[heading, point]
    weighted += far * heavy.length[row]
    if not weighted + still[row, heading, there] <= most:
        return
    for state in range(work.size):
        work[state] = need[state] + far * needs.length[row, state]
        if work[state] > needs.available[state]:
            return
    _push(labels, row, heading, there, price + far * plain.length[row], weighted, work, before, branch)


@compiled
def start(
    mine: Integers,
    machine: int,
    point: int,
    to: Integers,
    length: Floats,
    diameter: Integers,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    riser: Floats,
    heavy_riser: Floats,
    change: Floats,
    most: float,
    labels: Any,
) -> None:
    """A riser of any diameter turns into a run."""
    work = np.empty(needs.available.size)
    for row in mine:
        into = diameter[row]
        for own in range(riser.shape[1]):
            price, weighted = riser[machine, own] + change[own, into], heavy_riser[machine, own] + change[own, into]
            if np.isfinite(price):
                for heading in range(to.shape[0]):
                    _way(
                        labels, whole(row), whole(heading), whole(point), price, weighted,
                        needs.start[machine, own], whole(-1), whole(NONE),
                        to, length, plain, heavy, needs, still, most, work,
                    )  # fmt: skip


@compiled
def on(
    begun: int,
    to: Integers,
    length: Floats,
    diameter: Integers,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    most: float,
    labels: Any,
) -> None:
    """Go on from every label from a number on, straight or after a turn, and from those that this makes."""
    work, turned = np.empty(needs.available.size), np.empty(needs.available.size)
    headings, label = to.shape[0], begun
    while label < labels.used[0] and labels.used[0] < labels.price.size and labels.pairs[0] <= labels.pairs[1]:
        if not labels.dead[label]:
            row, point, came = (
                whole(labels.row[label]),
                whole(labels.point[label]),
                whole(labels.heading[label]),
            )
            price, weighted = labels.price[label], labels.weighted[label]
            _way(
                labels, row, came, point, price, weighted, labels.need[label], whole(label), whole(NONE),
                to, length, plain, heavy, needs, still, most, work,
            )  # fmt: skip
            for step in range(1, plain.turn.shape[1] + 1):
                turned[:] = labels.need[label] + needs.turn[row, step - 1]
                for heading in ((came + step) % headings, (came + headings - step) % headings):
                    _way(
                        labels, row, heading, point, price + plain.turn[row, step - 1],
                        weighted + heavy.turn[row, step - 1], turned, whole(label), whole(NONE),
                        to, length, plain, heavy, needs, still, most, work,
                    )  # fmt: skip
        label += 1


@compiled
def join(
    group: int,
    mine: Integers,
    parts: Integers,
    number: Integers,
    machines: Integers,
    spans: Integers,
    to: Integers,
    length: Floats,
    diameter: Integers,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    most: float,
    labels: Any,
) -> None:
    """Labels of two sets meet, one entering from the side, and go on."""
    work, need = np.empty(needs.available.size), np.empty(needs.available.size)
    for row in mine:
        out = diameter[row]
        for part in parts:
            rest = group ^ part
            single = alone(rest)
            for one in range(spans[part, 0], spans[part, 1]):
                if labels.dead[one]:
                    continue
                labels.pairs[0] += 1 + 2 * plain.turn.shape[1]
                if labels.pairs[0] > labels.pairs[1] or labels.used[0] >= labels.price.size:
                    return
                if single >= 0 and machines[single] == labels.point[one]:
                    _enter(
                        group, row, out, one, single, number, to, length, diameter, plain, heavy, needs, still, most,
                        labels, need, work,
                    )  # fmt: skip
                for turn in range(-plain.turn.shape[1], plain.turn.shape[1] + 1):
                    _met(
                        rest, row, out, one, turn, number,
                        to, length, diameter, plain, heavy, needs, still, most, labels, need, work,
                    )  # fmt: skip


@inner
def _met(
    rest: int,
    row: int,
    out: int,
    one: int,
    turn: int,
    number: Integers,
    to: Integers,
    length: Floats,
    diameter: Integers,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    most: float,
    labels: Any,
    need: Floats,
    work: Floats,
) -> None:
    """A run is entered by labels of a set, not from the side from which it came to its turn."""
    straight, point, headings = labels.row[one], labels.point[one], to.shape[0]
    heading = (labels.heading[one] + headings + turn) % headings
    there = to[heading, point]
    if there < 0:
        return
    price = labels.price[one] + plain.straight[straight, out]
    weighted = labels.weighted[one] + heavy.straight[straight, out]
    if turn != 0:
        price += plain.turn[straight, abs(turn) - 1]
        weighted += heavy.turn[straight, abs(turn) - 1]
    limit = most - still[row, heading, there] - length[heading, point] * heavy.length[row] - weighted
    if not limit > 0.0:
        return
    for side in range(-plain.branch.shape[2], plain.branch.shape[2] + 1):
        if side != 0 and side * turn >= 0:
            _beside(
                rest, row, out, one, turn, heading, side, limit, price, weighted, number,
                to, length, diameter, plain, heavy, needs, still, most, labels, need, work,
            )  # fmt: skip


@inner
def _beside(
    rest: int,
    row: int,
    out: int,
    one: int,
    turn: int,
    heading: int,
    side: int,
    limit: float,
    price: float,
    weighted: float,
    number: Integers,
    to: Integers,
    length: Floats,
    diameter: Integers,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    most: float,
    labels: Any,
    need: Floats,
    work: Floats,
) -> None:
    """Labels of a set enter a run from its side."""
    straight, point, step = labels.row[one], labels.point[one], abs(side) - 1
    beside = (heading + to.shape[0] + side) % to.shape[0]
    for other in range(number.shape[1]):
        branch = number[rest, other]
        if branch < 0:
            continue
        met = plain.join[out, diameter[straight], other]
        aside, heavy_aside = plain.branch[branch, out, step], heavy.branch[branch, out, step]
        two = labels.head[branch, beside, point]
        while two >= 0:
            labels.pairs[0] += 1
            if labels.weighted[two] + met + heavy_aside <= limit:
                for state in range(need.size):
                    first = labels.need[one, state] + needs.straight[straight, out, state]
                    if turn != 0:
                        first += needs.turn[straight, abs(turn) - 1, state]
                    second = labels.need[two, state] + needs.branch[branch, out, step, state]
                    need[state] = max(first, second)
                _way(
                    labels, whole(row), whole(heading), whole(point), price + labels.price[two] + met + aside,
                    weighted + labels.weighted[two] + met + heavy_aside, need, whole(one), whole(two),
                    to, length, plain, heavy, needs, still, most, work,
                )  # fmt: skip
            two = labels.following[two]


@inner
def _enter(
    group: int,
    row: int,
    out: int,
    one: int,
    single: int,
    number: Integers,
    to: Integers,
    length: Floats,
    diameter: Integers,
    plain: Any,
    heavy: Any,
    needs: Any,
    still: Floats,
    most: float,
    labels: Any,
    need: Floats,
    work: Floats,
) -> None:
    """A machine's riser enters a run that passes over it, turned or not."""
    straight, point, came = labels.row[one], labels.point[one], labels.heading[one]
    across, headings = plain.branch.shape[2], to.shape[0]
    for turn in range(-plain.turn.shape[1], plain.turn.shape[1] + 1):
        heading = (came + headings + turn) % headings
        for other in range(number.shape[1]):
            branch = number[1 << single, other]
            if branch < 0:
                continue
            met = plain.join[out, diameter[straight], other]
            price = labels.price[one] + plain.straight[straight, out] + met
            price += plain.branch[branch, out, across - 1] + plain.tap[single, other]
            weighted = labels.weighted[one] + heavy.straight[straight, out] + met
            weighted += heavy.branch[branch, out, across - 1] + heavy.tap[single, other]
            if turn != 0:
                price += plain.turn[straight, abs(turn) - 1]
                weighted += heavy.turn[straight, abs(turn) - 1]
            if not np.isfinite(price):
                continue
            for state in range(need.size):
                first = labels.need[one, state] + needs.straight[straight, out, state]
                if turn != 0:
                    first += needs.turn[straight, abs(turn) - 1, state]
                second = needs.tap[single, other, state] + needs.branch[branch, out, across - 1, state]
                need[state] = max(first, second)
            _way(
                labels, whole(row), whole(heading), whole(point), price, weighted, need, whole(one),
                whole(ENTERED - other),
                to, length, plain, heavy, needs, still, most, work,
            )  # fmt: skip
