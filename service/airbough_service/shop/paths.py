"""The `path` of a run: its centreline with what follows from it, and what is wrong with it."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple, TypeAlias

from msgspec import structs

from airbough.wire.places import below
from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.catalogue.checks import check
from airbough_service.core.laws import polyline
from airbough_service.core.laws.polyline import Point, Turn

STRAIGHT_ON: Final = 1.0
"""A corner of less, deg, is no fitting: points of a straight line are seldom exactly on it."""
_NO_LENGTH: Final = 1.0e-9  # m: points nearer than this are one
_TURNS_BACK: Final = 179.0  # deg: what is beyond lies on itself
_MOST: Final = 1024  # paths that are remembered: one answer looks at each of its own several times
_LONGEST: Final = 20  # points of one that is
_Written: TypeAlias = tuple[tuple[float | str, ...], ...]


class Centreline(NamedTuple):
    """A path as it runs.

    Attributes:
        points: from the run's downstream end up, m.
        length: from corner to corner, m.
        rise: of its downstream end over the other, m.
        turns: its corners in the direction of flow.
        faults: with their paths within the run.
    """

    points: tuple[Point, ...]
    length: float
    rise: float
    turns: tuple[Turn, ...]
    faults: tuple[Fault, ...]


def centreline(path: _Written) -> Centreline:
    """Return the centreline of a path in SI."""
    return _remembered(path) if len(path) <= _LONGEST else _centreline(path)


def _centreline(path: _Written) -> Centreline:
    points = tuple([(float(x) + 0.0, float(y) + 0.0, float(z) + 0.0) for x, y, z in path])  # of two zeros one
    corners = polyline.turns(points[::-1], 0.0)
    faults = _repeated(points) or _turned_back(corners)
    turns = tuple([corner for corner in corners if corner.angle >= STRAIGHT_ON])
    return Centreline(points, polyline.length(points), points[0][2] - points[-1][2], turns, tuple(faults))


_remembered = lru_cache(_MOST)(_centreline)


def points(run: Run) -> tuple[Point, ...]:
    """Return a run's points from its downstream end up, m; none where it has no path."""
    return () if run.path is None else centreline(run.path).points


def slack(length: float) -> float:
    """Return by how much a stated length may miss that of a path, m: arcs of elbows, and what a tape misses."""
    return check("path-share").value * length + check("path-slack").value


def faults(run: Run, at: str) -> list[Fault]:
    """Return the faults of a run's path, and of a run that has neither length nor path."""
    if run.path is None:
        if run.length is not None:
            return []
        return [Fault(path=f"{at}.length", code="length-missing", detail="a run needs `length`, or `path`")]
    return [structs.replace(fault, path=below(at, fault.path)) for fault in centreline(run.path).faults]


def _repeated(line: tuple[Point, ...]) -> list[Fault]:
    detail = "this point is the one before it; each stretch of a path has a length"
    return [
        Fault(path=f"path[{number}]", code="path-stands-still", detail=detail)
        for number in range(1, len(line))
        if polyline.between(line[number - 1], line[number]) <= _NO_LENGTH
    ]


def _turned_back(corners: list[Turn]) -> list[Fault]:
    """Return the faults of corners, one at each inner point, in the direction of flow."""
    detail = "the path turns back on itself here"
    return [
        Fault(path=f"path[{number}]", code="path-turns-back", detail=detail)
        for number, corner in enumerate(reversed(corners), 1)
        if corner.angle > _TURNS_BACK
    ]
