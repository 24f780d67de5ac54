"""The one grammar of quantities written as text: `6 in`, `4-1/2 in`, `6 ft 4 in`, `12'-6"`, `½ in`, `70,5 °F`.

A number, or a whole number and a fraction, or a fraction alone, then a unit; feet and inches may follow one another.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final, Literal, TypeAlias

from airbough.reading.units import TABLE
from airbough.reading.wrong import (
    Wrong,
    wrong,
)
from airbough.wire.quantity import (
    ALSO_READ,
    SPELLINGS,
)

Decimal: TypeAlias = Literal["comma", "point"]

_BY_CASE: Final = frozenset({"MJ"})  # `mJ` would be a thousand-millionth of it
_LENGTHS: Final = ("length", "diameter", "roughness", "altitude")

_FRACTION: Final = r"[0-9]{1,3}/[0-9]{1,3}"
_AMOUNT: Final = rf"(?:[0-9]{{1,9}}[.,][0-9]{{1,15}}|(?:[0-9]{{1,9}}[ -])?{_FRACTION}|[0-9]{{1,9}})"
_UNIT: Final = r"(?![eE][0-9])(?:[^\W0-9_]|[%'\"])(?:\S| (?=\S))*"
_SIMPLE: Final = re.compile(rf"(?P<sign>-?)(?P<amount>{_AMOUNT}) ?(?P<unit>{_UNIT})")
_FEET_AND_INCHES: Final = re.compile(
    rf"(?P<sign>-?)(?P<feet>[0-9]{{1,9}}) ?(?:ft\.?|foot|feet|') ?-? ?(?P<inches>{_AMOUNT}) ?(?:in\.?|inch|inches|\")",
    re.IGNORECASE,
)
_CLOCK: Final = re.compile(
    r"(?P<hours>[0-9]{1,2})(?=:| ?[ap])(?::(?P<minutes>[0-5][0-9])(?::(?P<seconds>[0-5][0-9]))?)?"
    r"(?: ?(?P<half>[ap])\.?m\.?)?",
    re.IGNORECASE,
)
_BARE: Final = re.compile(rf"(?P<sign>-?)(?P<amount>{_AMOUNT})")
_POWER_OF_TEN: Final = re.compile(r"(?P<number>-?[0-9]{1,9}(?:[.,][0-9]{1,25})?)[eE](?P<power>[+-]?[0-9]{1,3})")
_LONG: Final = re.compile(r"-?[0-9]{1,300}(?:[.,][0-9]{1,300})?")
_GROUPED: Final = re.compile(
    r"-?[0-9]{1,3}(?:(?:[.,][0-9]{3})+[.,][0-9]+|(?:[.,][0-9]{3}){2,}|(?:[ '_][0-9]{3})+)(?![0-9/])"
)

_ALIKE: Final = str.maketrans(
    {
        "\u2212": "-",
        "\u2018": "'",
        "\u2019": "'",
        "\u2032": "'",
        "\u201c": '"',
        "\u201d": '"',
        "\u2033": '"',
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "\u00b2": "^2",
        "\u00b3": "^3",
        "\u00b7": "*",
        "\u00b0": "deg",
    }
)
"""Characters that stand for plainer ones: a minus, curly quotes and primes, blanks, powers, a dot, a degree sign."""

_ONE_CHARACTER_FRACTION: Final = re.compile(r"([0-9]?)([ -]?)([\u00bc-\u00be\u2150-\u215e])")
_STANDARD_FLOWS: Final = frozenset({"scfm", "scfh", "sl/s", "slpm", "nm3/h", "nm^3/h"})


def _known(kind: str) -> dict[str, tuple[float, float]]:
    """Return every way to write a unit of this kind, in lower case, with its factor and offset."""
    table = TABLE[kind]
    ways = {way: table[spelling] for spelling in table for way in (spelling, *ALSO_READ.get(spelling, ()))}
    return {_folded(way): factors for way, factors in ways.items()}


def _folded(unit: str) -> str:
    return unit if unit in _BY_CASE else unit.lower()


_KNOWN: Final = {kind: _known(kind) for kind in TABLE}
_FOOT: Final = TABLE["length"]["ft"][0]
_INCH: Final = TABLE["length"]["in"][0]


def parse(text: str, kind: str, decimal: Decimal | None = None) -> float:
    """Return the SI value of a quantity's text.

    Args:
        text: as the caller wrote it.
        kind: of quantity.
        decimal: what the caller says of the decimal mark; None: a point, or one comma that cannot mean thousands.

    Raises:
        Wrong: with code `quantity-grammar`, `unknown-unit`, `wrong-kind`, `standard-flow`, `ambiguous-decimal` or
            `digit-grouping`.
    """
    plain = _plain(text)
    if kind == "clock" and (clock := _CLOCK.fullmatch(plain)):
        return _of_the_clock(clock)
    both = _FEET_AND_INCHES.fullmatch(plain) if kind in _LENGTHS else None
    if both is not None:
        return _feet_and_inches(both, decimal)
    found = _SIMPLE.fullmatch(plain)
    if found is None:
        raise _no_quantity(plain, kind)
    number = _signed(found["sign"], _amount(found["amount"], decimal))
    factors = _KNOWN[kind].get(_folded(found["unit"]))
    if factors is None:
        raise _grouped(plain) or wrong(*_unit_fault(found["unit"], kind))
    return number * factors[0] + factors[1]


def bare(text: str, decimal: Decimal | None = None) -> float | None:
    """Return a number written without a unit, a power of ten after it or not; None where the text is none.

    Raises:
        Wrong: with code `ambiguous-decimal` or `digit-grouping`.
    """
    plain = _plain(text)
    found = _BARE.fullmatch(plain)
    if found is not None:
        return _signed(found["sign"], _amount(found["amount"], decimal))
    scaled = _POWER_OF_TEN.fullmatch(plain)
    if scaled is not None:
        return float(f"{_with_point(scaled['number'], decimal)}e{scaled['power']}")
    grouped = _grouped(plain)
    if grouped is not None:
        raise grouped
    return float(_with_point(plain, decimal)) if _LONG.fullmatch(plain) else None


def with_point(text: str, decimal: Decimal) -> str:
    """Return the text with its decimal mark as a point, whatever else it says.

    Raises:
        Wrong: with code `ambiguous-decimal`, where the other mark stands before exactly three digits.
    """
    return re.sub(r"[0-9]{1,300}[.,][0-9]{1,300}", lambda found: _with_point(found[0], decimal), text)


def _plain(text: str) -> str:
    """Return the text in plain characters; `4½` becomes `4 1/2`."""

    def spelled(found: re.Match[str]) -> str:
        before, between, character = found.groups()
        fraction = unicodedata.normalize("NFKC", character).replace("\u2044", "/")
        return f"{before} {fraction}" if before else between + fraction

    return _ONE_CHARACTER_FRACTION.sub(spelled, text.translate(_ALIKE).replace("\u2044", "/"))


def _feet_and_inches(found: re.Match[str], decimal: Decimal | None) -> float:
    inches = _amount(found["inches"], decimal)
    if inches >= 12.0:
        raise wrong("quantity-grammar", "inches that follow feet are below 12")
    return _signed(found["sign"], float(found["feet"]) * _FOOT + inches * _INCH)


def _of_the_clock(found: re.Match[str]) -> float:
    """Return the seconds since midnight."""
    hours = int(found["hours"])
    half = (found["half"] or "").lower()
    if not (1 <= hours <= 12 if half else hours <= 24):
        raise wrong("quantity-grammar", "a time of the clock is 0:00 to 24:00, or 1:00 to 12:59 with am or pm")
    if half:
        hours = hours % 12 + (12 if half == "p" else 0)
    return 3600.0 * hours + 60.0 * int(found["minutes"] or 0) + float(found["seconds"] or 0)


def _signed(sign: str, number: float) -> float:
    return -number if sign else number


def _amount(text: str, decimal: Decimal | None) -> float:
    """Return a number, or a whole number and a fraction."""
    if "/" not in text:
        return float(_with_point(text, decimal))
    whole, _, fraction = text.replace("-", " ").rpartition(" ")
    over, under = map(int, fraction.split("/"))
    if over >= under:
        raise wrong("quantity-grammar", f"a fraction is below 1, and {fraction} is not")
    return float(whole or 0) + over / under


def _with_point(number: str, decimal: Decimal | None) -> str:
    """Return a number with a decimal point.

    Raises:
        Wrong: `ambiguous-decimal`, where the mark before exactly three digits may part thousands.
    """
    mark = "," if "," in number else "."
    whole, _, decimals = number.partition(mark)
    if len(decimals) == 3 and mark in number:
        sure = {None: mark == "." or whole.lstrip("-") == "0", "comma": mark == ",", "point": mark == "."}[decimal]
        if not sure:
            raise wrong("ambiguous-decimal", f"{number} may be a thousand times as much: write it without `{mark}`")
    return number.replace(mark, ".")


def _grouped(text: str) -> Wrong | None:
    if _GROUPED.match(text) is None:
        return None
    return wrong("digit-grouping", "digits are written without anything between them, with one decimal mark")


def _no_quantity(text: str, kind: str) -> Wrong:
    clock = ", or a time of the clock such as 8:00" if kind == "clock" else ""
    return _grouped(text) or wrong(
        "quantity-grammar", f"must be a number, or a number and a fraction, then a unit: {_spellings(kind)}{clock}"
    )


def _spellings(kind: str) -> str:
    return ", ".join(SPELLINGS[kind])


def _unit_fault(unit: str, kind: str) -> tuple[str, str]:
    folded = _folded(unit)
    if folded in _STANDARD_FLOWS:
        return "standard-flow", (
            "flows here are actual volumes at the duct's own density, not at standard conditions: "
            f"convert first and use one of {_spellings(kind)}"
        )
    for other, known in _KNOWN.items():
        if folded in known:
            return "wrong-kind", f"`{unit}` is a unit of {other}; {kind} takes {_spellings(kind)}"
    clock = ", or it is a time of the clock such as 8:00 or 1:30 pm" if kind == "clock" else ""
    return "unknown-unit", f"the units of {kind} are {_spellings(kind)}{clock}"
