"""Spreads of numbers that the caller reads off data sheets and instruments."""

from __future__ import annotations

from functools import cache
from typing import Final, Literal, TypeAlias

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import Passport, passport_of

Part: TypeAlias = Literal["fan-curve", "collector-loss", "machine-resistance", "reading"]
HALF_WIDTH: Final = 1.6448536269514722  # of the central 90 % range of the standard normal distribution


@cache
def spread_of(part: Part) -> Passport:
    """Return where the spread of a part comes from; `spread` is the relative half-width of the central 90 % range."""
    return passport_of(reading.find("uncertainty", "part", part))
