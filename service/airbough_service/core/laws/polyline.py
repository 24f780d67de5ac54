"""A run's centreline as a polyline of points (x, y, z), m: its length, rise and turns; elementary geometry."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

Point: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Turn:
    """A corner.

    Attributes:
        at: length of the line before it, m.
        angle: by which the direction changes, deg.
    """

    at: float
    angle: float


def between(start: Point, end: Point) -> float:
    """Return the distance of two points, m."""
    return math.dist(start, end)


def length(points: Sequence[Point]) -> float:
    """Return the length from corner to corner, m."""
    return sum(between(start, end) for start, end in itertools.pairwise(points))


def angle(before: Point, corner: Point, after: Point) -> float:
    """Return by how much the direction changes at a corner, deg: 0 goes straight on, 180 turns back."""
    (x, y, z), (xb, yb, zb), (xa, ya, za) = corner, before, after
    ax, ay, az, bx, by, bz = x - xb, y - yb, z - zb, xa - x, ya - y, za - z
    along = ax * bx + ay * by + az * bz
    across = math.hypot(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    return math.degrees(math.atan2(across, along))


def turns(points: Sequence[Point], least: float) -> list[Turn]:
    """Return the corners in the order of the points, those of less than `least` degrees left out."""
    found, passed = [], 0.0
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        passed += between(before, corner)
        turned = angle(before, corner, after)
        if turned >= least:
            found.append(Turn(passed, turned))
    return found
