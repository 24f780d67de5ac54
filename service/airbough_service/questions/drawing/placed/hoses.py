"""How a hose is drawn that is longer than the way between its ends: it sags, on the floor at most."""

from __future__ import annotations

import math
from typing import Final

from airbough_service.core.laws import polyline
from airbough_service.core.laws.polyline import Point
from airbough_service.shop import paths

ENDS: Final = 2
PIECES: Final = 16
ASIDE: Final = 1.0  # m, by which the inner points of a hose lie apart whose ends lie above one another, at most
HALVINGS: Final = 40


def hangs(line: tuple[Point, ...], length: float) -> bool:
    """Return whether a hose of a length is longer than its line, which is straight, as far as a tape tells."""
    straight = polyline.length(line)
    return len(line) == ENDS and length > straight + paths.slack(straight)


def sagged(line: tuple[Point, ...], length: float, bore: float) -> tuple[Point, ...]:
    """Return the centreline of a hose between its two ends, m, as long as it is while the floor lets it.

    A cubic curve whose inner points lie under the ends, and to either side where those lie above one another.

    Args:
        line: its ends.
        length: of the hose, m.
        bore: its diameter, m; what lies on the floor lies half of it above.
    """
    start, end = line
    away, falls = math.dist(start[:2], end[:2]), abs(start[2] - end[2])
    level = away / (away + falls) if away > 0.0 else 0.0
    ahead = ((end[0] - start[0]) / away, (end[1] - start[1]) / away) if away > 0.0 else (1.0, 0.0)
    floor = min(bore / 2.0, start[2], end[2])

    def curve(pull: float) -> tuple[Point, ...]:
        beside, below = min(pull * (1.0 - level), ASIDE), pull
        inner = [
            (x + side * beside * ahead[0], y + side * beside * ahead[1], z - below)
            for side, (x, y, z) in zip((-0.5, 0.5), line, strict=True)
        ]
        return tuple(_between((start, *inner, end), piece / PIECES) for piece in range(PIECES + 1))

    least, most = 0.0, 2.0 * length
    for _ in range(HALVINGS):
        middle = (least + most) / 2.0
        least, most = (middle, most) if polyline.length(curve(middle)) < length else (least, middle)
    return tuple((x, y, max(z, floor)) for x, y, z in curve(least))


def _between(four: tuple[Point, ...], share: float) -> Point:
    """Return a point of Bernstein's cubic."""
    rest = 1.0 - share
    parts = rest**3, 3.0 * rest**2 * share, 3.0 * rest * share**2, share**3
    x, y, z = (sum(part * place[axis] for part, place in zip(parts, four, strict=True)) for axis in range(3))
    return x, y, z
