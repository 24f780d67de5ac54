"""Where runs go through the room's walls, and how wide a hole they want there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from airbough_service.catalogue.fitter_rules import room
from airbough_service.core.laws.polyline import Point
from airbough_service.questions.drawing.placed.picture import FloorPoint, Hole, PlacedRun


def sides(corners: Sequence[FloorPoint]) -> list[tuple[FloorPoint, FloorPoint]]:
    """Return the walls of a room from corner to corner."""
    return list(zip(corners, (*corners[1:], corners[0]), strict=True)) if len(corners) > 1 else []


def holes(runs: Sequence[PlacedRun], corners: Sequence[FloorPoint]) -> tuple[Hole, ...]:
    """Return every hole, run by run; a run that ends at a wall or lies along it goes through none."""
    clear = room("hole_clearance").value
    found = []
    for run in runs:
        bore = max(run.start, run.end)
        for start, end in pairwise(run.line):
            for wall, place in _crossed(start, end, corners):
                found.append(Hole(run.id, place, bore + 2.0 * clear, clear, wall))
    return tuple(found)


def _crossed(start: Point, end: Point, corners: Sequence[FloorPoint]) -> Iterator[tuple[int, Point]]:
    """Give the walls that a stretch goes through, and where; elementary geometry."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    for wall, ((ax, ay), (bx, by)) in enumerate(sides(corners)):
        wx, wy = bx - ax, by - ay
        across = dx * wy - dy * wx
        if across == 0.0:
            continue
        along = ((ax - start[0]) * wy - (ay - start[1]) * wx) / across
        on_wall = ((ax - start[0]) * dy - (ay - start[1]) * dx) / across
        if 0.0 < along < 1.0 and 0.0 <= on_wall < 1.0:
            yield wall, (start[0] + along * dx, start[1] + along * dy, start[2] + along * (end[2] - start[2]))
