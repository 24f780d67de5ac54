"""Price and pressure at once: every sub-tree that no other beats in both, where a bound leaves any to look for.

A label is a sub-tree in a state of the program: what it costs, what it costs with weighted losses, and the pressure
that it needs in every state of the gates. Of two labels in one state the one that is dearer and needs no less anywhere
is left out; so is one whose weighted price, with what is still to pay at least, passes what a known layout costs.
Labels for shortest ways with several lengths: Martins, On a multicriteria shortest path problem, European Journal of
Operational Research 16 (1984), 236-245 (from memory).
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from airbough_service.core import deadline
from airbough_service.core.choosing.placing import growing
from airbough_service.core.choosing.placing.lattice import Lattice
from airbough_service.core.choosing.placing.program import Floats, Inlet, Integers, Prices, Rows, subsets
from airbough_service.core.choosing.placing.trace import Stretch, Traced, overlaps

MOST_PAIRS: Final = 1.0e18  # where nothing limits them


class Needs(NamedTuple):
    """Pressure that pieces need, Pa, by state of the gates (last axis), otherwise as the prices.

    Attributes:
        length, turn, straight, branch, tap, end: of what `Prices` has a price for.
        start: shape (machines, diameters, states), of risers by their own diameter.
        available: shape (states,), what a tree may need; infinite without a limit.
    """

    length: Floats
    turn: Floats
    straight: Floats
    branch: Floats
    start: Floats
    tap: Floats
    end: Floats
    available: Floats


class Starts(NamedTuple):
    """What risers cost, plain and weighted: shape (machines, diameters), and what lies between one and its run."""

    plain: Floats
    weighted: Floats
    change: Floats


class Asked(NamedTuple):
    """What is looked for.

    Attributes:
        rows: sets and diameters that are looked at.
        plain: prices.
        weighted: prices with weighted losses, of which `still` was found.
        starts: of risers.
        needs: pressures.
        still: shape (rows, headings, n), the least weighted price that is still to pay.
        most: weighted price that nothing may pass.
        limit: how many labels may be kept.
        work: how many pairs of labels may be compared or joined.
    """

    rows: Rows
    plain: Prices
    weighted: Prices
    starts: Starts
    needs: Needs
    still: Floats
    most: float
    limit: int
    work: float = math.inf


def cheapest(
    lattice: Lattice, machines: Integers, asked: Asked, inlet: Inlet, wanted: int
) -> tuple[list[Traced], bool, int]:
    """Return the cheapest trees whose pressure suffices, whether all labels were looked at, and how many pairs were.

    Raises:
        OutOfTimeError: past the limit of time.
    """
    kept, whole = _labels(lattice, machines, asked)
    end, held = asked.plain.end, asked.needs
    found = []
    for diameter, row in enumerate(asked.rows.number[-1]):
        if row < 0:
            continue
        for heading in range(len(lattice.to)) if inlet.heading < 0 else (inlet.heading,):
            label = int(kept.head[row, heading, inlet.point])
            while label >= 0:
                needed = kept.need[label] + held.end[diameter]
                if (needed <= held.available).all():
                    found.append((float(kept.price[label] + end[diameter]), label))
                label = int(kept.following[label])
    found.sort()
    trees = [_traced(lattice, machines, asked, kept, price, label) for price, label in found[:wanted]]
    return trees, whole, int(kept.pairs[0])


def _labels(lattice: Lattice, machines: Integers, asked: Asked) -> tuple[growing.Labels, bool]:
    rows, members = asked.rows, subsets(len(machines))
    kept = growing.Labels(
        price=np.zeros(asked.limit),
        weighted=np.zeros(asked.limit),
        need=np.zeros((asked.limit, asked.needs.available.size)),
        row=np.zeros(asked.limit, np.int32),
        heading=np.zeros(asked.limit, np.int8),
        point=np.zeros(asked.limit, np.int32),
        before=np.full(asked.limit, -1, np.int32),
        branch=np.full(asked.limit, -1, np.int32),
        following=np.full(asked.limit, -1, np.int32),
        dead=np.zeros(asked.limit, np.bool_),
        head=np.full((rows.group.size, *lattice.to.shape), -1, np.int32),
        used=np.zeros(1, np.int64),
        pairs=np.array([0, min(asked.work, MOST_PAIRS)], np.int64),
    )
    spans = np.zeros((len(rows.number), 2), np.int64)
    for group in range(1, len(rows.number)):
        deadline.check()
        mine = rows.number[group][rows.number[group] >= 0]
        if mine.size == 0:
            continue
        begun = int(kept.used[0])
        arguments = (lattice.to, lattice.length, rows.diameter, asked.plain, asked.weighted, asked.needs, asked.still)
        if group & (group - 1) == 0:
            single = group.bit_length() - 1
            growing.start(mine, single, int(machines[single]), *arguments, *asked.starts, asked.most, kept)
        growing.join(
            group, mine, members[group], rows.number, machines, spans, *arguments, asked.most, kept
        )  # fmt: skip
        growing.on(begun, *arguments, asked.most, kept)
        if kept.used[0] >= asked.limit or kept.pairs[0] > kept.pairs[1]:
            return kept, False
        spans[group] = begun, kept.used[0]
    return kept, True


def _traced(
    lattice: Lattice, machines: Integers, asked: Asked, kept: growing.Labels, price: float, label: int
) -> Traced:
    root = _stretch(machines, asked, kept, label)
    return Traced(root, price, overlaps(root))


def _stretch(machines: Integers, asked: Asked, kept: growing.Labels, label: int) -> Stretch:
    """Go back from a label to where its run begins."""
    row = int(kept.row[label])
    group, diameter = int(asked.rows.group[row]), int(asked.rows.diameter[row])
    points = [int(kept.point[label])]
    while True:
        before, branch = int(kept.before[label]), int(kept.branch[label])
        if before < 0:
            points.append(int(machines[group.bit_length() - 1]))
            return Stretch(group, diameter, points[::-1])
        points.append(int(kept.point[before]))
        if branch == growing.NONE:
            label = before
            continue
        straight = _stretch(machines, asked, kept, before)
        if branch >= 0:
            return Stretch(group, diameter, points[::-1], straight, _stretch(machines, asked, kept, branch))
        entered = Stretch(group ^ straight.machines, growing.ENTERED - branch, [points[-1]])
        return Stretch(group, diameter, points[::-1], straight, entered)
