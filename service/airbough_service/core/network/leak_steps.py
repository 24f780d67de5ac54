"""Leaks of a balance, brought nearer to what the suction at each lets in.

Leaks that share an idle run hang together: what one lets in takes suction from all others. So they are moved by one
step of Newton's method together. What idle runs lose goes as the square of their flow, so a row's slope is twice its
loss over its flow; the linear network of those slopes and the leaks' own is solved as trees are, once up and once
down. The suction where the idle part meets the rest of the tree stands still in a step, and what a junction's law has
beside squares is left out; where that matters steps overshoot or come on slowly, and late ones are mixed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.network.columns import EXPONENT_A, PARENT, POWER_A
from airbough_service.core.network.tree import Tree

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

LEAST_LEFT = 0.1  # of a leak after a step
TRIES = 6  # looked back on


def leak_flows(tree: Tree, rows: Integers, suction: Floats) -> Floats:
    """Return what leaks in at each of these rows, C p^n, m3/s; nothing where the pressure is above the room's."""
    deep = np.maximum(suction, 0.0)
    return np.asarray((deep / tree.table[rows, POWER_A]) ** (1.0 / tree.table[rows, EXPONENT_A]))


def nearer(tree: Tree, rows: Integers, flow: Floats, suction: Floats, lost: Floats, idle: NDArray[np.bool_]) -> Floats:
    """Return leaks nearer to what the suction lets in, m3/s.

    Args:
        tree: the packed tree.
        rows: of the leaks.
        flow: shape (n,), of every row so far, m3/s.
        suction: shape (n,), at every row's end, Pa; below 0 where idle runs lose more than there is.
        lost: shape (n,), by every idle row and its junction, Pa; of a leak by its junction alone.
        idle: shape (n,), rows that no open hood feeds and no shut gate cuts off.

    Returns:
        Shape of `rows`; a leak that let nothing in so far takes what it would alone.
    """
    before, most = flow[rows], leak_flows(tree, rows, suction[rows])
    moved = before + _moves(tree, rows, flow, suction, lost, idle)
    # A long step is no multiple of a flow next to none, and no leak is shut in one.
    far = np.sqrt(before * np.maximum(most, before))
    moved = np.where(moved > 2.0 * before, far, np.maximum(moved, LEAST_LEFT * before))
    return np.where(before > 0.0, moved, most)


def mixed(tries: list[tuple[Floats, Floats]]) -> Floats:
    """Return the leaks that go on from the last tries, mixed so that the steps cancel (Anderson's acceleration).

    Args:
        tries: leaks and those that were nearer, the last ones last; no more than `TRIES` are looked at.
    """
    before, after = (np.array(side) for side in zip(*tries[-TRIES:], strict=True))
    if len(before) < 2:
        return np.asarray(after[-1])
    steps = after - before
    by = np.linalg.lstsq(np.diff(steps, axis=0).T, steps[-1], rcond=None)[0]
    out = after[-1] - by @ np.diff(after, axis=0)
    return np.where((out > 0.0) & (after[-1] > 0.0), out, after[-1])


def _moves(tree: Tree, rows: Integers, flow: Floats, suction: Floats, lost: Floats, idle: NDArray[np.bool_]) -> Floats:
    """Return Newton's step of every leak, m3/s.

    A row brings `moved + eased * (change of suction where it ends)` more; summed up at each end, then followed down.
    """
    parent, number = tree.links[:, PARENT].tolist(), flow.size
    slope = np.divide(2.0 * np.maximum(lost, 0.0), flow, out=np.zeros(number), where=flow > 0.0).tolist()
    moved, eased = np.zeros(number), np.zeros(number)
    exponent = tree.table[rows, EXPONENT_A]
    needed = tree.table[rows, POWER_A] * flow[rows] ** exponent
    eased[rows] = np.divide(flow[rows], needed * exponent, out=np.zeros(rows.size), where=needed > 0.0)
    moved[rows] = (suction[rows] - needed) * eased[rows]
    brought, easing = moved.tolist(), eased.tolist()
    moving = [row for row in range(1, number) if idle[row]]
    for row in reversed(moving):
        share = 1.0 / (1.0 + easing[row] * slope[row])
        brought[row] *= share
        easing[row] *= share
        brought[parent[row]] += brought[row]
        easing[parent[row]] += easing[row]
    change = [0.0] * number  # of the suction at a row's upstream end, Pa
    for row in moving:
        end = change[parent[row]] if idle[parent[row]] else 0.0
        brought[row] += easing[row] * end
        change[row] = end - slope[row] * brought[row]
    return np.array(brought)[rows]
