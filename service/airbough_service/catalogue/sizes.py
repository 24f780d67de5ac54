"""Nominal diameters of round duct."""

from __future__ import annotations

from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@cache
def nominal_diameters(preset: str) -> tuple[tuple[float, ...], Passport]:
    """Return the diameters of a preset's series, m, rising, and where they come from."""
    block = reading.find("sizes", "sizes", preset)
    return tuple(float(bore) for bore in block["diameters"]), passport_of(block)
