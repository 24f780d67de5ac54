"""The side view: heights to scale over the floor, head-room under level duct, where drops end, what rises and falls."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from airbough_service.questions.drawing import findings_list, key
from airbough_service.questions.drawing.placed import marks, table
from airbough_service.questions.drawing.placed.keys import signs_used
from airbough_service.questions.drawing.placed.labels import Labels, Line, points_along
from airbough_service.questions.drawing.placed.picture import PlacedPicture, PlacedRun
from airbough_service.questions.drawing.placed.scale import Scale, bar, grid, scale
from airbough_service.questions.drawing.placed.words import heights, length, title
from airbough_service.questions.drawing.schedule import Column
from airbough_service.questions.drawing.svg import SOFT_INK, Box, Point, Sheet
from airbough_service.questions.drawing.text import sentence, unit

MARGIN: Final = 24.0
_FIELD: Final = (900.0, 420.0)
_BESIDE: Final = (0.9, 0.5)
_SIZE: Final = 10.5
_ROOM: Final = 170.0
_SAME: Final = 0.05  # m: heights nearer than this are one
_FLAT: Final = 1.0e-3  # m
_MOST_HEADROOMS: Final = 3


@dataclass(frozen=True, slots=True)
class Headroom:
    """Free height under a level stretch.

    Attributes:
        run: id.
        under: height of its underside over the floor, m.
        start, end: where the stretch begins and ends across the picture, m.
    """

    run: str
    under: float
    start: float
    end: float


def draw(picture: PlacedPicture) -> Sheet:
    """Return the sheet of a side view."""
    sheet = Sheet()
    axis = across(picture)
    top = title(sheet, picture, MARGIN, 800.0)
    points = [(point[axis], point[2]) for run in picture.runs for point in run.course]
    points += [(corner[axis], 0.0) for corner in picture.walls]
    points += [(points[0][0], 0.0), *([] if picture.ceiling is None else [(points[0][0], picture.ceiling)])]
    own = scale(points, _FIELD, (MARGIN + 30.0, top + 22.0), picture.preset, _BESIDE)
    foot = unit("length", picture.preset)
    grid(sheet, own, (f"{'xy'[axis]}, {foot}", f"height, {foot}"))
    labels = Labels(sheet, Box(own.left, own.top, own.right, own.bottom, ""))
    _levels(sheet, picture, own, labels)
    _ducts(sheet, picture, own, labels, axis)
    for room in headrooms(picture, axis)[:_MOST_HEADROOMS]:
        _headroom(sheet, picture, room, own, labels, axis)
    _name(picture, own, labels, axis)
    bar(sheet, own, own.bottom + 40.0)
    words = "To scale, ducts too; machines and collector are not. Heights are over z = 0, taken as the floor."
    sheet.text(own.left + own.long(2 * own.step) + 70.0, own.bottom + 50.0, words, size=_SIZE, fill=SOFT_INK)
    right, low = table.draw(sheet, "Heights", _heights(picture), (MARGIN, own.bottom + 84.0))
    right = max(right, own.right)
    away = any(
        math.dist((a[axis], a[2]), (b[axis], b[2])) <= _FLAT for run in picture.runs for a, b in pairwise(run.line)
    )
    bottom = key.write(sheet, signs_used(picture, crossed=away, numbered=False), MARGIN, low + 18.0, right, 10.5)
    findings_list.draw(sheet, picture.remarks, MARGIN, bottom + 16.0, right, 11.0, "run")
    sheet.reach(right, bottom)
    return sheet


def across(picture: PlacedPicture) -> int:
    """Return which of x and y lies across the picture: the one along which the ducts reach further."""
    reach = []
    for axis in (0, 1):
        values = [point[axis] for run in picture.runs for point in run.line]
        reach.append(max(values) - min(values))
    return 0 if reach[0] >= reach[1] else 1


def headrooms(picture: PlacedPicture, axis: int) -> list[Headroom]:
    """Return the free height under level duct, the least first; one for each height, at its longest stretch."""
    found: list[Headroom] = []
    for run in picture.runs:
        for lower, upper in pairwise(run.line):
            level = abs(lower[2] - upper[2]) <= _FLAT and not run.hose
            if level and math.dist(lower, upper) > _FLAT:
                under = lower[2] - max(run.start, run.end) / 2
                found.append(Headroom(run.id, under, *sorted((lower[axis], upper[axis]))))
    found.sort(key=lambda room: room.under)
    groups: list[list[Headroom]] = []
    for room in found:
        if groups and room.under - groups[-1][0].under <= _SAME:
            groups[-1].append(room)
        else:
            groups.append([room])
    return [_told(group) for group in groups]


def _told(group: list[Headroom]) -> Headroom:
    """Return the longest stretch of the lowest in a group of nearly one height."""
    return max((room for room in group if room.under - group[0].under <= _FLAT), key=lambda room: room.end - room.start)


def _levels(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Draw floor and ceiling."""
    for height, strong in ((0.0, True), (picture.ceiling, False)):
        if height is not None:
            start, end = own.at(own.low[0], height), own.at(own.high[0], height)
            marks.level(sheet, start, end, strong=strong)
            labels.block(start[0], start[1] - 3.0, end[0], start[1] + 3.0)
            x, y = start
            name = "floor" if strong else f"ceiling, {length(height, picture.preset)}"
            sheet.text(x + 6.0, y + (14.0 if strong else -5.0), name, size=_SIZE - 0.5, fill=SOFT_INK)
            box = sheet.boxes[-1]
            labels.block(box.left, box.top, box.right, box.bottom)


def _flat(own: Scale, run: PlacedRun, axis: int) -> list[Point]:
    """Return a run's line on the picture."""
    return [own.at(point[axis], point[2]) for point in run.course]


def _bore(run: PlacedRun) -> float:
    return max(run.start, run.end)


def _ducts(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels, axis: int) -> None:
    """Draw collector and machines, then ducts from the farthest to the nearest."""
    half = marks.MACHINE_SIZE / 2
    depth = 1 - axis
    runs = sorted((run for run in picture.runs if run.line), key=lambda run: -max(point[depth] for point in run.line))
    for inlet in picture.inlets:
        x, y = own.at(inlet[axis], inlet[2])
        marks.collector(sheet, (x, y))
        reach = marks.COLLECTOR_SIZE / 2
        labels.block(x - reach, y - reach, x + reach, y + reach)
    for run in runs:
        if run.has_hood:
            x, y = _flat(own, run, axis)[-1]
            marks.machine(sheet, (x, y))
            labels.block(x - half, y - half, x + half, y + half)
    for run in runs:
        marks.outline(sheet, _flat(own, run, axis), own.long(_bore(run)))
    for run in runs:
        marks.inside(sheet, _flat(own, run, axis), own.long(_bore(run)), hose=run.hose)
        labels.block_line(_flat(own, run, axis), marks.wide(own.long(_bore(run))) / 2 + 1.5)
    for run in runs:
        for lower, upper in pairwise(run.line):
            if math.dist((lower[axis], lower[2]), (upper[axis], upper[2])) <= _FLAT:
                marks.drop(sheet, own.at(lower[axis], lower[2]), own.long(_bore(run)))
        if run.opening is not None:
            before, after = _flat(own, run, axis)[-2:]
            marks.gate(sheet, after, own.long(run.start), run.opening, (after[0] - before[0], after[1] - before[1]))


def _headroom(sheet: Sheet, picture: PlacedPicture, room: Headroom, own: Scale, labels: Labels, axis: int) -> None:
    """Draw the free height under a stretch where nothing hangs down, and write it."""
    place = _free_place(picture, room, axis)
    top, bottom = own.at(place, room.under), own.at(place, 0.0)
    marks.dimension(sheet, top, bottom)
    words = (length(room.under, picture.preset), "head-room", f"under {room.run}")
    lines = [Line(line, bold=place == 0) for place, line in enumerate(words)]
    on_it = any(labels.write_on(at, lines, _SIZE, _ROOM) for at in points_along(top, bottom))
    labels.block(top[0] - 6.0, top[1], top[0] + 6.0, bottom[1])
    if not on_it:
        labels.write((top[0], (top[1] + bottom[1]) / 2), lines, _SIZE, _ROOM, 8.0)


def _free_place(picture: PlacedPicture, room: Headroom, axis: int) -> float:
    """Return the place under a stretch that is farthest from everything that hangs down, m."""
    hanging = [point[axis] for run in picture.runs for point in run.course if point[2] < room.under]
    count = 24
    places = [room.start + (room.end - room.start) * (index + 0.5) / count for index in range(count)]
    return max(places, key=lambda place: min((abs(place - other) for other in hanging), default=0.0))


def _name(picture: PlacedPicture, own: Scale, labels: Labels, axis: int) -> None:
    """Write machines with the height of their port, the collector's inlet, then level runs."""
    preset = picture.preset
    for run in picture.runs:
        if run.line and run.has_hood:
            lines = [Line(run.machine or run.id, bold=True), Line(f"{length(run.line[-1][2], preset)} up")]
            at = _flat(own, run, axis)[-1]
            labels.write_name(at, lines, _SIZE, _ROOM, marks.MACHINE_SIZE / 2, run.machine_id)
    for inlet in picture.inlets:
        lines = [Line("collector", bold=True), Line(f"inlet {length(inlet[2], preset)} up")]
        labels.write(own.at(inlet[axis], inlet[2]), lines, _SIZE, _ROOM, marks.COLLECTOR_SIZE / 2)
    for run in picture.runs:
        stretches = list(pairwise(own.at(point[axis], point[2]) for point in run.line))
        if stretches:
            start, end = max(stretches, key=lambda stretch: abs(stretch[1][0] - stretch[0][0]))
            if abs(end[0] - start[0]) > 40.0:
                middle, *others = points_along(start, end)
                words = f"{run.id}, {length(run.length, preset)} long" if run.hanging else run.id
                near = marks.wide(own.long(_bore(run))) / 2
                labels.write(middle, [Line(words)], _SIZE - 0.5, _ROOM, near, others)


def _heights(picture: PlacedPicture) -> tuple[Column, ...]:
    """Return the schedule of heights."""
    preset = picture.preset
    runs = [run for run in picture.runs if run.line]

    def gained(run: PlacedRun) -> str:
        rise = run.line[0][2] - run.line[-1][2]
        if abs(rise) < _FLAT:
            return "level"
        return f"{'rises' if rise > 0.0 else 'falls'} {length(abs(rise), preset)}"

    return (
        Column("Run", "", tuple(run.id for run in runs), right=False, room=14.0),
        Column("From", "", tuple(length(run.line[-1][2], preset) for run in runs)),
        Column("To", "", tuple(length(run.line[0][2], preset) for run in runs)),
        Column("With the air", "", tuple(gained(run) for run in runs), right=False),
        Column("Lowest underside", "", tuple(length(_underside(run), preset) for run in runs)),
    )


def _underside(run: PlacedRun) -> float:
    """Return how high the lowest point of a run's wall is, m; an upright end counts by its centre."""
    low = min(point[2] for point in run.course)
    level = any(abs(a[2] - b[2]) <= _FLAT and min(a[2], b[2]) - low <= _FLAT for a, b in pairwise(run.course))
    return low - (_bore(run) / 2 if level else 0.0)


def description(picture: PlacedPicture) -> str:
    """Return the side view in words, for those who do not see it."""
    preset = picture.preset
    told = [f"Side view of {sum(bool(run.line) for run in picture.runs)} runs, to scale."]
    told += [
        f"Head-room of {length(room.under, preset)} under {room.run}." for room in headrooms(picture, across(picture))
    ]
    told += [sentence(f"{run.id} {heights(run, preset)}") for run in picture.runs if run.line]
    told += [sentence(remark.text) for remark in picture.remarks]
    return " ".join(told)
