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


@dataclass(frozen=True, slots=True)
class UsualMotor:
    """What a motor is like at its rated output, where its nameplate is not known.

    Attributes:
        phases: of its supply, 1 or 3.
        efficiency: output over input.
        power_factor: of the whole motor.
        passport: of both.
    """

    phases: int
    efficiency: float
    power_factor: float
    passport: Passport


@cache
def usual_motor(supply: str) -> UsualMotor:
    """Return the usual motor of a supply, `single-phase` or `three-phase`."""
    block = reading.by_id("power", "motor")[supply]
    return UsualMotor(block["phases"], block["efficiency"], block["power_factor"], passport_of(block))


@cache
def power_shape() -> PowerShape:
    """Return the shape."""
    blocks = reading.read("power")
    law, floor, start = blocks["efficiency"], blocks["shut_off"], blocks["law_from"]
    shape = EfficiencyShape(law["a"], law["b"], law["c"], law["d"], floor["share"], start["flow_share"])
    return PowerShape(shape, floor["low"], floor["high"], (passport_of(law), passport_of(floor)))
