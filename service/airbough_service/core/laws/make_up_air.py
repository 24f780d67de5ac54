"""Make-up air of a room: openings, depressurisation, air changes and heat; SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass

SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Envelope:
    """What lets air into the room.

    Attributes:
        area: free area of openings [m2].
        discharge_coefficient: of the openings.
        leak: flow per pressure^exponent of cracks [m3/s per Pa^n].
        exponent: of the cracks, 0.5 to 1.
    """

    area: float
    discharge_coefficient: float
    leak: float = 0.0
    exponent: float = 0.65


def air_changes(flow: float, volume: float) -> float:
    """Air changes per hour: flow [m3/s] over volume [m3]."""
    return flow * SECONDS_PER_HOUR / volume


def opening_flow(area: float, discharge_coefficient: float, pressure: float, density: float) -> float:
    """Flow through a sharp opening: Cd A sqrt(2 dp / rho) [m3/s]."""
    return discharge_coefficient * area * math.sqrt(2.0 * pressure / density)


def opening_area(flow: float, discharge_coefficient: float, pressure: float, density: float) -> float:
    """Free area that passes `flow` at this pressure difference: Q / (Cd sqrt(2 dp / rho)) [m2]."""
    return flow / (discharge_coefficient * math.sqrt(2.0 * pressure / density))


def inflow(envelope: Envelope, pressure: float, density: float) -> float:
    """Flow into the room at this depressurisation [m3/s]: openings and cracks side by side."""
    cracks = envelope.leak * pressure**envelope.exponent
    return opening_flow(envelope.area, envelope.discharge_coefficient, pressure, density) + cracks


def depressurisation(envelope: Envelope, flow: float, density: float) -> float:
    """Pressure by which the room lies below outdoors while `flow` leaves it [Pa].

    Args:
        envelope: what lets air in; it must let some in.
        flow: that leaves and does not return [m3/s].
        density: of the air coming in [kg/m3].

    Raises:
        ValueError: nothing lets air in.
    """
    if flow <= 0.0:
        return 0.0
    if envelope.area <= 0.0 and envelope.leak <= 0.0:
        raise ValueError("the room has no opening")
    high = 1.0
    while inflow(envelope, high, density) < flow:
        high *= 4.0
    low = 0.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if inflow(envelope, middle, density) < flow:
            low = middle
        else:
            high = middle
        if high - low <= 1.0e-14 * high:
            break
    return high


def heat_rate(flow: float, density: float, specific_heat: float, warmer_by: float) -> float:
    """Heat that leaves with the air: rho Q cp dT [W]."""
    return flow * density * specific_heat * warmer_by
