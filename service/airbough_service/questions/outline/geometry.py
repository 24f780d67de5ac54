"""Where a line runs: legs in space, laid out from turns or taken from places; elementary geometry, in metres.

x and y are level, z is up; `left` of +x is +y.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

Vector: TypeAlias = tuple[float, float, float]
ALIKE: Final = 1.0e-6  # m: places nearer than this are one
_UP: Final[Vector] = (0.0, 0.0, 1.0)
EAST: Final[Vector] = (1.0, 0.0, 0.0)


def plus(one: Vector, other: Vector, times: float = 1.0) -> Vector:
    """Return `one` + `times` * `other`."""
    return one[0] + times * other[0], one[1] + times * other[1], one[2] + times * other[2]


def dot(one: Vector, other: Vector) -> float:
    """Return the scalar product."""
    return one[0] * other[0] + one[1] * other[1] + one[2] * other[2]


def unit(vector: Vector) -> Vector | None:
    """Return the direction of a vector; None of one without length."""
    size = math.sqrt(dot(vector, vector))
    return None if size < ALIKE else (vector[0] / size, vector[1] / size, vector[2] / size)


def level(vector: Vector) -> Vector | None:
    """Return the level direction of a vector; None where it stands upright."""
    return unit((vector[0], vector[1], 0.0))


def left_of(direction: Vector) -> Vector:
    """Return the level direction to the left of a level one."""
    return -direction[1], direction[0], 0.0


def between(one: Vector, other: Vector) -> float:
    """Return the angle between two directions, deg."""
    x, y, z = one
    u, v, w = other
    across = math.hypot(y * w - z * v, z * u - x * w, x * v - y * u)
    return math.degrees(math.atan2(across, dot(one, other)))


@dataclass(frozen=True, slots=True)
class Heading:
    """A direction, and the last level one before it, by which left, right and ahead are told."""

    direction: Vector
    level: Vector

    def toward(self, word: str) -> Vector:
        """Return the direction that a word means here."""
        left = left_of(self.level)
        x, y, z = self.level
        return {
            "ahead": self.level,
            "back": (-x, -y, -z),
            "left": left,
            "right": (-left[0], -left[1], 0.0),
            "up": _UP,
            "down": (0.0, 0.0, -1.0),
        }[word]

    def turned(self, word: str, angle: float) -> Heading | None:
        """Return the heading after a turn toward a word by an angle [deg]; None where it already goes there."""
        aim = self.toward(word)
        across = unit(plus(aim, self.direction, -dot(aim, self.direction)))
        if across is None:
            return None
        turn = math.radians(angle)
        found = plus(_scaled(self.direction, math.cos(turn)), across, math.sin(turn))
        direction = (_clean(found[0]), _clean(found[1]), _clean(found[2]))
        return Heading(direction, level(direction) or self.level)


def _scaled(vector: Vector, times: float) -> Vector:
    return vector[0] * times, vector[1] * times, vector[2] * times


def _clean(number: float) -> float:
    """Return a part of a direction without the dust of cosines."""
    return 0.0 if abs(number) < 1.0e-12 else number


@dataclass(frozen=True, slots=True)
class Leg:
    """A straight part: where it begins along the line [m] and in space, and its heading up the line."""

    at: float
    start: Vector
    heading: Heading


@dataclass(frozen=True, slots=True)
class Corner:
    """A turn: how far along the line [m], and its angle [deg]; `number` of the row's turn that asked for it."""

    at: float
    angle: float
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Course:
    """A line in space from its downstream end up.

    Attributes:
        legs: at least one, by rising `at`; one without length stands where a line begins or ends with a turn.
        corners: by rising `at`.
        length: m.
    """

    legs: tuple[Leg, ...]
    corners: tuple[Corner, ...]
    length: float

    @property
    def start(self) -> Vector:
        """Its downstream end."""
        return self.legs[0].start

    def point(self, at: float) -> Vector:
        """Return the place so far along."""
        leg = self._leg(at)
        return plus(leg.start, leg.heading.direction, at - leg.at)

    def heading(self, at: float) -> Heading:
        """Return the heading so far along: before a corner that stands there, but at the very end behind it."""
        return self.legs[-1].heading if at >= self.length - ALIKE else self._leg(at).heading

    def _leg(self, at: float) -> Leg:
        found = self.legs[0]
        for leg in self.legs[1:]:
            if leg.at < at - ALIKE:
                found = leg
        return found

    def points(self, begin: float, end: float) -> tuple[Vector, ...]:
        """Return the places of a part, its corners between its two ends; none of a part without length."""
        if end - begin <= ALIKE:
            return ()
        inner = [leg.start for leg in self.legs if begin + ALIKE < leg.at < end - ALIKE]
        return self.point(begin), *inner, self.point(end)

    def nearest(self, place: Vector) -> float:
        """Return how far along the line comes nearest to a place, m."""
        ends = [leg.at for leg in self.legs[1:]] + [self.length]
        best, found = math.inf, 0.0
        for leg, end in zip(self.legs, ends, strict=True):
            along = dot(plus(place, leg.start, -1.0), leg.heading.direction)
            at = min(max(along, 0.0), end - leg.at)
            away = math.dist(place, plus(leg.start, leg.heading.direction, at))
            if away < best - ALIKE:
                best, found = away, leg.at + at
        return found


def laid(start: Vector, heading: Heading, length: float, turns: Sequence[tuple[float, float, str]]) -> Course | int:
    """Lay out a line from its turns.

    Args:
        start: of its downstream end.
        heading: there.
        length: m.
        turns: (how far along [m], angle [deg], toward), by rising distance.

    Returns:
        The line; else the number of the first turn that goes nowhere.
    """
    legs, corners = [Leg(0.0, start, heading)], []
    for number, (at, angle, toward) in enumerate(turns):
        here, last = legs[-1].heading, legs[-1]
        after = here.turned(toward, angle) if angle > 0.0 else here
        if after is None:
            return number
        legs.append(Leg(at, plus(last.start, here.direction, at - last.at), after))
        corners.append(Corner(at, angle, number))
    return Course(tuple(legs), tuple(corners), length)


def along(points: Sequence[Vector]) -> Course:
    """Return the line through places, each apart from the one before it."""
    legs, corners, passed = list[Leg](), list[Corner](), 0.0
    facing = next((found for found in map(level, _steps(points)) if found is not None), EAST)
    for begin, step in zip(points, _steps(points), strict=False):
        direction = unit(step)
        assert direction is not None
        facing = level(direction) or facing
        if legs:
            turned = between(legs[-1].heading.direction, direction)
            if turned > 0.01:
                corners.append(Corner(passed, turned))
        legs.append(Leg(passed, begin, Heading(direction, facing)))
        passed += math.dist(begin, plus(begin, step))
    return Course(tuple(legs), tuple(corners), passed)


def _steps(points: Sequence[Vector]) -> list[Vector]:
    return [plus(end, begin, -1.0) for begin, end in itertools.pairwise(points)]
