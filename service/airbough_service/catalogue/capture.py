"""How far hoods reach: the constants of the capture formulas."""

from __future__ import annotations

from dataclasses import dataclass

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@dataclass(frozen=True, slots=True)
class Capture:
    """Constants of one kind of hood; `reach` is 0 where its formula has none."""

    id: str
    factor: float
    reach: float
    passport: Passport


def capture(word: str) -> Capture:
    """Return the constants of one kind of hood; raises UnknownWordError with the nearest words."""
    block = reading.find("capture", "capture", word)
    return Capture(block["id"], block["factor"], block.get("reach", 0.0), passport_of(block))


def resizing_exponent() -> float:
    """Return the exponent of the bore that changes a branch's loss."""
    return float(reading.read("capture")["resizing"]["exponent"])
