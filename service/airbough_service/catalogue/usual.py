"""What is usual where nobody said: the words that an outline takes."""

from __future__ import annotations

from functools import cache

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import Passport, passport_of


@cache
def usual(of: str) -> tuple[str, Passport]:
    """Return the usual word of this kind, and where that comes from; raises UnknownWordError."""
    block = reading.find("outline", "usual", of)
    return block["word"], passport_of(block)
