"""The signs of a picture to scale: duct, drop, gate, wye, machine, collector and wall, told apart without colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from airbough_service.questions.drawing.svg import HAIR, INK, PAPER, SOFT_INK, Point, Sheet

DUCT, HOSE, MACHINE, COLLECTOR = "#cfdde8", "#efe3cc", "#f4f0e6", "#e3e7eb"
MACHINE_SIZE: Final = 22.0
COLLECTOR_SIZE: Final = 44.0
_LEAST: Final = 4.0
_WALL: Final = 1.0
_HATCH: Final = 7.0
KEPT_FREE: Final = "#eceae6"
MAY_RUN: Final = "#eef5ea"


def wide(bore: float) -> float:
    """Return the width in which a duct is drawn, px; the narrowest still shows its two walls."""
    return max(_LEAST, bore)


def outline(sheet: Sheet, course: Sequence[Point], bore: float) -> None:
    """Draw a duct's walls; all outlines come before all insides, so that wyes open into one another."""
    sheet.path(course, width=wide(bore))


def inside(sheet: Sheet, course: Sequence[Point], bore: float, *, hose: bool) -> None:
    """Draw what is between the walls; a hose has ribs."""
    own = wide(bore) - 2 * _WALL
    sheet.path(course, stroke=HOSE if hose else DUCT, width=own)
    if hose:
        sheet.path(course, stroke=SOFT_INK, width=own, dash="0.9 3.2")


def drop(sheet: Sheet, at: Point, bore: float) -> None:
    """Draw a duct that goes away from the eye: its circle with a cross."""
    radius = wide(bore) / 2
    sheet.circle(*at, radius, fill=DUCT, line=_WALL)
    arm = (radius - 0.8) * math.sqrt(0.5)
    x, y = at
    sheet.path([(x - arm, y - arm), (x + arm, y + arm)], width=0.8)
    sheet.path([(x - arm, y + arm), (x + arm, y - arm)], width=0.8)


def gate(sheet: Sheet, at: Point, bore: float, opening: float, along: Point) -> None:
    """Draw a slide gate across a duct that runs `along`: a frame, black as far as the blade shuts it."""
    half, thick = wide(bore) / 2 + 4.0, 3.0
    length = math.hypot(*along) or 1.0
    dx, dy = along[0] / length * thick, along[1] / length * thick
    ax, ay = -dy / thick * half, dx / thick * half
    x, y = at

    def bar(start: float, end: float, fill: str) -> None:
        (sx, sy), (ex, ey) = (x + start * ax, y + start * ay), (x + end * ax, y + end * ay)
        corners = [(sx - dx, sy - dy), (ex - dx, ey - dy), (ex + dx, ey + dy), (sx + dx, sy + dy)]
        sheet.path(corners, fill=fill, width=1.1, close=True)

    bar(-1.0, 1.0, PAPER)
    if opening < 1.0:
        bar(-1.0, 1.0 - 2.0 * opening, INK)


def wye(sheet: Sheet, at: Point, number: int) -> None:
    """Draw a wye's number in a ring."""
    x, y = at
    sheet.circle(x, y, 7.5, fill=PAPER, line=1.2)
    sheet.text(x, y + 3.3, str(number), size=9.0, bold=True, anchor="middle")


def machine(sheet: Sheet, at: Point) -> None:
    """Draw a machine: a square of no scale."""
    half = MACHINE_SIZE / 2
    x, y = at
    sheet.rectangle(x - half, y - half, MACHINE_SIZE, MACHINE_SIZE, fill=MACHINE, stroke=INK, line=1.2)


def collector(sheet: Sheet, at: Point) -> None:
    """Draw the collector: two rings of no scale."""
    sheet.circle(*at, COLLECTOR_SIZE / 2, fill=COLLECTOR, line=1.6)
    sheet.circle(*at, COLLECTOR_SIZE / 2 - 5.0, stroke=SOFT_INK, line=0.8)


def wall(sheet: Sheet, start: Point, end: Point, *, marked: bool, outward: Point) -> None:
    """Draw a wall; the collector's is hatched on its outer side."""
    sheet.path([start, end], width=3.2)
    if not marked:
        return
    length = math.dist(start, end)
    for index in range(int(length / _HATCH)):
        share = (index + 0.5) * _HATCH / length
        x, y = start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
        slant = ((end[0] - start[0]) / length * 5.0, (end[1] - start[1]) / length * 5.0)
        sheet.path([(x, y), (x + outward[0] * 7.0 + slant[0], y + outward[1] * 7.0 + slant[1])], width=0.9)


def box(sheet: Sheet, one: Point, other: Point) -> None:
    """Draw a place that is kept free of ducts: shaded, its edge broken."""
    (left, right), (top, bottom) = (sorted(ends) for ends in zip(one, other, strict=True))
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    sheet.path(corners, stroke=SOFT_INK, width=1.0, fill=KEPT_FREE, dash="5 3", close=True)


def corridors(sheet: Sheet, places: list[tuple[Point, Point]]) -> None:
    """Draw where ducts may run: edges dotted first, then inside, so that those that overlap are one place."""
    for fill in (False, True):
        for one, other in places:
            (left, right), (top, bottom) = (sorted(ends) for ends in zip(one, other, strict=True))
            corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
            if fill:
                sheet.path(corners, stroke="none", width=0.0, fill=MAY_RUN, close=True)
            else:
                sheet.path(corners, stroke=SOFT_INK, width=1.6, dash="1 4", close=True)


def hole(sheet: Sheet, at: Point, wide: float, start: Point, end: Point) -> None:
    """Draw a hole in a wall that goes from start to end: the wall is gone there, and its edges are marked."""
    length = math.dist(start, end)
    dx, dy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    edges = [(at[0] + side * wide / 2 * dx, at[1] + side * wide / 2 * dy) for side in (-1.0, 1.0)]
    sheet.path(edges, stroke=PAPER, width=4.4)
    for x, y in edges:
        sheet.path([(x - 5.0 * dy, y + 5.0 * dx), (x + 5.0 * dy, y - 5.0 * dx)], width=1.4)


def dimension(sheet: Sheet, top: Point, bottom: Point) -> None:
    """Draw an upright dimension line with an arrow at each end."""
    sheet.path([top, bottom], width=0.9)
    for (x, y), way in ((top, 1.0), (bottom, -1.0)):
        sheet.path([(x - 3.0, y + way * 7.0), (x, y), (x + 3.0, y + way * 7.0)], width=0.9, fill=INK, close=True)
        sheet.path([(x - 6.0, y), (x + 6.0, y)], width=0.9)


def level(sheet: Sheet, start: Point, end: Point, *, strong: bool) -> None:
    """Draw the floor, or the ceiling."""
    sheet.path([start, end], width=2.4 if strong else 1.4, stroke=INK if strong else HAIR)
