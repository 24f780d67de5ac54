"""Eliminating a junction: from the straight lines of its arms, pressure against flow, to that of the run below."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled
from airbough_service.core.network.columns import (
    ENTRY,
    ENTRY_FACTOR,
    MEET,
    VP_END,
    VP_START,
)
from airbough_service.core.network.kernel import arm_pressures, pair_pressures
from airbough_service.core.network.work import (
    ALPHA,
    BETA,
    CONSTANT,
    FLOW,
    PROPORTION,
)


@compiled
def join_pair(
    table: np.ndarray, links: np.ndarray, law: int, order: np.ndarray, i: int, first: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a flow-ratio junction of two arms; return alpha and beta of the pressure below it."""
    one, two = first, first + 1
    q1, q2 = work[one, FLOW], work[two, FLOW]
    j1, j2, j11, j12, j21, j22 = pair_pressures(table, links, law, order[i], order[one], order[two], q1, q2)
    c1 = work[one, ALPHA] + j1 - j11 * q1 - j12 * q2
    c2 = work[two, ALPHA] + j2 - j21 * q1 - j22 * q2
    m11, m22 = work[one, BETA] + j11, work[two, BETA] + j22
    own = work[one, BETA] + work[two, BETA]
    stiffness = m11 - j21 - j12 + m22
    if stiffness < 0.1 * own:  # a junction that would run away: step less
        stiffness = 0.1 * own
    inverse = 1.0 / stiffness
    constant, proportion = (c2 - c1) * inverse, (m22 - j12) * inverse
    work[one, CONSTANT], work[one, PROPORTION] = constant, proportion
    work[two, CONSTANT], work[two, PROPORTION] = -constant, 1.0 - proportion
    return c1 + m11 * constant - j12 * constant, m11 * proportion + j12 * (1.0 - proportion)


@compiled
def join_many(
    table: np.ndarray, links: np.ndarray, law: int, order: np.ndarray, i: int, first: int, count: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a flow-ratio junction of three arms; return alpha and beta of the pressure below it."""
    flows = np.empty(count)
    total = 0.0
    for k in range(count):
        flows[k] = work[first + k, FLOW]
        total += flows[k]
    loss, slopes = arm_pressures(table, links, law, order[i], order[first : first + count], flows, total)
    matrix = np.empty((count, count))
    right = np.empty((count, 2))
    for k in range(count):
        right[k, 0], right[k, 1] = 1.0, work[first + k, ALPHA] + loss[k]
        for m in range(count):
            matrix[k, m] = slopes[k, m]
            right[k, 1] -= slopes[k, m] * flows[m]
        matrix[k, k] += work[first + k, BETA]
    eliminate(matrix, right)
    ones, constants = 0.0, 0.0
    for k in range(count):
        ones += right[k, 0]
        constants += right[k, 1]
    for k in range(count):
        work[first + k, PROPORTION] = right[k, 0] / ones
        work[first + k, CONSTANT] = right[k, 0] * constants / ones - right[k, 1]
    return constants / ones, 1.0 / ones


@compiled
def pivot(matrix: np.ndarray, right: np.ndarray, k: int) -> None:
    """Bring the row of the greatest entry below the diagonal of column k to it."""
    best = k
    for i in range(k + 1, matrix.shape[0]):
        if abs(matrix[i, k]) > abs(matrix[best, k]):
            best = i
    if best != k:
        for j in range(matrix.shape[1]):
            matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
        for j in range(right.shape[1]):
            right[k, j], right[best, j] = right[best, j], right[k, j]


@compiled
def eliminate(matrix: np.ndarray, right: np.ndarray) -> None:
    """Solve matrix * x = right in place by Gauss with partial pivoting; x is left in `right`."""
    n = matrix.shape[0]
    for k in range(n):
        pivot(matrix, right, k)
        for i in range(k + 1, n):
            share = matrix[i, k] / matrix[k, k]
            for j in range(k, n):
                matrix[i, j] -= share * matrix[k, j]
            for j in range(right.shape[1]):
                right[i, j] -= share * right[k, j]
    for k in range(n - 1, -1, -1):
        for j in range(right.shape[1]):
            value = right[k, j]
            for i in range(k + 1, n):
                value -= matrix[k, i] * right[i, j]
            right[k, j] = value / matrix[k, k]


@compiled
def join_entry(
    table: np.ndarray, order: np.ndarray, i: int, first: int, count: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate an entry-angle junction; return alpha and beta of the pressure below it."""
    weight, constants, total, weighted = 0.0, 0.0, 0.0, 0.0
    for k in range(first, first + count):
        arm, q = order[k], work[k, FLOW]
        total += q
        weighted += table[arm, VP_END] * q * q * q
        own = (1.0 + table[arm, ENTRY_FACTOR]) * table[arm, VP_END]
        beta = work[k, BETA] + 2.0 * own * q
        alpha = work[k, ALPHA] - own * q * q
        work[k, ALPHA], work[k, BETA] = alpha, beta
        weight += 1.0 / beta
        constants += alpha / beta
    into, resultant = table[order[i], VP_START] * total * total, weighted / total
    alpha_out, beta_out = constants / weight, 1.0 / weight
    if into < resultant:
        alpha_out += into  # it is quadratic: value - slope * total = -into
        beta_out -= 2.0 * table[order[i], VP_START] * total
    for k in range(first, first + count):
        beta = work[k, BETA]
        work[k, PROPORTION] = 1.0 / (weight * beta)
        work[k, CONSTANT] = (constants / weight - work[k, ALPHA]) / beta
        if into >= resultant:
            q = work[k, FLOW]
            slope = (3.0 * table[order[k], VP_END] * q * q - resultant) / total
            alpha_out -= slope * (work[k, CONSTANT] - q)
            beta_out -= slope * work[k, PROPORTION]
    if into >= resultant:
        alpha_out -= resultant
    return alpha_out, beta_out


@compiled
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


@compiled
def join(
    table: np.ndarray, links: np.ndarray, law: int, order: np.ndarray, i: int, first: int, count: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a junction of two arms or more; return alpha and beta of the pressure below it."""
    if law == MEET:
        return join_meet(first, count, work)
    if law == ENTRY:
        return join_entry(table, order, i, first, count, work)
    if count == 2:
        return join_pair(table, links, law, order, i, first, work)
    return join_many(table, links, law, order, i, first, count, work)
