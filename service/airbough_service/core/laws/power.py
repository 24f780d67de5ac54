"""Shaft power of a fan and load of its motor; SI units."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from airbough_service.core.laws.fan import curve_pieces

Floats = NDArray[np.float64]


def power_pieces(flows: Sequence[float], powers: Sequence[float], speed: float, density: float) -> Floats:
    """Return the shaft power's curve through points, by the fan laws, shape (points - 1, 6).

    Args:
        flows: of the points [m3/s], rising.
        powers: shaft power at the points [W].
        speed: speed over that of the points; flow goes with it, power with its cube.
        density: of the air over that of the points; power goes with it.

    Raises:
        CurveError: fewer than two points, or flows that do not rise.

    References:
        Fan laws, ISO 5801 and AMCA 201.
    """
    return curve_pieces([flow * speed for flow in flows], [power * speed**3 * density for power in powers], False)


def power_of_efficiency(flow: ArrayLike, total_pressure: ArrayLike, efficiency: float) -> Floats:
    """Shaft power of a fan's total efficiency: Q p_total / eta [W]; shape as the arguments."""
    return np.asarray(np.multiply(flow, total_pressure) / efficiency)
