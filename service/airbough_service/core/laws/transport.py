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


def chip_time(length: float, rise: float, velocity: float, level: float, upward: float) -> float:
    """Return how long chips take through a duct [s]: level part and rise, each at a share of the air's speed.

    Args:
        length: of the duct [m].
        rise: height gained on the way [m], at most the length; going down they count as level.
        velocity: of the air [m/s], above 0.
        level: speed of chips over that of the air in a level duct.
        upward: the same in a duct that goes up.

    References:
        Slip of single grains in dilute conveying; the shares are the catalogue's.
    """
    up = max(rise, 0.0)
    return ((length - up) / level + up / upward) / velocity
