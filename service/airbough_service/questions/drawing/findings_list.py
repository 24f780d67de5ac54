"""The list of findings under a drawing: number, words, places, and small behind them the code."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from airbough_service.questions.drawing.picture import Remark
from airbough_service.questions.drawing.svg import (
    INK,
    SOFT_INK,
    Sheet,
)
from airbough_service.questions.drawing.text import (
    ELLIPSIS,
    measure,
    sentence,
    wrap,
)

_SHOWN: Final = 40
_PLACES: Final = 12
_LETTERS: Final = 28
_CODE: Final = 0.85


def draw(
    sheet: Sheet, remarks: Sequence[Remark], left: float, top: float, right: float, size: float, noun: str
) -> float:
    """Write the list from `top` on; return where it ends. `noun` is what a place is."""
    if not remarks:
        return top
    y = top + size
    sheet.text(left, y, "Findings", size=size * 1.1, bold=True)
    y += size * 2.0
    number_room = max(measure(str(remark.number), size) for remark in remarks) + size * 2.6
    for remark in remarks[:_SHOWN]:
        y = _line(sheet, remark, left, left + number_room, y, right, size, noun)
    if len(remarks) > _SHOWN:
        sheet.text(left, y, f"and {len(remarks) - _SHOWN} more kinds in the answer", size=size, fill=SOFT_INK)
        y += size * 1.6
    return y


def _line(
    sheet: Sheet, remark: Remark, left: float, words_at: float, y: float, right: float, size: float, noun: str
) -> float:
    """Write one remark; return the next baseline."""
    sheet.marker(left, y - size * 0.33, size, str(remark.number), remark.severity)
    room = right - words_at
    words = f"{remark.severity.capitalize()}: {sentence(remark.text)}{_where(remark, noun)}"
    lines = wrap(words, size, room)[:6]
    for line in lines:
        sheet.text(words_at, y, line, size=size, fill=INK)
        y += size * 1.35
    small, x = size * _CODE, words_at + measure(lines[-1], size) + size
    if x + measure(remark.code, small) <= right:
        sheet.text(x, y - size * 1.35, remark.code, size=small, fill=SOFT_INK)
        return y + size * 0.55
    sheet.text(words_at, y, remark.code, size=small, fill=SOFT_INK, room=room)
    return y + size * 1.75


def _where(remark: Remark, noun: str) -> str:
    """Return the places as words."""
    if not remark.places:
        return ""
    shown = ", ".join(_short(place) for place in remark.places[:_PLACES])
    more = len(remark.places) - _PLACES
    several = "s" if len(remark.places) > 1 else ""
    return f" {noun.capitalize()}{several}: {shown}{f' and {more} more' if more > 0 else ''}"


def _short(place: str) -> str:
    return place if len(place) <= _LETTERS else place[: _LETTERS - 1] + ELLIPSIS
