"""Numbers and words of a report: three figures, lengths as a rule shows them, whole percents."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal

from airbough.wire.quantity import length_told, printed

_METRES = {"ft": 0.3048, "in": 0.0254, "mm": 0.001, "m": 1.0}
_NOTHING = {"inH2O": 0.005, "Pa": 1.0, "ft^3/min": 0.5, "m^3/h": 0.5}
_FIGURES = 3


def figures(number: float, digits: int = _FIGURES) -> str:
    """Return a number to so many figures, never with an exponent and never as a negative nothing."""
    if number == 0.0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(number))))
    text = f"{float(f'{number:.{digits}g}'):.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def quantity(number: float, units: Mapping[str, str], kind: str) -> str:
    """Return a number with its unit; a length or diameter as a rule shows it."""
    unit = units.get(kind, "")
    if kind in ("length", "diameter") and unit in _METRES:
        return rule(number, units, kind)
    return f"{bare(number, unit)} {printed(unit)}".rstrip()


def bare(number: float, unit: str) -> str:
    """Return a number without its unit; 0 where no gauge in a shop would show it."""
    return "0" if abs(number) < _NOTHING.get(unit, 0.0) else figures(number)


def rule(number: float, units: Mapping[str, str], kind: str) -> str:
    """Return a length in the answer's unit as a rule shows it, such as `6 ft 4 1/2 in.` or `1943 mm`."""
    unit = units.get(kind, "")
    preset = "us" if unit in ("ft", "in") else "metric"
    return length_told(number * _METRES[unit], preset, feet=kind == "length")


def heading(word: str, units: Mapping[str, str], kind: str) -> str:
    """Return a column's heading with its unit."""
    return f"{word} {printed(units.get(kind, ''))}".rstrip()


def percent(share: float) -> str:
    """Return a share in whole percent; what is short of all never reads as 100."""
    whole = round(100.0 * share)
    return f"{99 if whole == 100 and share < 1.0 - 1.0e-6 else whole} %"


def plain(word: str) -> str:
    """Return a word of the wire as a person reads it."""
    return word.replace("_", " ").replace("-", " ")


def sentence(words: str) -> str:
    """Return words with a capital and a full stop, unless they end with a short form such as `in.`."""
    words = words[:1].upper() + words[1:]
    return words if words.endswith((".", "!", "?")) else f"{words}."


def money(number: Decimal | float, currency: str | None) -> str:
    """Return a sum: one in decimals as it is, a number to hundredths."""
    return f"{number if isinstance(number, Decimal) else format(number, '.2f')} {currency or ''}".rstrip()


def short(ratio: float) -> str:
    """Return how far below its mark a ratio is, as words."""
    gap = 1.0 - ratio
    if gap <= 1.0e-6:
        return "holds"
    if gap < 0.02:
        return "a hair short"
    for limit, words in ((0.075, "short by a twentieth"), (0.125, "short by a tenth"), (0.225, "short by a fifth")):
        if gap < limit:
            return words
    for limit, words in ((0.29, "short by a quarter"), (0.42, "short by a third"), (0.58, "short by half")):
        if gap < limit:
            return words
    return f"only {percent(ratio)} of it"


def counted(number: int, noun: str) -> str:
    """Return a count and its noun, in the plural where it is not one."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def listed(names: list[str]) -> str:
    """Return names as a person lists them: `a, b and c`."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""
