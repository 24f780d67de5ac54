"""The flow-ratio laws of converging junctions: loss of one arriving run and how it leans on the flows, compiled.

Total pressures at one section, momentum balance along the common run. A loss here is on the velocity pressure that a
flow of 1 has in the common run; `momentum` is the sum over the arms of constant * area ratio * cosine * flow^2. All
editions have this form and differ in its numbers; an arm without flow has no part in the others' losses.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from airbough_service.core.compiled import compiled, inlined


class FlowRatioConstants(NamedTuple):
    """The constants of the flow-ratio law; the catalogue prints them.

    Attributes:
        momentum: of the momentum along the common run.
        join: flow ratios over which a step of a branch factor is joined, either side.
    """

    momentum: float
    join: float


NO_CONSTANTS = FlowRatioConstants(math.nan, math.nan)
"""Of an arm that no flow-ratio law is asked of."""


@compiled
def branch_factor(low: float, slope: float, high: float, step: float, join: float, ratio: float) -> tuple[float, float]:
    """Return the branch factor and its derivative in the flow ratio; the published step is joined by a line."""
    if ratio <= step - join:
        return low + slope * ratio, slope
    if ratio >= step + join:
        return high, 0.0
    left = low + slope * (step - join)
    gradient = (high - left) / (2.0 * join)
    return left + gradient * (ratio - step + join), gradient


@inlined
def branch_loss(
    area_ratio: float, lift: float, factor: float, gradient: float, flow: float, total: float, inverse: float,
    momentum: float,
) -> tuple[float, float, float, float]:  # fmt: skip
    """Loss of a branch, A (l Q^2 + Q^2 + (x q)^2 - M) - l Q^2, and its slopes in q, in Q and in M.

    Args:
        area_ratio: x, area of the common run over the branch's.
        lift: l, 0 where the factor is on the momentum form itself, 1 where it is on 1 + that form.
        factor: A, of the flow ratio q/Q.
        gradient: of A in the flow ratio.
        flow: q [m3/s].
        total: Q, of the common run [m3/s].
        inverse: 1/Q; a division costs as much as all the rest.
        momentum: M, of all arms.

    References:
        Idelchik, Handbook of Hydraulic Resistance, 3rd ed., chapter 7, as carried by open texts; measured by Bassett,
        Winterbone and Pearson 2001 and by Wang et al. 2015 (see the catalogue).
    """
    own, lifted = area_ratio * area_ratio * flow, lift * total
    base = (lifted + total) * total + own * flow - momentum
    turn = gradient * base * inverse
    return (
        factor * base - lifted * total,
        factor * 2.0 * own + turn,
        2.0 * (factor * (lifted + total) - lifted) - turn * flow * inverse,
        -factor,
    )


@inlined
def straight_loss(side: float, total: float, linear: float, drag: float) -> float:
    """Loss of a straight run, Q L - s^2 - D; with one branch of flow ratio r: a r - r^2 - d (r^2/n) cos.

    Args:
        side: s, flow of all branches [m3/s].
        total: Q [m3/s].
        linear: L, the sum over the branches of a * flow.
        drag: D, the sum over the branches of a share of their momentum.
    """
    return total * linear - side * side - drag
