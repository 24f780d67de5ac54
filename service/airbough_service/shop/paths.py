"""The `path` of a run: read as points, and what is wrong with it."""

from __future__ import annotations

from typing import Final

from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.core.laws import polyline
from airbough_service.core.laws.polyline import Point

_NO_LENGTH: Final = 1.0e-9  # m: points nearer than this are one
_TURNS_BACK: Final = 179.0  # deg: what is beyond lies on itself


def points(run: Run) -> list[Point]:
    """Return a run's points from its downstream end up, m; none where it has no path."""
    return [(float(x), float(y), float(z)) for x, y, z in run.path or ()]


def faults(run: Run, at: str) -> list[Fault]:
    """Return the faults of a run's path, and of a run that has neither length nor path."""
    if run.path is None:
        if run.length is not None:
            return []
        return [Fault(path=f"{at}.length", code="length-missing", detail="a run needs `length`, or `path`")]
    return _repeated(points(run), at) or _turned_back(points(run), at)


def _repeated(line: list[Point], at: str) -> list[Fault]:
    detail = "this point is the one before it; each stretch of a path has a length"
    return [
        Fault(path=f"{at}.path[{number}]", code="path-stands-still", detail=detail)
        for number in range(1, len(line))
        if polyline.between(line[number - 1], line[number]) <= _NO_LENGTH
    ]


def _turned_back(line: list[Point], at: str) -> list[Fault]:
    detail = "the path turns back on itself here"
    return [
        Fault(path=f"{at}.path[{number}]", code="path-turns-back", detail=detail)
        for number in range(1, len(line) - 1)
        if polyline.angle(*line[number - 1 : number + 2]) > _TURNS_BACK
    ]
