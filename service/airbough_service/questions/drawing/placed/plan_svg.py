"""The plan: the shop seen from above, to scale, with its schedule of runs and of wyes."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from airbough_service.questions.drawing import findings_list, key
from airbough_service.questions.drawing.placed import marks, table
from airbough_service.questions.drawing.placed.holes import sides
from airbough_service.questions.drawing.placed.keys import signs_used
from airbough_service.questions.drawing.placed.labels import Labels, Line, points_along
from airbough_service.questions.drawing.placed.picture import FloorPoint, PlacedPicture, PlacedRun
from airbough_service.questions.drawing.placed.scale import Scale, bar, grid, scale
from airbough_service.questions.drawing.placed.words import (
    heights,
    hole_table,
    hole_words,
    plan_table,
    title,
    wye_table,
)
from airbough_service.questions.drawing.schedule import state
from airbough_service.questions.drawing.svg import INK, SOFT_INK, Box, Point, Sheet
from airbough_service.questions.drawing.text import number, quantity, sentence, unit

MARGIN: Final = 24.0
_FIELDS: Final = ((640.0, 760.0), (900.0, 1070.0), (1260.0, 1500.0), (1900.0, 2260.0))
"""Sizes tried: the first in which all machines are named."""
_BESIDE: Final = 0.6  # m kept free around what is drawn
_SIZE: Final = 10.5
_ROOM: Final = 150.0
_SHORT: Final = 26.0  # px: what is shorter on the plan is named in the schedule alone
_TRUE_IN: Final = "To scale, ducts too; machines and collector are not."
_APART: Final = 17.0  # px from one wye's number to the next, at least
_BESIDE_WYE: Final = (18.0, 26.0, 36.0, 50.0)  # px from a wye to its number, where another's stands on it
_AROUND: Final = ((0.707, -0.707), (0.707, 0.707), (-0.707, -0.707), (-0.707, 0.707), (0, -1), (0, 1), (1, 0), (-1, 0))
_KEPT_FREE: Final = "no duct here"
_NAMED_WIDE: Final = 66.0  # px of a box in which that stands
_NAMED_HIGH: Final = 15.0
_UPRIGHT: Final = 1.0e-3  # m


def draw(picture: PlacedPicture) -> Sheet:
    """Return the sheet of a plan, as large as it takes to name its machines."""
    for field in _FIELDS[:-1]:
        sheet = _drawn(picture, field, whole=False)
        if sheet is not None:
            return sheet
    largest = _drawn(picture, _FIELDS[-1], whole=True)
    assert largest is not None
    return largest


def _drawn(picture: PlacedPicture, field: tuple[float, float], *, whole: bool) -> Sheet | None:
    """Return the sheet of a plan in a field of this size; None where a machine has no room for its name in it.

    Args:
        picture: what is drawn.
        field: width and height, px.
        whole: whether to draw it even so.
    """
    sheet = Sheet()
    top = title(sheet, picture, MARGIN, 700.0)
    points = [(x, y) for run in picture.runs for x, y, _ in run.course] + list(picture.walls)
    points += [corner for box in (*picture.boxes, *picture.corridors) for corner in box]
    own = scale(points, field, (MARGIN + 30.0, top + 22.0), picture.preset, (_BESIDE, _BESIDE))
    foot = unit("length", picture.preset)
    grid(sheet, own, (f"x, {foot}", f"y, {foot}"))
    labels = Labels(sheet, Box(own.left, own.top, own.right, own.bottom, ""))
    marks.corridors(sheet, [(own.at(*one), own.at(*other)) for one, other in picture.corridors])
    _boxes(sheet, picture, own, labels)
    _walls(sheet, picture, own, labels)
    _collectors(sheet, picture, own, labels)
    _ducts(sheet, picture, own, labels)
    if not _name_machines(picture, own, labels) and not whole:
        return None
    _name(picture, own, labels)
    _name_wall(picture, own, labels)
    _name_boxes(picture, own, labels)
    bar(sheet, own, own.bottom + 40.0)
    words_at = own.left + own.long(2 * own.step) + 70.0
    wide = sheet.text(words_at, own.bottom + 50.0, _TRUE_IN, size=_SIZE, fill=SOFT_INK)
    tables_at = max(own.right + 34.0, words_at + wide + 20.0)
    right, low = table.draw(sheet, "Runs", plan_table(picture), (tables_at, own.top - 6.0))
    if picture.wyes:
        other, low = table.draw(sheet, "Wyes and tees", wye_table(picture), (tables_at, low + 26.0))
        right = max(right, other)
    if picture.holes:
        other, low = table.draw(sheet, "Holes in walls", hole_table(picture), (tables_at, low + 26.0))
        right = max(right, other)
    upright = any(math.dist(a[:2], b[:2]) <= _UPRIGHT for run in picture.runs for a, b in pairwise(run.line))
    bottom = key.write(
        sheet,
        signs_used(picture, crossed=upright, numbered=True),
        MARGIN,
        max(low, own.bottom + 62.0) + 18.0,
        right,
        10.5,
    )
    findings_list.draw(sheet, picture.remarks, MARGIN, bottom + 16.0, right, 11.0, "run")
    sheet.reach(right, bottom)
    return sheet


def _walls(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Draw the room; the wall nearest to the collector is marked."""
    walls = sides(picture.walls)
    if not walls:
        return
    nearest = _collectors_wall(picture, walls)
    middle = tuple(sum(corner[axis] for corner in picture.walls) / len(picture.walls) for axis in (0, 1))
    for index, (start, end) in enumerate(walls):
        first, last = own.at(*start), own.at(*end)
        marks.wall(sheet, first, last, marked=index == nearest, outward=_outward(first, last, own.at(*middle)))
        labels.block_line([first, last], 4.0)
    for hole in picture.holes:
        marks.hole(sheet, own.at(*hole.place[:2]), own.long(hole.diameter), *(own.at(*end) for end in walls[hole.wall]))


def _boxes(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Draw what is kept free of ducts, and write so in it where there is room."""
    for corners in picture.boxes:
        one, other = (own.at(*corner) for corner in corners)
        marks.box(sheet, one, other)
        (left, right), (top, bottom) = (sorted(ends) for ends in zip(one, other, strict=True))
        labels.block(left, top, right, bottom)
        if right - left >= _NAMED_WIDE and bottom - top >= _NAMED_HIGH:
            middle = (left + right) / 2, (top + bottom) / 2 + _SIZE / 3
            sheet.text(*middle, _KEPT_FREE, size=_SIZE - 0.5, anchor="middle", fill=SOFT_INK)


def _name_boxes(picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Write beside small boxes what they are."""
    for corners in picture.boxes:
        (ax, ay), (bx, by) = (own.at(*corner) for corner in corners)
        if abs(ax - bx) < _NAMED_WIDE or abs(ay - by) < _NAMED_HIGH:
            away = min(abs(ax - bx), abs(ay - by)) / 2
            labels.write(((ax + bx) / 2, (ay + by) / 2), [Line(_KEPT_FREE)], _SIZE - 0.5, _ROOM, away)


def _name_wall(picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Write which wall is the collector's."""
    walls = sides(picture.walls)
    nearest = _collectors_wall(picture, walls)
    if nearest is not None:
        (ax, ay), (bx, by) = (own.at(*corner) for corner in walls[nearest])
        labels.write(((ax + bx) / 2, (ay + by) / 2), [Line("collector's wall")], _SIZE, _ROOM, 6.0)


def _collectors_wall(picture: PlacedPicture, walls: list[tuple[FloorPoint, FloorPoint]]) -> int | None:
    """Return the number of the wall that the collector's inlet is nearest to."""
    if not picture.inlets or not walls:
        return None
    x, y, _ = picture.inlets[0]
    return min(range(len(walls)), key=lambda index: _away((x, y), *walls[index]))


def _away(point: FloorPoint, start: FloorPoint, end: FloorPoint) -> float:
    """Return the distance of a point from a straight piece, m."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    whole = dx * dx + dy * dy
    share = 0.0 if whole == 0.0 else ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / whole
    share = min(1.0, max(0.0, share))
    return math.dist(point, (start[0] + share * dx, start[1] + share * dy))


def _outward(start: Point, end: Point, middle: tuple[float, ...]) -> Point:
    """Return the direction out of the room, across a wall."""
    length = math.dist(start, end) or 1.0
    across = (-(end[1] - start[1]) / length, (end[0] - start[0]) / length)
    inward = (middle[0] - start[0]) * across[0] + (middle[1] - start[1]) * across[1]
    return across if inward < 0.0 else (-across[0], -across[1])


def _collectors(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    half = marks.COLLECTOR_SIZE / 2
    for x, y, _ in picture.inlets:
        at = own.at(x, y)
        marks.collector(sheet, at)
        labels.block(at[0] - half, at[1] - half, at[0] + half, at[1] + half)


def _ducts(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Draw machines, then ducts from the lowest up, then what stands on them."""
    half = marks.MACHINE_SIZE / 2
    runs = sorted((run for run in picture.runs if run.line), key=lambda run: max(point[2] for point in run.line))
    for run in runs:
        if run.has_hood:
            x, y = own.at(*run.line[-1][:2])
            marks.machine(sheet, (x, y))
            labels.block(x - half, y - half, x + half, y + half)
    courses = {run.id: [own.at(x, y) for x, y, _ in run.course] for run in runs}
    for run in runs:
        marks.outline(sheet, courses[run.id], own.long(_bore(run)))
    for run in runs:
        marks.inside(sheet, courses[run.id], own.long(_bore(run)), hose=run.hose)
        labels.block_line(courses[run.id], marks.wide(own.long(_bore(run))) / 2 + 1.5)
    for run in runs:
        _upright(sheet, run, own)
        if run.opening is not None:
            marks.gate(sheet, courses[run.id][-1], own.long(run.start), run.opening, _heading(courses[run.id]))
    _wyes(sheet, picture, own, labels)


def _wyes(sheet: Sheet, picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Draw the wyes' numbers, each on its wye; where another stands there, beside it with a line that leads to it."""
    places = [own.at(*wye.place[:2]) for wye in picture.wyes]
    drawn: list[Point] = []
    for index, (x, y) in enumerate(places):
        later = [other for other in places[index + 1 :] if math.dist((x, y), other) >= _APART]
        spots = [(x, y), *((x + across * away, y + down * away) for away in _BESIDE_WYE for across, down in _AROUND)]
        free = (spot for spot in spots if all(math.dist(spot, other) >= _APART for other in (*drawn, *later)))
        at = next(free, (x + _APART * len(drawn), y))
        if at != (x, y):
            sheet.path([(x, y), at], width=0.9)
            sheet.circle(x, y, 2.0, fill=INK)
        drawn.append(at)
    for wye, (x, y) in zip(picture.wyes, drawn, strict=True):
        marks.wye(sheet, (x, y), wye.number)
        labels.block(x - 9.0, y - 9.0, x + 9.0, y + 9.0)


def _bore(run: PlacedRun) -> float:
    """Return the diameter in which a run is drawn, m."""
    return max(run.start, run.end)


def _upright(sheet: Sheet, run: PlacedRun, own: Scale) -> None:
    """Draw the run's upright stretches, which from above are circles."""
    for lower, upper in pairwise(run.line):
        if math.dist(lower[:2], upper[:2]) <= _UPRIGHT:
            marks.drop(sheet, own.at(*lower[:2]), own.long(_bore(run)))


def _heading(course: list[Point]) -> Point:
    """Return the direction in which a run's upstream end lies on the plan."""
    for before, after in reversed(list(pairwise(course))):
        if math.dist(before, after) > 0.5:
            return after[0] - before[0], after[1] - before[1]
    return 0.0, 1.0


def _name_machines(picture: PlacedPicture, own: Scale, labels: Labels) -> bool:
    """Write machines; return whether all of them have room, for a name stands nowhere else with its place."""
    by_place = {run.line[-1][:2]: run for run in picture.runs if run.line and run.opening is not None}
    named = True
    for run in picture.runs:
        if run.line and run.has_hood:
            gated = run if run.opening is not None else by_place.get(run.line[0][:2])
            lines = [Line(run.machine or run.id, bold=True)]
            if gated is not None and gated.opening is not None:
                lines.append(Line(f"gate {state(gated.opening)}"))
            at = own.at(*run.line[-1][:2])
            same = run.machine_id and (run.machine_id, *lines)
            named = labels.write_name(at, lines, _SIZE, _ROOM, marks.MACHINE_SIZE / 2, same) and named
    return named


def _name(picture: PlacedPicture, own: Scale, labels: Labels) -> None:
    """Write holes, then the collector, then runs along their longest stretch."""
    for hole in picture.holes:
        words = f"hole {quantity('diameter', hole.diameter, picture.preset)}"
        labels.write(own.at(*hole.place[:2]), [Line(words)], _SIZE, _ROOM, own.long(hole.diameter) / 2 + 2.0)
    for x, y, _ in picture.inlets:
        labels.write(own.at(x, y), [Line("collector", bold=True)], _SIZE, _ROOM, marks.COLLECTOR_SIZE / 2)
    for run in picture.runs:
        if run.line:
            _name_run(run, own, labels, picture.preset)


def _name_run(run: PlacedRun, own: Scale, labels: Labels, preset: str) -> None:
    """Write a run's id and diameter beside its longest stretch on the plan."""
    stretches = [(own.at(*a[:2]), own.at(*b[:2])) for a, b in pairwise(run.line)]
    start, end = max(stretches, key=lambda stretch: math.dist(*stretch))
    if math.dist(start, end) < _SHORT:
        return
    middle, *others = points_along(start, end)
    lines = [Line(f"{run.id}, {quantity('diameter', run.start, preset)}")]
    if run.hanging:
        lines.append(Line(f"{quantity('length', run.length, preset)} long"))
    labels.write(middle, lines, _SIZE - 0.5, _ROOM, marks.wide(own.long(_bore(run))) / 2, others)


def description(picture: PlacedPicture) -> str:
    """Return the plan in words, for those who do not see it."""
    preset = picture.preset
    told = [f"Plan of {sum(bool(run.line) for run in picture.runs)} runs, to scale."]
    for run in picture.runs:
        if run.line:
            ends = " to ".join(_place(run.line[end], preset) for end in (0, -1))
            long = f", {quantity('length', run.length, preset)} long" if run.hanging else ""
            words = f"{run.id}, {quantity('diameter', run.start, preset)}{long}: from {ends}, {heights(run, preset)}"
            told.append(sentence(words))
    told += [sentence(hole_words(hole, preset)) for hole in picture.holes]
    for words, boxes in (("no duct", picture.boxes), ("ducts may run", picture.corridors)):
        for box in boxes:
            told.append(sentence(f"{words} from {' to '.join(_place((x, y, 0.0), preset) for x, y in box)}"))
    told += [sentence(remark.text) for remark in picture.remarks]
    return " ".join(told)


def _place(point: tuple[float, float, float], preset: str) -> str:
    """Return a place as words."""
    x, y = (number("length", value, preset) for value in point[:2])
    return f"x {x}, y {y}"
