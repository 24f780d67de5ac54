"""How a fan's one efficiency goes with the flow."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)
from airbough_service.core.laws.power import EfficiencyShape


@dataclass(frozen=True, slots=True)
class PowerShape:
    """The shape of a fan's power where one efficiency is all that is known.

    Attributes:
        shape: the law and its floor.
        low, high: what the power without flow may be instead, as shares of that at the best point.
        passports: of law and floor.
    """

    shape: EfficiencyShape
    low: float
    high: float
    passports: tuple[Passport, ...]


@cache
def power_shape() -> PowerShape:
    """Return the shape."""
    blocks = reading.read("power")
    law, floor, start = blocks["efficiency"], blocks["shut_off"], blocks["law_from"]
    shape = EfficiencyShape(law["a"], law["b"], law["c"], law["d"], floor["share"], start["flow_share"])
    return PowerShape(shape, floor["low"], floor["high"], (passport_of(law), passport_of(floor)))
