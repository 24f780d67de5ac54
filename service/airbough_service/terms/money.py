"""Money in decimals: as the caller wrote it, rounded to the coin of its currency where it is told."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from typing import Final

from airbough_service.catalogue.currencies import decimals
from airbough_service.terms import units

MOST_DECIMALS: Final = 6


def amount(written: float | str | None) -> Decimal | None:
    """Return an amount as it was written; None where there is none."""
    return None if written is None else Decimal(written if isinstance(written, str) else repr(written))


def in_preset(length: float, preset: str) -> Decimal:
    """Return a length [m] in the preset's unit, to six decimals: what a price for one foot or metre goes by."""
    return Decimal(repr(round(units.value("length", length, preset), MOST_DECIMALS)))


def coined(value: Decimal, currency: str | None) -> Decimal:
    """Return an amount rounded to the currency's smallest coin, halves up."""
    return value.quantize(_coin(currency), ROUND_HALF_UP)


def at_least(value: float, currency: str | None) -> Decimal:
    """Return the greatest sum of coins that is not above a bound."""
    return Decimal(repr(value)).quantize(_coin(currency), ROUND_FLOOR)


def summed(values: Iterable[Decimal], currency: str | None) -> Decimal:
    """Return a sum in the currency's coins; that of nothing is nothing."""
    return coined(sum(values, Decimal(0)), currency)


def shown(value: Decimal | None) -> Decimal | None:
    """Return what one piece costs as it was written; the share of a package to no more than six decimals."""
    if value is None or value == round(value, MOST_DECIMALS):
        return value
    return round(value, MOST_DECIMALS)


def _coin(currency: str | None) -> Decimal:
    return Decimal(1).scaleb(-decimals(currency))
