"""Limits of checks, where no document of a duct, dust or fitting prints them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)


@dataclass(frozen=True, slots=True)
class Check:
    """A limit, and where it comes from."""

    id: str
    value: float
    passport: Passport


@cache
def check(word: str) -> Check:
    """Return one check's limit; raises UnknownWordError with the nearest words."""
    block = reading.find("checks", "check", word)
    return Check(block["id"], float(block["value"]), passport_of(block))
