"""What keeps dust moving: velocity against bore and flow, and a saltation correlation."""

from __future__ import annotations

import math
from typing import Final

from airbough_service.core.laws.friction import area

GRAVITY: Final = 9.80665  # standard gravity, exact (CGPM 1901)


def velocity_in(flow: float, diameter: float) -> float:
    """Return the velocity [m/s] of a flow [m3/s] in a round bore [m]."""
    return flow / float(area(diameter))


def flow_at(velocity: float, diameter: float) -> float:
    """Return the flow [m3/s] that has this velocity [m/s] in a round bore [m]."""
    return velocity * float(area(diameter))


def largest_bore(flow: float, velocity: float) -> float:
    """Return the largest bore [m] in which a flow [m3/s] keeps this velocity [m/s]."""
    return math.sqrt(4.0 * flow / (math.pi * velocity))


def saltation_velocity(loading: float, diameter: float, delta: float, chi: float) -> float:
    """Velocity below which particles settle out of a horizontal stream: loading = 10^-delta (V / sqrt(g D))^chi.

    Args:
        loading: mass of dust per mass of air, above 0.
        diameter: bore [m].
        delta: of the particle.
        chi: of the particle.

    Returns:
        Velocity [m/s].

    References:
        Rizk (1973), as printed in process-engineering texts; made for powders.
    """
    return math.sqrt(GRAVITY * diameter) * (loading * 10.0**delta) ** (1.0 / chi)
