"""Axes of a diagram: round ticks, and where a value lies."""

from __future__ import annotations

import math
from dataclasses import dataclass

from airbough_service.terms import units


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis from 0 to a round value.

    Attributes:
        step: distance of ticks, in the preset's unit.
        count: ticks after 0.
        start, end: places of 0 and of the last tick on the sheet.
        kind: of quantity.
    """

    step: float
    count: int
    start: float
    end: float
    kind: str
    preset: str

    @property
    def most(self) -> float:
        """The value of the last tick, in the preset's unit."""
        return self.step * self.count

    def at(self, si: float) -> float:
        """Return the place of an SI value, also beyond the axis."""
        return self.start + (self.end - self.start) * units.value(self.kind, si, self.preset) / self.most

    def ticks(self) -> list[tuple[float, str]]:
        """Return places and figures of all ticks."""
        decimals = max(0, -math.floor(math.log10(self.step) + 1.0e-9))
        return [
            (self.start + (self.end - self.start) * i / self.count, f"{i * self.step:.{decimals}f}")
            for i in range(self.count + 1)
        ]


def axis(kind: str, most: float, preset: str, start: float, end: float, wanted: int) -> Axis:
    """Return an axis that holds 0 and `most` (SI), with about the wanted number of ticks."""
    top = max(units.value(kind, most, preset), 1.0e-9)
    step = round_step(top / wanted)
    return Axis(step, max(1, math.ceil(top / step - 1.0e-9)), start, end, kind, preset)


def round_step(least: float) -> float:
    """Return the least of 1, 2 and 5 times a power of ten that is not below `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if factor * power >= least * (1.0 - 1.0e-9):
            return factor * power
    return 10.0 * power


def spread(middles: list[float], heights: list[float], top: float, bottom: float, gap: float) -> list[float]:
    """Return tops of blocks near the wanted middles, in the given order, none meeting the next.

    They stay above `bottom` where there is room, and never start above `top`.
    """
    tops: list[float] = []
    free = top
    for middle, height in zip(middles, heights, strict=True):
        tops.append(max(middle - height / 2, free))
        free = tops[-1] + height + gap
    limit = bottom
    for index in range(len(tops) - 1, -1, -1):
        tops[index] = min(tops[index], limit - heights[index])
        limit = tops[index] - gap
    free = top
    for index, height in enumerate(heights):
        tops[index] = max(tops[index], free)
        free = tops[index] + height + gap
    return tops
