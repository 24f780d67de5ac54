"""How many decimals money has."""

from __future__ import annotations

from functools import cache
from typing import Final

from airbough_service.catalogue import reading

USUAL: Final = 2


@cache
def _by_code() -> dict[str, int]:
    block = reading.find("currencies", "currencies", "iso-4217")
    return {str(code): int(places) for code, places in block["decimals"].items()}


def decimals(currency: str | None) -> int:
    """Return the decimals of a currency's smallest coin; hundredths where it is no code of ISO 4217."""
    return USUAL if currency is None else _by_code().get(currency.upper(), USUAL)
