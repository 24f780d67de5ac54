"""The flow-ratio law of converging junctions: loss of one arriving run and how it leans on the flows, compiled.

Total pressures at one section, momentum balance along the common run. A loss here is on the velocity pressure that a
flow of 1 has in the common run; `momentum` is the sum over the arms of constant * area ratio * cosine * flow^2.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from airbough_service.core.compiled import compiled, inlined


class FlowRatioConstants(NamedTuple):
    """The constants of the flow-ratio law; the catalogue prints them.

    Attributes:
        momentum: of the momentum along the common run.
        tee_linear: of the square tee's straight run: linear q + quadratic q^2, q the side's share of the flow.
        tee_quadratic: of the same.
        join: flow ratios over which a step of a branch factor is joined, either side.
    """

    momentum: float
    tee_linear: float
    tee_quadratic: float
    join: float


NO_CONSTANTS = FlowRatioConstants(math.nan, math.nan, math.nan, math.nan)
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
    area_ratio: float, factor: float, gradient: float, flow: float, total: float, inverse: float, momentum: float
) -> tuple[float, float, float, float]:
    """Loss of a branch, A (Q^2 + (x q)^2 - M), and its slopes in q, in Q and in M.

    Args:
        area_ratio: x, area of the common run over the branch's.
        factor: A, of the flow ratio q/Q.
        gradient: of A in the flow ratio.
        flow: q [m3/s].
        total: Q, of the common run [m3/s].
        inverse: 1/Q; a division costs as much as all the rest.
        momentum: M, of all arms.

    References:
        Idelchik, Handbook of Hydraulic Resistance, 3rd ed., chapter 7, as carried by open texts (see the catalogue).
    """
    own = area_ratio * area_ratio * flow
    base = total * total + own * flow - momentum
    turn = gradient * base * inverse
    return factor * base, factor * 2.0 * own + turn, factor * 2.0 * total - turn * flow * inverse, -factor


@inlined
def straight_loss(
    area_ratio: float, tee: float, linear: float, quadratic: float, flow: float, total: float, momentum: float
) -> tuple[float, float, float, float]:
    """Loss of a straight run and its slopes, as `branch_loss`, without a factor; a square tee has a law of its own.

    Args:
        area_ratio: x, area of the common run over the straight's.
        tee: share of the tee's law, linear s Q + quadratic s^2 with the side flow s = Q - q; 0 for a wye.
        linear: of the tee's law.
        quadratic: of the tee's law.
        flow: q [m3/s].
        total: Q [m3/s].
        momentum: M, of all arms.
    """
    own = area_ratio * area_ratio * flow
    base = total * total + own * flow - momentum
    if tee == 0.0:
        return base, 2.0 * own, 2.0 * total, -1.0
    side, rest = total - flow, 1.0 - tee
    bend = tee * (linear * total + 2.0 * quadratic * side)
    return (
        rest * base + tee * side * (linear * total + quadratic * side),
        rest * 2.0 * own - bend,
        rest * 2.0 * total + bend + tee * linear * side,
        -rest,
    )
