"""Chips in moving air: below which speed they lie still, and how far they lag."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@dataclass(frozen=True, slots=True)
class Chips:
    """How chips move.

    Attributes:
        settling: air speed below which they lie still [m/s].
        settling_low, settling_high: what it may be instead, as shares of it.
        level, upward: their speed over the air's, in a level duct or one going down, and in one going up.
        slip_range: by which either share may be off.
        passports: of both.
    """

    settling: float
    settling_low: float
    settling_high: float
    level: float
    upward: float
    slip_range: float
    passports: tuple[Passport, ...]


@cache
def chips() -> Chips:
    """Return how chips move."""
    blocks = reading.read("chips")
    settling, slip = blocks["settling"], blocks["slip"]
    return Chips(
        settling["velocity"],
        settling["low"],
        settling["high"],
        slip["level"],
        slip["upward"],
        slip["range"],
        (passport_of(settling), passport_of(slip)),
    )
