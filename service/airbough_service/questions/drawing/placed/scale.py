"""From the shop's metres to the sheet: one scale both ways, a grid with its figures, a bar to measure by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from airbough_service.questions.drawing.axis import round_step
from airbough_service.questions.drawing.svg import INK, SOFT_INK, Point, Sheet
from airbough_service.questions.drawing.text import number, unit
from airbough_service.terms import units

_GRID, _FIGURES = "#e4e8ec", 9.5
_LINES = 8  # of the grid along the longer side, about
_BAR = 9.0


@dataclass(frozen=True, slots=True)
class Scale:
    """Where a place of the shop lies on the sheet.

    Attributes:
        factor: px in a metre.
        left, top: of the field on the sheet, px.
        low, high: least and greatest place shown, m, across and up.
        step: of the grid, m.
    """

    factor: float
    left: float
    top: float
    low: Point
    high: Point
    step: float
    preset: str

    def at(self, across: float, up: float) -> Point:
        """Return a place on the sheet."""
        return self.left + (across - self.low[0]) * self.factor, self.top + (self.high[1] - up) * self.factor

    @property
    def right(self) -> float:
        """The field's right edge, px."""
        return self.left + (self.high[0] - self.low[0]) * self.factor

    @property
    def bottom(self) -> float:
        """The field's lower edge, px."""
        return self.top + (self.high[1] - self.low[1]) * self.factor

    def long(self, length: float) -> float:
        """Return a length on the sheet, px."""
        return length * self.factor


def scale(
    points: Sequence[Point], room: tuple[float, float], corner: Point, preset: str, beside: tuple[float, float]
) -> Scale:
    """Return the scale that fits the points into the room.

    Args:
        points: across and up, m.
        room: width and height that the field may take, px.
        corner: its left and top, px.
        preset: of the grid.
        beside: free space kept around the points across and up, m.
    """
    low = (min(x for x, _ in points) - beside[0], min(y for _, y in points) - beside[1])
    high = (max(x for x, _ in points) + beside[0], max(y for _, y in points) + beside[1])
    wide, tall = high[0] - low[0], high[1] - low[1]
    factor = min(room[0] / wide, room[1] / tall)
    metre = units.value("length", 1.0, preset)
    step = round_step(max(wide, tall) * metre / _LINES) / metre
    return Scale(factor, corner[0], corner[1], low, high, step, preset)


def grid(sheet: Sheet, own: Scale, names: tuple[str, str]) -> None:
    """Draw the grid, its figures along the lower and the left edge, and what they count."""
    for place in _steps(own.low[0], own.high[0], own.step):
        x, _ = own.at(place, own.low[1])
        sheet.path([(x, own.top), (x, own.bottom)], stroke=_GRID, width=0.8)
        sheet.text(x, own.bottom + 13.0, number("length", place, own.preset), size=_FIGURES, anchor="middle",
                   fill=SOFT_INK)  # fmt: skip
    for place in _steps(own.low[1], own.high[1], own.step):
        _, y = own.at(own.low[0], place)
        sheet.path([(own.left, y), (own.right, y)], stroke=_GRID, width=0.8)
        sheet.text(own.left - 6.0, y + 3.4, number("length", place, own.preset), size=_FIGURES, anchor="end",
                   fill=SOFT_INK)  # fmt: skip
    sheet.rectangle(own.left, own.top, own.right - own.left, own.bottom - own.top, stroke=_GRID)
    sheet.text((own.left + own.right) / 2, own.bottom + 27.0, names[0], size=_FIGURES, anchor="middle", fill=SOFT_INK)
    sheet.text(own.left - 30.0, own.top - 8.0, names[1], size=_FIGURES, fill=SOFT_INK)


def _steps(low: float, high: float, step: float) -> list[float]:
    """Return the multiples of the step in a range."""
    first, last = -int(-low // step), int(high // step)
    return [number * step for number in range(first, last + 1)]


def bar(sheet: Sheet, own: Scale, y: float) -> None:
    """Draw a bar of one and of two steps of the grid, dark and light, from the field's left edge."""
    piece = own.long(own.step)
    for index in range(2):
        fill = INK if index == 0 else "#ffffff"
        sheet.rectangle(own.left + index * piece, y, piece, _BAR / 2, fill=fill, stroke=INK, line=0.9)
    for index in range(3):
        words = number("length", index * own.step, own.preset)
        words += f" {unit('length', own.preset)}" if index == 2 else ""
        anchor = "start" if index == 2 else "middle"
        shift = -3.0 if index == 2 else 0.0
        sheet.text(own.left + index * piece + shift, y + 16.0, words, size=_FIGURES, anchor=anchor)
