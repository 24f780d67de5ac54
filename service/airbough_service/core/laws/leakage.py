"""The leak of a duct wall's surface; SI units."""

from __future__ import annotations

import math


def leak_coefficient(leakage_class: float, class_one: float, bore: float, length: float) -> float:
    """Leak of a round run at 1 Pa: class * class_one * pi D L [m3/s per Pa^n].

    Args:
        leakage_class: of the wall.
        class_one: leak of class 1 for each square metre at 1 Pa [m3/s].
        bore: inside diameter [m].
        length: of the run [m].

    References:
        ASHRAE Handbook, Fundamentals, chapter 21, equations 37 and 38.
    """
    return leakage_class * class_one * math.pi * bore * length


def leak_flow(coefficient: float, pressure: float, exponent: float) -> float:
    """Leak at a pressure difference: C p^n [m3/s]; inwards, p being the suction [Pa] above 0."""
    return coefficient * pressure**exponent
