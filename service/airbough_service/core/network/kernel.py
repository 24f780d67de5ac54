"""The compiled scalar loop that solves one state of one tree; batches and gate states loop over it.

Method: each run's loss is linearised in its flow and eliminated from the hoods to the fan, so that the whole tree
is one straight line, pressure = alpha + beta * flow, at the fan. Its crossing with the fan's tangent gives the
flow; going back up gives every run's. That is Newton's method on all flows at once, in O(runs) a step. The unknown
1/sqrt(f) of Colebrook's equation takes one Newton step of its own in each.

Only runs with an open hood upstream take part: a state is first compacted. A junction with one open arm is a
plain quadratic loss of that arm.
"""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled
from airbough_service.core.laws.junction import branch_factor
from airbough_service.core.network.columns import (
    AREA_RATIO,
    COSINE,
    ENTRY,
    ENTRY_FACTOR,
    FACTOR_HIGH,
    FACTOR_LOW,
    FACTOR_SLOPE,
    FACTOR_STEP,
    IS_BRANCH,
    MEET,
    TEE,
    VP_END,
    VP_START,
)

OK = 0
NO_FLOW = 1
BEYOND_HIGH = 2
BEYOND_LOW = 3
NOT_CONVERGED = 4


@compiled
def lone_arm(table: np.ndarray, links: np.ndarray, law: int, arm: int, parent: int) -> float:
    """Return the quadratic coefficient of a junction through which only one arm flows."""
    if law == MEET:
        return 0.0
    own, into = table[arm, VP_END], table[parent, VP_START]
    if law == ENTRY:
        return (1.0 + table[arm, ENTRY_FACTOR]) * own - min(own, into)
    if links[arm, IS_BRANCH] == 0:
        return 0.0
    x = table[arm, AREA_RATIO]
    factor = branch_factor(
        table[arm, FACTOR_LOW], table[arm, FACTOR_SLOPE], table[arm, FACTOR_HIGH], table[arm, FACTOR_STEP], 1.0
    )[0]
    return factor * into * (1.0 + x * x - 2.0 * x * table[arm, COSINE])


@compiled
def arm_pressures(
    table: np.ndarray, links: np.ndarray, law: int, parent: int, arms: np.ndarray, flows: np.ndarray, total: float
) -> tuple[np.ndarray, np.ndarray]:
    """Return the arms' join losses in Pa, shape (arms,), and their slopes in the arms' flows, shape (arms, arms).

    Momentum balance along `into` with equal static pressure at the section (Idelchik, diagrams 7-1 and following);
    the branch factor and the square tee's straight law are data.
    """
    count = arms.shape[0]
    loss = np.empty(count)
    slopes = np.empty((count, count))
    w = table[parent, VP_START]
    momentum = 0.0
    for m in range(count):
        momentum += table[arms[m], AREA_RATIO] * table[arms[m], COSINE] * flows[m] * flows[m]
    for k in range(count):
        run = arms[k]
        x = table[run, AREA_RATIO]
        base = w * (total * total + x * x * flows[k] * flows[k] - 2.0 * momentum)
        ratio = flows[k] / total
        factor, gradient = 1.0, 0.0
        if links[run, IS_BRANCH] == 1:
            factor, gradient = branch_factor(
                table[run, FACTOR_LOW],
                table[run, FACTOR_SLOPE],
                table[run, FACTOR_HIGH],
                table[run, FACTOR_STEP],
                ratio,
            )
        loss[k] = factor * base
        for m in range(count):
            slope = w * (2.0 * total - 4.0 * table[arms[m], AREA_RATIO] * table[arms[m], COSINE] * flows[m])
            share = -ratio / total
            if m == k:
                slope += w * 2.0 * x * x * flows[k]
                share += 1.0 / total
            slopes[k, m] = factor * slope + gradient * share * base
        if law == TEE and links[run, IS_BRANCH] == 0:
            side, share = total - flows[k], table[run, FACTOR_LOW]
            loss[k] = (1.0 - share) * loss[k] + share * w * (1.55 * side * total - side * side)
            for m in range(count):
                slope = w * 1.55 * side
                if m != k:
                    slope += w * (1.55 * total - 2.0 * side)
                slopes[k, m] = (1.0 - share) * slopes[k, m] + share * slope
    return loss, slopes


@compiled
def pair_pressures(
    table: np.ndarray, links: np.ndarray, law: int, parent: int, one: int, two: int, q1: float, q2: float
) -> tuple[float, float, float, float, float, float]:
    """Return both join losses of a junction of two arms and their four slopes; `arm_pressures` without arrays."""
    w = table[parent, VP_START]
    total = q1 + q2
    inverse = 1.0 / total
    x1, x2 = table[one, AREA_RATIO], table[two, AREA_RATIO]
    m1, m2 = 2.0 * x1 * table[one, COSINE], 2.0 * x2 * table[two, COSINE]
    shared = total * total - m1 * q1 * q1 - m2 * q2 * q2
    d1, d2 = 2.0 * (total - m1 * q1), 2.0 * (total - m2 * q2)
    j1, j2 = w * (shared + x1 * x1 * q1 * q1), w * (shared + x2 * x2 * q2 * q2)
    j11, j12 = w * (d1 + 2.0 * x1 * x1 * q1), w * d2
    j21, j22 = w * d1, w * (d2 + 2.0 * x2 * x2 * q2)
    if links[one, IS_BRANCH] == 1:
        factor, gradient = branch_factor(
            table[one, FACTOR_LOW], table[one, FACTOR_SLOPE], table[one, FACTOR_HIGH], table[one, FACTOR_STEP],
            q1 * inverse,
        )  # fmt: skip
        turn = gradient * j1 * inverse * inverse
        j11, j12, j1 = factor * j11 + turn * q2, factor * j12 - turn * q1, factor * j1
    elif law == TEE:
        share, rest = w * table[one, FACTOR_LOW], 1.0 - table[one, FACTOR_LOW]
        j1 = rest * j1 + share * (1.55 * q2 * total - q2 * q2)
        j11, j12 = rest * j11 + share * 1.55 * q2, rest * j12 + share * (1.55 * (total + q2) - 2.0 * q2)
    if links[two, IS_BRANCH] == 1:
        factor, gradient = branch_factor(
            table[two, FACTOR_LOW], table[two, FACTOR_SLOPE], table[two, FACTOR_HIGH], table[two, FACTOR_STEP],
            q2 * inverse,
        )  # fmt: skip
        turn = gradient * j2 * inverse * inverse
        j21, j22, j2 = factor * j21 - turn * q2, factor * j22 + turn * q1, factor * j2
    elif law == TEE:
        share, rest = w * table[two, FACTOR_LOW], 1.0 - table[two, FACTOR_LOW]
        j2 = rest * j2 + share * (1.55 * q1 * total - q1 * q1)
        j22, j21 = rest * j22 + share * 1.55 * q1, rest * j21 + share * (1.55 * (total + q1) - 2.0 * q1)
    return j1, j2, j11, j12, j21, j22


@compiled
def entry_recovery(table: np.ndarray, parent: int, arms: np.ndarray, flow: np.ndarray) -> tuple[float, float, bool]:
    """Return min(VP of `into`, resultant VP), the resultant VP itself, and whether `into` is the lesser."""
    total, weighted = 0.0, 0.0
    for m in range(arms.shape[0]):
        q = flow[arms[m]]
        total += q
        weighted += table[arms[m], VP_END] * q * q * q
    into = table[parent, VP_START] * total * total
    resultant = weighted / total
    return min(into, resultant), resultant, into < resultant
