"""The lines along which ducts may run, seen from above: through machines, collector, walls and edges of obstacles.

For prices that grow with length some cheapest tree with turns of 90 degrees lies on these lines: Hanan, On Steiner's
problem with rectilinear distance, SIAM J. Appl. Math. 14 (1966), 255-265 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

ROUND: Final = ((1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1))
"""Directions of the air, x and y; the turn from one to the next is 45 degrees."""
SQUARE: Final = ROUND[::2]
"""Those of which the turn from one to the next is 90 degrees."""
APART: Final = 1.0e-6  # m, below which two lines are one


class Box(NamedTuple):
    """A level rectangle, m."""

    left: float
    low: float
    right: float
    high: float


@dataclass(frozen=True, slots=True)
class Lattice:
    """Points and the ways between neighbours.

    Attributes:
        x, y: shape (n,), place of each point, m.
        to: shape (headings, n), the neighbour in each heading; -1 where a wall or an obstacle is in the way.
        length: shape (headings, n), the way there, m.
    """

    x: Floats
    y: Floats
    to: Integers
    length: Floats

    @property
    def headings(self) -> tuple[tuple[int, int], ...]:
        """Directions of the air."""
        return ROUND if len(self.to) == len(ROUND) else SQUARE

    def heading(self, one: int, other: int) -> int:
        """Return the heading from one point to its neighbour.

        Raises:
            LookupError: where no way leads there.
        """
        found = np.flatnonzero(self.to[:, one] == other)
        if found.size == 0:
            raise LookupError(f"no way leads from point {one} to {other}")
        return int(found[0])

    def steps(self, one: int, other: int) -> int:
        """Return by how many steps two headings differ, to either side."""
        around = (one - other) % len(self.to)
        return min(around, len(self.to) - around)

    def distance(self, one: int, other: int) -> float:
        """Return how far a neighbour is, m."""
        return float(self.length[self.heading(one, other), one])

    def at(self, x: float, y: float) -> int:
        """Return the point at a place.

        Raises:
            LookupError: where no point is.
        """
        found = np.flatnonzero(np.hypot(self.x - x, self.y - y) < 2.0 * APART)
        if found.size == 0:
            raise LookupError(f"no duct may run at {x}, {y}")
        return int(found[0])


def lattice(
    room: list[tuple[float, float]],
    places: list[tuple[float, float]],
    forbidden: list[Box],
    corridors: list[Box],
    clearance: float = 0.0,
    *,
    diagonal: bool = False,
) -> Lattice:
    """Return the lattice of a room.

    Args:
        room: corners in order, m; walls between neighbouring ones.
        places: of machines, the collector's inlet and whatever else has a line through it.
        forbidden: where no duct may run; along its edge one may.
        corridors: outside of which no duct may run; empty: anywhere in the room.
        clearance: from a wall, m, nearer than which no duct may run along it; toward it one may.
        diagonal: whether lines of 45 degrees run through the places too.
    """
    sides = [wall_line(room, number, clearance) for number in range(len(room))]
    boxes = forbidden + corridors
    xs = _lines([x for x, _ in places] + [at for axis, at in sides if axis != 1] + [e for b in boxes for e in b[::2]])
    ys = _lines([y for _, y in places] + [at for axis, at in sides if axis == 1] + [e for b in boxes for e in b[1::2]])
    slanting = [corner for number, corner in enumerate(room) if sides[number][0] < 0 or sides[number - 1][0] < 0]
    xs, ys = _lines(xs + [x for x, _ in slanting]), _lines(ys + [y for _, y in slanting])
    x, y = np.repeat(xs, len(ys)), np.tile(ys, len(xs))
    rising = _lines([y - x for x, y in places]) if diagonal else []
    falling = _lines([-y - x for x, y in places]) if diagonal else []
    for more_x, more_y in _crossings(xs, ys, rising, falling):
        if np.hypot(x - more_x, y - more_y).min() > 2.0 * APART:
            x, y = np.append(x, more_x), np.append(y, more_y)
    headings = ROUND if diagonal else SQUARE
    across = (ys, rising, [-at for at in xs], falling) if diagonal else (ys, [-at for at in xs])
    to, length = np.full((len(headings), x.size), -1, np.int64), np.zeros((len(headings), x.size))
    for heading, at in ((heading, at) for heading, values in enumerate(across) for at in values):
        dx, dy = headings[heading]
        line = np.flatnonzero(np.abs(dx * y - dy * x - at) < 2.0 * APART)
        line = line[np.argsort((dx * x + dy * y)[line])]
        for one, other in pairwise(map(int, line)):
            ends = (float(x[one]), float(y[one])), (float(x[other]), float(y[other]))
            if not _open(*ends, room, forbidden, corridors):
                continue
            if clearance > 0.0 and dx * dy == 0 and _beside_wall(*ends, room, clearance):
                continue
            back = heading + len(headings) // 2
            to[heading, one], to[back, other] = other, one
            length[heading, one] = length[back, other] = math.dist(*ends)
    return _used(x, y, to, length)


def _crossings(
    xs: list[float], ys: list[float], rising: list[float], falling: list[float]
) -> Iterator[tuple[float, float]]:
    """Yield where diagonals, of one y - x or -y - x each, cross the lines and one another inside the outermost."""
    found = [(x, at + x) for at in rising for x in xs] + [(y - at, y) for at in rising for y in ys]
    found += [(x, -at - x) for at in falling for x in xs] + [(-at - y, y) for at in falling for y in ys]
    found += [(-(one + other) / 2.0, (one - other) / 2.0) for one in rising for other in falling]
    for x, y in found:
        if xs[0] - APART < x < xs[-1] + APART and ys[0] - APART < y < ys[-1] + APART:
            yield x, y


def wall_line(room: list[tuple[float, float]], number: int, clearance: float) -> tuple[int, float]:
    """Return the line along a wall at its clearance, inside the room: axis (0: of one x, 1: of one y) and place, m.

    The axis of a slanting wall is -1.
    """
    (x1, y1), (x2, y2) = room[number], room[(number + 1) % len(room)]
    if abs(x1 - x2) < APART:
        middle = (y1 + y2) / 2.0
        return 0, x1 + (clearance if inside(x1 + 2.0 * APART, middle, room, edge=False) else -clearance)
    if abs(y1 - y2) < APART:
        middle = (x1 + x2) / 2.0
        return 1, y1 + (clearance if inside(middle, y1 + 2.0 * APART, room, edge=False) else -clearance)
    return -1, 0.0


def _beside_wall(
    start: tuple[float, float], end: tuple[float, float], room: list[tuple[float, float]], clearance: float
) -> bool:
    """Return whether a way runs along a wall, nearer than its clearance."""
    axis = 0 if abs(start[0] - end[0]) < APART else 1
    low, high = sorted((start[1 - axis], end[1 - axis]))
    for one, other in zip(room, room[1:] + room[:1], strict=True):
        if abs(one[axis] - other[axis]) >= APART or abs(one[axis] - start[axis]) > clearance - APART:
            continue
        first, last = sorted((one[1 - axis], other[1 - axis]))
        if min(high, last) - max(low, first) > APART:
            return True
    return False


def _lines(values: list[float]) -> list[float]:
    out: list[float] = []
    for value in sorted(values):
        if not out or value - out[-1] > APART:
            out.append(value)
    return out


def _open(
    start: tuple[float, float],
    end: tuple[float, float],
    room: list[tuple[float, float]],
    forbidden: list[Box],
    corridors: list[Box],
) -> bool:
    """Return whether a duct may run between two neighbouring points; boxes are judged at the middle, having lines."""
    x, y = (start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0
    if not inside(x, y, room) or any(
        _crosses(start, end, wall) for wall in zip(room, room[1:] + room[:1], strict=True)
    ):
        return False
    if any(box.left + APART < x < box.right - APART and box.low + APART < y < box.high - APART for box in forbidden):
        return False
    along = [box.left - APART < x < box.right + APART and box.low - APART < y < box.high + APART for box in corridors]
    return any(along) or not corridors


def inside(x: float, y: float, room: list[tuple[float, float]], *, edge: bool = True) -> bool:
    """Return whether a point is in the room, by the number of walls that a ray crosses; on a wall: `edge`."""
    crossed = False
    for (x1, y1), (x2, y2) in zip(room, room[1:] + room[:1], strict=True):
        along = math.hypot(x2 - x1, y2 - y1)
        away = abs((x2 - x1) * (y - y1) - (y2 - y1) * (x - x1)) / along if along > 0.0 else math.inf
        between = min(x1, x2) - APART <= x <= max(x1, x2) + APART and min(y1, y2) - APART <= y <= max(y1, y2) + APART
        if away < APART and between:
            return edge
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            crossed = not crossed
    return crossed


def _crosses(
    start: tuple[float, float], end: tuple[float, float], wall: tuple[tuple[float, float], tuple[float, float]]
) -> bool:
    """Return whether a way and a wall have an inner point of both in common: only a slanting wall can."""
    sides = [_side(*wall, start), _side(*wall, end), _side(start, end, wall[0]), _side(start, end, wall[1])]
    return sides[0] * sides[1] < 0.0 and sides[2] * sides[3] < 0.0


def _side(one: tuple[float, float], other: tuple[float, float], point: tuple[float, float]) -> float:
    """Return on which side of a line a point is: the distance in m, 0 on it."""
    across, along = other[0] - one[0], other[1] - one[1]
    away = (across * (point[1] - one[1]) - along * (point[0] - one[0])) / math.hypot(across, along)
    return 0.0 if abs(away) < APART else away


def _used(x: Floats, y: Floats, to: Integers, length: Floats) -> Lattice:
    """Leave out the points that no way reaches."""
    reached = np.zeros(x.size, np.bool_)
    reached[(to >= 0).any(axis=0)] = True
    reached[to[to >= 0]] = True
    number = np.cumsum(reached) - 1
    kept = np.where(to >= 0, number[to], -1)[:, reached]
    return Lattice(x[reached], y[reached], np.ascontiguousarray(kept), np.ascontiguousarray(length[:, reached]))
