"""Spreads of numbers that the caller reads off data sheets and instruments."""

from __future__ import annotations

from functools import cache
from typing import Literal, TypeAlias

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)

Part: TypeAlias = Literal["fan-curve", "collector-loss", "machine-resistance", "reading"]


@cache
def spread_of(part: Part) -> Passport:
    """Return where the spread of a part comes from; `spread` is the relative half-width of the central 90 % range."""
    return passport_of(reading.find("uncertainty", "part", part))
