"""Eliminating a junction: from the straight lines of its arms, pressure against flow, to that of the run below."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import inlined, inner, whole
from airbough_service.core.laws.junction import straight_loss
from airbough_service.core.network.columns import (
    ENTRY,
    IS_BRANCH,
    MEET,
    MOMENTUM,
    SIDE_DRAG,
    SIDE_LINEAR,
    VP_END,
    VP_START,
)
from airbough_service.core.network.junction import branch_arm, entry_coefficient, pair_losses
from airbough_service.core.network.work import ALPHA, BETA, CONSTANT, FLOW, PROPORTION, ROW

LEAST_STIFFNESS = 0.1
"""Share of the arms' own slopes that a junction's slopes leave at least: with less the step would run away, since the
stream that is dragged along would then be told to grow without resistance."""


@inner
def join_pair(
    table: np.ndarray, links: np.ndarray, order: np.ndarray, i: int, first: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a flow-ratio junction of two arms; return alpha and beta of the pressure below it."""
    one, two = first, first + 1
    j1, j2, j11, j12, j21, j22 = pair_losses(
        table, links, order[ROW, i], order[ROW, one], order[ROW, two], work[one, FLOW], work[two, FLOW]
    )
    # A junction's loss goes with the square of the flows, so that value - slopes * flows = -value.
    c1, c2 = work[one, ALPHA] - j1, work[two, ALPHA] - j2
    m11, m22 = work[one, BETA] + j11, work[two, BETA] + j22
    stiffness, own = m11 - j21 - j12 + m22, work[one, BETA] + work[two, BETA]
    if stiffness < LEAST_STIFFNESS * own:
        stiffness = LEAST_STIFFNESS * own
    inverse = 1.0 / stiffness
    constant, proportion = (c2 - c1) * inverse, (m22 - j12) * inverse
    work[one, CONSTANT], work[one, PROPORTION] = constant, proportion
    work[two, CONSTANT], work[two, PROPORTION] = -constant, 1.0 - proportion
    return c1 + m11 * constant - j12 * constant, m11 * proportion + j12 * (1.0 - proportion)


@inner
def cross(a0: float, a1: float, a2: float, b0: float, b1: float, b2: float) -> tuple[float, float, float]:
    """Return the cross product of two vectors."""
    return a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0


@inlined
def branch_row(
    table: np.ndarray, arm: int, w: float, q: float, total: float, inverse: float,
    m0: float, m1: float, m2: float, momentum: float,
) -> tuple[float, float, float, float, float]:  # fmt: skip
    """Return the loss of one branch of three arms, its slope in its own flow alone, and those shared with each."""
    loss, own, by_total, by_momentum = branch_arm(table, arm, q, total, inverse, momentum)
    by_momentum *= 2.0
    return w * loss, w * own, w * (by_total + by_momentum * m0), w * (by_total + by_momentum * m1), w * (
        by_total + by_momentum * m2
    )  # fmt: skip


@inlined
def by_side(table: np.ndarray, arm: int, q: float, total: float) -> float:
    """Return the slope of the straight run's loss in a branch's flow, what it has from all branches alike left out."""
    return table[arm, SIDE_LINEAR] * total - 2.0 * table[arm, SIDE_DRAG] * q


@inlined
def straight_row(
    table: np.ndarray, w: float, q: float, total: float, r0: int, r1: int, r2: int, q0: float, q1: float, q2: float
) -> tuple[float, float, float, float, float]:
    """Return the loss of the straight run, q of these three flows, and its slopes, as `branch_row`."""
    linear = table[r0, SIDE_LINEAR] * q0 + table[r1, SIDE_LINEAR] * q1 + table[r2, SIDE_LINEAR] * q2
    drag = table[r0, SIDE_DRAG] * q0 * q0 + table[r1, SIDE_DRAG] * q1 * q1 + table[r2, SIDE_DRAG] * q2 * q2
    side = total - q
    by_all = linear - 2.0 * side
    return (
        w * straight_loss(side, total, linear, drag),
        w * 2.0 * side,
        w * (by_all + by_side(table, r0, q0, total)),
        w * (by_all + by_side(table, r1, q1, total)),
        w * (by_all + by_side(table, r2, q2, total)),
    )


@inner
def arm_row(
    table: np.ndarray, links: np.ndarray, arm: int, w: float, q: float, total: float, inverse: float,
    m0: float, m1: float, m2: float, momentum: float, r0: int, r1: int, r2: int, q0: float, q1: float, q2: float,
) -> tuple[float, float, float, float, float]:  # fmt: skip
    """Return what `branch_row` does, of any of three arms."""
    if links[arm, IS_BRANCH] == 0:
        return straight_row(table, w, q, total, r0, r1, r2, q0, q1, q2)
    return branch_row(table, arm, w, q, total, inverse, m0, m1, m2, momentum)


@inner
def join_three(
    table: np.ndarray, links: np.ndarray, order: np.ndarray, i: int, first: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a flow-ratio junction of three arms, by Cramer's rule; return alpha and beta of the pressure below."""
    k0, k1, k2 = first, first + 1, first + 2
    r0, r1, r2 = order[ROW, k0], order[ROW, k1], order[ROW, k2]
    q0, q1, q2 = work[k0, FLOW], work[k1, FLOW], work[k2, FLOW]
    m0, m1, m2 = table[r0, MOMENTUM] * q0, table[r1, MOMENTUM] * q1, table[r2, MOMENTUM] * q2
    w, total, momentum = table[order[ROW, i], VP_START], q0 + q1 + q2, m0 * q0 + m1 * q1 + m2 * q2
    inverse = 1.0 / total
    j0, own0, s00, s01, s02 = arm_row(
        table, links, r0, w, q0, total, inverse, m0, m1, m2, momentum, r0, r1, r2, q0, q1, q2
    )
    j1, own1, s10, s11, s12 = arm_row(
        table, links, r1, w, q1, total, inverse, m0, m1, m2, momentum, r0, r1, r2, q0, q1, q2
    )
    j2, own2, s20, s21, s22 = arm_row(
        table, links, r2, w, q2, total, inverse, m0, m1, m2, momentum, r0, r1, r2, q0, q1, q2
    )
    s00, s11, s22 = s00 + own0 + work[k0, BETA], s11 + own1 + work[k1, BETA], s22 + own2 + work[k2, BETA]
    c0, c1, c2 = work[k0, ALPHA] - j0, work[k1, ALPHA] - j1, work[k2, ALPHA] - j2  # as for two arms
    x0, x1, x2 = cross(s01, s11, s21, s02, s12, s22)
    y0, y1, y2 = cross(s02, s12, s22, s00, s10, s20)
    z0, z1, z2 = cross(s00, s10, s20, s01, s11, s21)
    determinant = s00 * x0 + s10 * x1 + s20 * x2
    one0, one1, one2 = x0 + x1 + x2, y0 + y1 + y2, z0 + z1 + z2
    con0, con1, con2 = c0 * x0 + c1 * x1 + c2 * x2, c0 * y0 + c1 * y1 + c2 * y2, c0 * z0 + c1 * z1 + c2 * z2
    inverse = 1.0 / (one0 + one1 + one2)
    alpha = (con0 + con1 + con2) * inverse
    work[k0, PROPORTION], work[k0, CONSTANT] = one0 * inverse, (one0 * alpha - con0) / determinant
    work[k1, PROPORTION], work[k1, CONSTANT] = one1 * inverse, (one1 * alpha - con1) / determinant
    work[k2, PROPORTION], work[k2, CONSTANT] = one2 * inverse, (one2 * alpha - con2) / determinant
    return alpha, determinant * inverse


@inner
def join_entry(
    table: np.ndarray, order: np.ndarray, i: int, first: int, count: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate an entry-angle junction; return alpha and beta of the pressure below it."""
    weight, constants, total, weighted = 0.0, 0.0, 0.0, 0.0
    for k in range(first, first + count):
        arm, q = order[ROW, k], work[k, FLOW]
        total += q
        weighted += table[arm, VP_END] * q * q * q
        own = entry_coefficient(table, whole(arm))
        beta = work[k, BETA] + 2.0 * own * q
        alpha = work[k, ALPHA] - own * q * q
        work[k, ALPHA], work[k, BETA] = alpha, beta
        weight += 1.0 / beta
        constants += alpha / beta
    start = table[order[ROW, i], VP_START]
    into, resultant = start * total * total, weighted / total
    alpha_out, beta_out = constants / weight, 1.0 / weight
    if into < resultant:
        alpha_out += into  # it is quadratic: value - slope * total = -into
        beta_out -= 2.0 * start * total
    for k in range(first, first + count):
        beta = work[k, BETA]
        work[k, PROPORTION] = 1.0 / (weight * beta)
        work[k, CONSTANT] = (constants / weight - work[k, ALPHA]) / beta
        if into >= resultant:
            q = work[k, FLOW]
            slope = (3.0 * table[order[ROW, k], VP_END] * q * q - resultant) / total
            alpha_out -= slope * (work[k, CONSTANT] - q)
            beta_out -= slope * work[k, PROPORTION]
    if into >= resultant:
        alpha_out -= resultant
    return alpha_out, beta_out


@inner
def join_meet(first: int, count: int, work: np.ndarray) -> tuple[float, float]:
    """Eliminate a junction where total pressures meet; return alpha and beta below it."""
    weight, constants = 0.0, 0.0
    for k in range(first, first + count):
        inverse = 1.0 / work[k, BETA]
        work[k, PROPORTION] = inverse
        weight += inverse
        constants += work[k, ALPHA] * inverse
    beta = 1.0 / weight
    alpha = constants * beta
    for k in range(first, first + count):
        inverse = work[k, PROPORTION]
        work[k, PROPORTION] = inverse * beta
        work[k, CONSTANT] = (alpha - work[k, ALPHA]) * inverse
    return alpha, beta


@inner
def join(
    table: np.ndarray, links: np.ndarray, law: int, order: np.ndarray, i: int, first: int, count: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a junction of two arms or more; return alpha and beta of the pressure below it."""
    if law == MEET:
        return join_meet(first, count, work)
    if law == ENTRY:
        return join_entry(table, order, i, first, count, work)
    if count == 2:
        return join_pair(table, links, order, i, first, work)
    return join_three(table, links, order, i, first, work)
