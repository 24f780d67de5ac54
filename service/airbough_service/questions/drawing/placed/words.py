"""Titles, tables and sentences that plan and side share."""

from __future__ import annotations

import math
from collections import Counter

from airbough_service.questions.drawing.placed.picture import Hole, PlacedPicture, PlacedRun, Wye
from airbough_service.questions.drawing.schedule import Column, state
from airbough_service.questions.drawing.svg import SOFT_INK, Sheet
from airbough_service.questions.drawing.text import number, quantity, unit, wrap


def title(sheet: Sheet, picture: PlacedPicture, margin: float, room: float) -> float:
    """Write the title and its lines; return where they end."""
    y = margin + 14.0
    sheet.text(margin, y, picture.title, size=17.0, bold=True, room=room)
    lines = list(picture.lines)
    if picture.unplaced:
        lines.append(f"Not drawn, for they have no path: {', '.join(picture.unplaced)}")
    for line in lines:
        for words in wrap(line, 11.5, room):
            y += 17.0
            sheet.text(margin, y, words, size=11.5, fill=SOFT_INK)
    return y + 12.0


def length(si: float, preset: str) -> str:
    """Return a length that a person measures with a tape."""
    return quantity("length", si, preset)


def plan_table(picture: PlacedPicture) -> tuple[Column, ...]:
    """Return the schedule of the runs: what is bought and hung."""
    preset, runs = picture.preset, picture.runs
    return (
        Column("Run", "", tuple(run.id for run in runs), right=False, room=14.0),
        Column("Diameter", unit("diameter", preset), tuple(bores(run, preset) for run in runs)),
        Column("Length", "", tuple(length(run.length, preset) for run in runs)),
        Column("Turns", "deg", tuple(turns(run) for run in runs), right=False, room=12.0),
        Column("Gate", "", tuple("" if run.opening is None else state(run.opening) for run in runs), right=False),
    )


def wye_table(picture: PlacedPicture) -> tuple[Column, ...]:
    """Return the schedule of the wyes."""
    preset, wyes = picture.preset, picture.wyes
    inch = unit("diameter", preset)

    def branches(wye: Wye) -> str:
        return " and ".join(number("diameter", bore, preset) for bore, _ in wye.branches)

    def straight(wye: Wye) -> str:
        """Return the bore that arrives straight, and the outlet's where it changes size before the wye or in it."""
        if wye.straight is None:
            return "none"
        ends = (number("diameter", bore, preset) for bore in (wye.straight, wye.outlet))
        return " to ".join(dict.fromkeys(ends))

    def angles(wye: Wye) -> str:
        return " and ".join(f"{angle:g}" for angle in dict.fromkeys(angle for _, angle in wye.branches))

    return (
        Column("Wye", "", tuple(str(wye.number) for wye in wyes)),
        Column("Out", inch, tuple(number("diameter", wye.outlet, preset) for wye in wyes)),
        Column("Straight", inch, tuple(straight(wye) for wye in wyes)),
        Column("Branch", inch, tuple(branches(wye) for wye in wyes)),
        Column("Angle", "deg", tuple(angles(wye) for wye in wyes)),
    )  # fmt: skip


def hole_table(picture: PlacedPicture) -> tuple[Column, ...]:
    """Return the schedule of the holes in walls: how wide, how high their middle lies, how far along the wall."""
    preset, holes = picture.preset, picture.holes
    corner = [math.dist(picture.walls[hole.wall], hole.place[:2]) for hole in holes]
    return (
        Column("Run", "", tuple(hole.run for hole in holes), right=False, room=14.0),
        Column("Hole", unit("diameter", preset), tuple(number("diameter", hole.diameter, preset) for hole in holes)),
        Column("Middle up", "", tuple(length(hole.place[2], preset) for hole in holes)),
        Column("From corner", "", tuple(length(along, preset) for along in corner)),
    )


def hole_words(hole: Hole, preset: str) -> str:
    """Return a hole as a sentence."""
    wide, clear = quantity("diameter", hole.diameter, preset), quantity("diameter", hole.clear, preset)
    return f"{hole.run} goes through a wall {length(hole.place[2], preset)} up: a hole of {wide}, {clear} all round"


def bores(run: PlacedRun, preset: str) -> str:
    """Return a run's diameter, or both where it changes."""
    start, end = number("diameter", run.start, preset), number("diameter", run.end, preset)
    return start if start == end else f"{start} to {end}"


def turns(run: PlacedRun) -> str:
    """Return a run's corners, equal ones counted."""
    counted = Counter(round(angle) for angle in run.turns)
    return ", ".join(f"{count} x {angle}" for angle, count in counted.items())


def heights(run: PlacedRun, preset: str) -> str:
    """Return how a run lies: level, or how far it rises or falls in the direction of flow."""
    gained = run.line[0][2] - run.line[-1][2]
    if abs(gained) < 1.0e-3:
        return f"level at {length(run.line[0][2], preset)}"
    way = "rises" if gained > 0.0 else "falls"
    return f"{way} {length(abs(gained), preset)} to {length(run.line[0][2], preset)}"
