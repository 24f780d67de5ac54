"""Laws of converging junctions in plain Python: what the compiled solver does, written to be read and tested.

Flow-ratio law: total pressures at one section, momentum balance along the common run. Entry-angle law: the
velocity-pressure method, static pressures meet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from airbough_service.core.compiled import compiled

JOIN_HALF_WIDTH = 0.02  # a step of a published branch factor is joined over this much either side


@compiled
def branch_factor(low: float, slope: float, high: float, step: float, ratio: float) -> tuple[float, float]:
    """Return the branch factor and its derivative in the flow ratio; the published step is joined by a line."""
    if ratio <= step - JOIN_HALF_WIDTH:
        return low + slope * ratio, slope
    if ratio >= step + JOIN_HALF_WIDTH:
        return high, 0.0
    left = low + slope * (step - JOIN_HALF_WIDTH)
    gradient = (high - left) / (2.0 * JOIN_HALF_WIDTH)
    return left + gradient * (ratio - step + JOIN_HALF_WIDTH), gradient


@dataclass(frozen=True, slots=True)
class BranchFactor:
    """Factor A on a branch's coefficient by its flow ratio: a line below the step, a constant above it.

    Attributes:
        low: factor at flow ratio 0.
        slope: of the line below the step.
        high: factor above the step.
        step: flow ratio of the step; the pieces are joined by a line over 0.02 either side.
    """

    low: float
    slope: float
    high: float
    step: float

    def at(self, ratio: float) -> float:
        """Return the factor at this flow ratio."""
        return float(branch_factor(self.low, self.slope, self.high, self.step, ratio)[0])


@dataclass(frozen=True, slots=True)
class Arm:
    """A run that arrives at a junction.

    Attributes:
        flow: [m3/s].
        speed_ratio: area of the common run over the arm's own.
        cosine: of the angle between the arm and the common run; 1 for a straight run.
        factor: of a branch; None for a straight run.
    """

    flow: float
    speed_ratio: float
    cosine: float
    factor: BranchFactor | None = None


def flow_ratio_coefficients(arms: Sequence[Arm], tee: float = 0.0) -> tuple[float, ...]:
    """Coefficients of the arriving runs on the common run's velocity pressure.

    zeta_i = A_i (1 + (v_i/v_c)^2 - 2 sum_k (q_k/q_c)(v_k/v_c) cos a_k); a straight run has A = 1. The straight run
    of a square tee has a law of its own, 1.55 q - q^2, with q the branch's share of the flow.

    Args:
        arms: the arriving runs, total flow above 0.
        tee: share of the square tee's own law in the straight run's coefficient, 1 at 90 degrees.

    Returns:
        One coefficient for each arm, in the order given.

    References:
        Idelchik, Handbook of Hydraulic Resistance, 3rd ed., chapter 7, as carried by open texts (see the catalogue).
    """
    total = sum(arm.flow for arm in arms)
    shares = [arm.flow / total for arm in arms]
    momentum = sum(share**2 * arm.speed_ratio * arm.cosine for arm, share in zip(arms, shares, strict=True))
    answer = []
    for arm, share in zip(arms, shares, strict=True):
        base = 1.0 + (arm.speed_ratio * share) ** 2 - 2.0 * momentum
        if arm.factor is None:
            side = 1.0 - share
            answer.append((1.0 - tee) * base + tee * (1.55 * side - side * side))
        else:
            answer.append(arm.factor.at(share) * base)
    return tuple(answer)


def resultant_velocity_pressure(flows: Sequence[float], pressures: Sequence[float]) -> float:
    """Flow-weighted velocity pressure of merging streams: sum q_i VP_i / sum q_i [Pa]."""
    return sum(q * vp for q, vp in zip(flows, pressures, strict=True)) / sum(flows)


def entry_angle_losses(
    flows: Sequence[float], pressures: Sequence[float], factors: Sequence[float], into: float
) -> tuple[float, ...]:
    """Fall of total pressure of each arriving run by the velocity-pressure method [Pa].

    SP_j = SP_i - F_i VP_i is equal for all; SP_into = SP_j - max(0, VP_into - VP_r).

    Args:
        flows: of the arriving runs [m3/s].
        pressures: their own velocity pressures [Pa].
        factors: entry factors by angle; 0 for a straight run.
        into: velocity pressure of the common run [Pa].

    Returns:
        TP_i - TP_into for each run; the flow-weighted sum is never negative.
    """
    acceleration = max(0.0, into - resultant_velocity_pressure(flows, pressures))
    return tuple((1.0 + factor) * own - into + acceleration for own, factor in zip(pressures, factors, strict=True))
