"""How a collector's fan is guessed where no curve of it is known."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal, TypeAlias

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import Passport, passport_of

Part: TypeAlias = Literal["flow", "suction", "shape", "inlet-velocity", "efficiency"]


@dataclass(frozen=True, slots=True)
class Between:
    """A figure of the guess with its band."""

    low: float
    own: float
    high: float
    passport: Passport


@cache
def guess(part: Part) -> Between:
    """Return one figure of the guess."""
    block = reading.find("collectors", "guess", part)
    return Between(block["low"], block["own"], block["high"], passport_of(block))
