"""A small table beside a picture: a heading, columns with their units, rows banded for the eye."""

from __future__ import annotations

from collections.abc import Sequence

from airbough_service.questions.drawing.schedule import Column
from airbough_service.questions.drawing.svg import HAIR, SOFT_INK, Point, Sheet

_BAND = "#f1f4f6"
SIZE, ROW = 10.5, 19.0
_GAP = 13.0


def draw(sheet: Sheet, title: str, table: Sequence[Column], corner: Point) -> Point:
    """Write a table; return its right end and where it ends below."""
    left, top = corner
    shown = [column for column in table if any(column.cells)]
    count = max((len(column.cells) for column in shown), default=0)
    widths = [column.width(SIZE) for column in shown]
    right = left + sum(widths) + _GAP * len(widths)
    sheet.text(left, top + SIZE, title, size=SIZE + 1.5, bold=True)
    first = top + SIZE * 4.6
    for row in range(0, count, 2):
        sheet.rectangle(left - 4.0, first + row * ROW, right - left, ROW, fill=_BAND)
    sheet.path([(left - 4.0, first), (right - 4.0, first)], stroke=HAIR)
    x = left
    for column, wide in zip(shown, widths, strict=True):
        at, anchor = (x + wide, "end") if column.right else (x, "start")
        sheet.text(at, first - SIZE * 1.7, column.heading, size=SIZE, bold=True, anchor=anchor)
        if column.unit:
            sheet.text(at, first - SIZE * 0.5, column.unit, size=SIZE, anchor=anchor, fill=SOFT_INK)
        room = None if column.room is None else column.room * SIZE
        for row, cell in enumerate(column.cells):
            if cell:
                sheet.text(at, first + (row + 0.5) * ROW + SIZE * 0.36, cell, size=SIZE, anchor=anchor, room=room)
        x += wide + _GAP
    bottom = first + count * ROW
    sheet.reach(right - 4.0, bottom)
    return right - 4.0, bottom
