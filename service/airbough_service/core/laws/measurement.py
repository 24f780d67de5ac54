"""From readings to flow: traverses across a round duct, and the static pressure just after a hood; SI units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

NINETY_PERCENT = 1.645  # half-width of the central 90 % of a normal distribution over its standard deviation


@dataclass(frozen=True, slots=True)
class Traverse:
    """What the readings of a traverse say.

    Attributes:
        mean_velocity: [m/s].
        by_diameter: mean velocity along each diameter [m/s].
        lowest: least reading over the greatest, in velocity.
        share_above: share of the readings whose velocity pressure is above a tenth of the greatest.
        scatter: relative half-width (90 %) of the mean from the differences between diameters; None of one diameter.
    """

    mean_velocity: float
    by_diameter: tuple[float, ...]
    lowest: float
    share_above: float
    scatter: float | None


def velocity(velocity_pressure: float, density: float) -> float:
    """Velocity of a velocity pressure: sqrt(2 VP / rho) [m/s]; 0 for a negative reading, which must be told."""
    return math.sqrt(2.0 * max(velocity_pressure, 0.0) / density)


def traverse(velocities: Sequence[Sequence[float]], tenth: float) -> Traverse:
    """Average a traverse: velocities count alike, since the points stand for equal areas or equal weights.

    Args:
        velocities: one row for each diameter [m/s], at least one above 0.
        tenth: share of the greatest velocity pressure above which a reading counts as well up (0.1 as published).

    Notes:
        Mean of the velocities, that is of the roots of the velocity pressures, never of the pressures (ISO 3966).
    """
    means = tuple(sum(row) / len(row) for row in velocities)
    flat = [value for row in velocities for value in row]
    greatest = max(flat)
    above = sum(value * value > tenth * greatest * greatest for value in flat)
    mean = sum(flat) / len(flat)
    return Traverse(mean, means, min(flat) / greatest, above / len(flat), _scatter(means, mean))


def _scatter(means: Sequence[float], mean: float) -> float | None:
    """Return the relative 90 % half-width of the mean of several diameters."""
    count = len(means)
    if count < 2:
        return None
    centre = sum(means) / count
    variance = sum((value - centre) ** 2 for value in means) / (count - 1)
    return NINETY_PERCENT * math.sqrt(variance / count) / mean


def coefficient_of_entry(entry_coefficient: float) -> float:
    """Coefficient of entry of a hood whose entry loses F velocity pressures: Ce = 1 / sqrt(1 + F)."""
    return 1.0 / math.sqrt(1.0 + entry_coefficient)


def entry_coefficient(coefficient: float) -> float:
    """Entry loss in velocity pressures of a coefficient of entry: F = 1 / Ce^2 - 1."""
    return 1.0 / (coefficient * coefficient) - 1.0


def hood_velocity_pressure(suction: float, entry: float) -> float:
    """Velocity pressure behind a hood: SPh = (1 + F) VP, solved for VP [Pa]."""
    return suction / (1.0 + entry)
