"""Texts of a drawing: a caller's words made fit, measured on the wide side, shortened; numbers for reading."""

from __future__ import annotations

import math
import unicodedata
from typing import Final

from airbough.wire.quantity import length_told, printed
from airbough_service.terms import units

_WIDTHS: Final[dict[str, float]] = {
    character: width
    for width, characters in (
        (0.35, " \xa0'ijl·"),
        (0.4, ",./:;IJ\\|²³"),
        (0.45, "-f"),
        (0.5, "!()[]_`rt"),
        (0.55, '"*'),
        (0.6, "?csz"),
        (0.65, "Lx"),
        (0.7, "$0123456789EFTaekovy"),
        (0.75, "CPSYZbdghnpqu{}"),
        (0.8, "ABKRVXØ"),
        (0.85, "#+<=>DGHNU^~"),
        (0.9, "&OQ"),
        (0.95, "w"),
        (1.0, "@M…—"),
        (1.05, "%m"),
        (1.15, "W"),
    )
    for character in characters
}
"""Advance in ems, measured on a bold face wider than the ones that are asked for."""

_OTHER, _WIDE, _WIDEST = 1.1, 1.1, 2.5
_DROPPED: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_MARKS_KEPT: Final = 2
ELLIPSIS: Final = "…"

_DECIMALS: Final[dict[str, dict[str, int]]] = {
    "us": {"flow": 0, "velocity": 0, "pressure": 2, "diameter": 2, "length": 1, "density": 4},
    "metric": {"flow": 0, "velocity": 1, "pressure": 0, "diameter": 1, "length": 2, "density": 3},
}
_TRIMMED: Final = frozenset({"diameter", "length", "density"})


def clean(words: str) -> str:
    """Return a caller's words on one line, without what no XML or no page can hold and without piled-up marks."""
    kept: list[str] = []
    marks = 0
    for character in words:
        category = unicodedata.category(character)
        marks = marks + 1 if category in ("Mn", "Me") else 0
        if character in "\t\n\r":
            kept.append(" ")
        elif category not in _DROPPED and marks <= _MARKS_KEPT:
            kept.append(character)
    return " ".join("".join(kept).split())


def measure(words: str, size: float) -> float:
    """Return a width that the words do not exceed at this size, in the drawing's own units."""
    return size * sum(_advance(character) for character in words)


def _advance(character: str) -> float:
    known = _WIDTHS.get(character)
    if known is not None:
        return known
    if unicodedata.category(character) in ("Mn", "Me"):
        return 0.0
    if unicodedata.east_asian_width(character) in "WF":
        return _WIDE
    return _WIDEST if ord(character) >= 0x10000 or 0xFDF0 <= ord(character) <= 0xFDFD else _OTHER


def shorten(words: str, size: float, room: float) -> str:
    """Return the words, cut with an ellipsis where they would take more than the room."""
    if measure(words, size) <= room:
        return words
    taken, left = 0, room - measure(ELLIPSIS, size)
    for character in words:
        left -= size * _advance(character)
        if left < 0.0:
            break
        taken += 1
    return words[:taken].rstrip() + ELLIPSIS


def wrap(words: str, size: float, room: float) -> list[str]:
    """Return the words in lines that each fit the room; a single word too long for it is cut."""
    lines: list[str] = []
    line = ""
    for word in words.split(" "):
        longer = f"{line} {word}" if line else word
        if line and measure(longer, size) > room:
            lines.append(line)
            longer = word
        line = shorten(longer, size, room)
    return [*lines, line] if line else lines


def sentence(words: str) -> str:
    """Return words with a full stop, unless they end with a mark or a short form such as `in.`."""
    return words if words.endswith((".", "!", "?")) else f"{words}."


def number(kind: str, si: float, preset: str) -> str:
    """Return an SI value as a bare number in the preset, rounded for reading; a diameter as a rule shows it."""
    if kind == "diameter":
        return length_told(si, preset, feet=False).removesuffix(f" {unit(kind, preset)}")
    shown = units.value(kind, si, preset)
    decimals = _DECIMALS[preset][kind]
    if 0.0 < abs(shown) < 0.5 * 10.0**-decimals:
        decimals = 1 - math.floor(math.log10(abs(shown)))
    text = f"{shown:.{decimals}f}"
    if kind in _TRIMMED and "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def unit(kind: str, preset: str) -> str:
    """Return the preset's unit of this kind as it is printed."""
    return printed(units.unit(kind, preset))


def quantity(kind: str, si: float, preset: str) -> str:
    """Return number and unit, held together at the end of a line; lengths and diameters as a rule shows them."""
    if kind in ("length", "diameter"):
        return length_told(si, preset, feet=kind == "length").replace(" ", "\xa0")
    return f"{number(kind, si, preset)}\xa0{unit(kind, preset)}"
