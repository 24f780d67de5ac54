"""The signs of a tree drawing: duct, hose, gate, hood, arrow, each told apart without colour."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from airbough_service.questions.drawing.svg import (
    HAIR,
    INK,
    PAPER,
    Point,
    Sheet,
)

Filling: TypeAlias = Literal["flowing", "idle", "unknown"]

FILLS: Final[dict[Filling, str]] = {"flowing": "#a9cfe8", "idle": PAPER, "unknown": "#e3e7eb"}
_WALL: Final = 1.1
_LEAST_ARROW: Final = 2.8


def wall(sheet: Sheet, course: Sequence[Point], wide: float) -> None:
    """Draw a duct's outline; all outlines come first, so that junctions open into one another."""
    sheet.path(course, width=wide)


def inside(sheet: Sheet, course: Sequence[Point], wide: float, filling: Filling, *, hose: bool) -> None:
    """Draw what is inside the outline: shade where air flows, a broken line where none does, ribs of a hose."""
    bore = wide - 2 * _WALL
    sheet.path(course, stroke=FILLS[filling], width=bore)
    if hose:
        sheet.path(course, width=bore, dash="1 3.4")
    if filling == "idle":
        sheet.path(course, stroke=INK, width=0.9, dash="5 4")


def zone(sheet: Sheet, start: Point, end: Point, wide: float) -> None:
    """Draw a junction of several branches at one section, or an inlet chamber, drawn long."""
    half, over = wide / 2 + 1.5, 3.0
    (left, top), (right, bottom) = start, end
    if left == right:
        sheet.rectangle(left - half, top - over, 2 * half, bottom - top + 2 * over, fill=PAPER, stroke=INK, line=_WALL)
    else:
        sheet.rectangle(left, top - half, right - left, 2 * half, fill=PAPER, stroke=INK, line=_WALL)


def gate(sheet: Sheet, x: float, y: float, wide: float, opening: float, *, upright: bool) -> None:
    """Draw a slide gate across a duct: a frame, black as far as the blade shuts it."""
    half, thick = wide / 2 + 3.5, 6.0
    blade = 2 * half * (1.0 - opening)
    if upright:
        sheet.rectangle(x - half, y - thick / 2, 2 * half, thick, fill=PAPER, stroke=INK, line=1.1)
        if blade > 0.0:
            sheet.rectangle(x - half, y - thick / 2, blade, thick, fill=INK)
        return
    sheet.rectangle(x - thick / 2, y - half, thick, 2 * half, fill=PAPER, stroke=INK, line=1.1)
    if blade > 0.0:
        sheet.rectangle(x - thick / 2, y - half, thick, blade, fill=INK)


def hood(sheet: Sheet, x: float, y: float, wide: float, reach: float, filling: Filling) -> None:
    """Draw a hood that opens to the right."""
    half = wide / 2
    corners = [(x, y - half), (x + reach, y - half - reach * 0.42), (x + reach, y + half + reach * 0.42), (x, y + half)]
    sheet.path(corners, fill=FILLS[filling], width=_WALL, close=True)


def arrow(sheet: Sheet, x: float, y: float, wide: float, *, upright: bool) -> None:
    """Draw the direction of flow: to the left, or upwards."""
    arm = wide / 2 - 2.2
    fill = "none"
    if arm < _LEAST_ARROW:
        arm, fill = _LEAST_ARROW, INK
    tip, back = (x, y - arm * 0.7), y + arm * 0.7
    corners = [(x - arm, back), tip, (x + arm, back)]
    if not upright:
        tip, back = (x - arm * 0.7, y), x + arm * 0.7
        corners = [(back, y - arm), tip, (back, y + arm)]
    sheet.path(corners, width=1.2, fill=fill, close=fill != "none")


def leader(sheet: Sheet, start: Point, end: Point) -> None:
    """Draw a dotted line that leads the eye."""
    sheet.path([start, end], stroke=HAIR, width=0.9, dash="1 4")
