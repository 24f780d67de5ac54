"""The losses of a junction's arms by its law, for rows of the packed tree; compiled, for all that ask."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled, inlined, inner
from airbough_service.core.laws.junction import branch_factor, branch_loss, straight_loss
from airbough_service.core.network.columns import (
    AREA_RATIO,
    CHILDREN,
    ENTRY,
    ENTRY_FACTOR,
    FACTOR_HIGH,
    FACTOR_JOIN,
    FACTOR_LOW,
    FACTOR_SLOPE,
    FACTOR_STEP,
    FIRST_CHILD,
    IS_BRANCH,
    LAW,
    LIFT,
    MEET,
    MOMENTUM,
    SIDE_DRAG,
    SIDE_LINEAR,
    VP_END,
    VP_START,
)


@inlined
def branch_arm(
    table: np.ndarray, arm: int, flow: float, total: float, inverse: float, momentum: float
) -> tuple[float, float, float, float]:
    """Return a branch's loss on a velocity pressure of 1, and its slopes in flow, total and momentum."""
    factor, gradient = branch_factor(
        table[arm, FACTOR_LOW], table[arm, FACTOR_SLOPE], table[arm, FACTOR_HIGH], table[arm, FACTOR_STEP],
        table[arm, FACTOR_JOIN], flow * inverse,
    )  # fmt: skip
    return branch_loss(
        table[arm, AREA_RATIO], table[arm, LIFT], factor, gradient, flow, total, inverse, momentum
    )  # fmt: skip


@inner
def entry_coefficient(table: np.ndarray, arm: int) -> float:
    """Return what an arm pays under the entry-angle law before the recovery, Pa per (m3/s)^2."""
    return (1.0 + table[arm, ENTRY_FACTOR]) * table[arm, VP_END]


@inner
def lone_arm(table: np.ndarray, links: np.ndarray, law: int, arm: int, parent: int) -> float:
    """Return the quadratic coefficient of a junction through which only one arm flows."""
    if law == MEET:
        return 0.0
    own, into = table[arm, VP_END], table[parent, VP_START]
    if law == ENTRY:
        return entry_coefficient(table, arm) - min(own, into)
    if links[arm, IS_BRANCH] == 0:
        return 0.0
    return into * branch_arm(table, arm, 1.0, 1.0, 1.0, table[arm, MOMENTUM])[0]


@inlined
def beside_one(table: np.ndarray, branch: int, flow: float, total: float) -> tuple[float, float, float]:
    """Return the straight run's loss beside one branch, and its slopes in its own flow and in the branch's."""
    linear, both = table[branch, SIDE_LINEAR], 1.0 + table[branch, SIDE_DRAG]
    return (
        flow * (linear * total - both * flow),
        linear * flow,
        linear * (total + flow) - 2.0 * both * flow,
    )


@inner
def pair_losses(
    table: np.ndarray, links: np.ndarray, parent: int, one: int, two: int, q1: float, q2: float
) -> tuple[float, float, float, float, float, float]:
    """Return both flow-ratio losses of a junction of two arms, Pa, and their four slopes."""
    w, total = table[parent, VP_START], q1 + q2
    inverse = 1.0 / total
    m1, m2 = table[one, MOMENTUM] * q1, table[two, MOMENTUM] * q2
    momentum = m1 * q1 + m2 * q2
    if links[one, IS_BRANCH] == 0:
        l1, j11, j12 = beside_one(table, two, q2, total)
    else:
        l1, own, by_total, by_momentum = branch_arm(table, one, q1, total, inverse, momentum)
        j11, j12 = own + by_total + 2.0 * by_momentum * m1, by_total + 2.0 * by_momentum * m2
    if links[two, IS_BRANCH] == 0:
        l2, j22, j21 = beside_one(table, one, q1, total)
    else:
        l2, own, by_total, by_momentum = branch_arm(table, two, q2, total, inverse, momentum)
        j21, j22 = by_total + 2.0 * by_momentum * m1, own + by_total + 2.0 * by_momentum * m2
    return w * l1, w * l2, w * j11, w * j12, w * j21, w * j22


@compiled
def junction_at(table: np.ndarray, links: np.ndarray, flow: np.ndarray, run: int, loss: np.ndarray) -> None:
    """Fill loss[arm] of every run that flows into `run` by its junction's law, Pa, idle arms too."""
    count, law, total = links[run, CHILDREN], links[run, LAW], flow[run]
    if count < 2 or law == MEET or total <= 0.0:
        return
    first = links[run, FIRST_CHILD]
    w = table[run, VP_START]
    if law == ENTRY:
        weighted, arriving = 0.0, 0.0
        for arm in range(first, first + count):
            arriving += flow[arm]
            weighted += table[arm, VP_END] * flow[arm] * flow[arm] * flow[arm]
        recovery = min(w * arriving * arriving, weighted / arriving)
        for arm in range(first, first + count):
            loss[arm] = entry_coefficient(table, arm) * flow[arm] * flow[arm] - recovery
        return
    inverse, momentum, linear, drag = 1.0 / total, 0.0, 0.0, 0.0
    for arm in range(first, first + count):
        momentum += table[arm, MOMENTUM] * flow[arm] * flow[arm]
        linear += table[arm, SIDE_LINEAR] * flow[arm]
        drag += table[arm, SIDE_DRAG] * flow[arm] * flow[arm]
    for arm in range(first, first + count):
        if links[arm, IS_BRANCH] == 0:
            loss[arm] = w * straight_loss(total - flow[arm], total, linear, drag)
        else:
            loss[arm] = w * branch_arm(table, arm, flow[arm], total, inverse, momentum)[0]


@compiled
def junction_losses(table: np.ndarray, links: np.ndarray, flow: np.ndarray) -> np.ndarray:
    """Return every run's junction loss by its law, Pa; changes of size are not in it."""
    loss = np.zeros(table.shape[0])
    for run in range(table.shape[0]):
        junction_at(table, links, flow, run, loss)
    return loss
