"""The schedule beside a tree: one row a run, level with the run's place in the drawing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from airbough_service.core.limits import below
from airbough_service.questions.drawing.picture import DrawnRun
from airbough_service.questions.drawing.svg import (
    HAIR,
    INK,
    SOFT_INK,
    Sheet,
)
from airbough_service.questions.drawing.text import (
    clean,
    measure,
    number,
    quantity,
    shorten,
    unit,
)
from airbough_service.shop.opening import is_shut

_BAND: Final = "#f1f4f6"
_MACHINE_ROOM: Final = 15.0


@dataclass(frozen=True, slots=True)
class Column:
    """A column: heading, unit, one cell a run in document order; numbers stand to the right."""

    heading: str
    unit: str
    cells: tuple[str, ...]
    right: bool = True
    room: float | None = None

    def width(self, size: float) -> float:
        """Return the room that the column takes."""
        cut = [
            clean(cell) if self.room is None else shorten(clean(cell), size, self.room * size) for cell in self.cells
        ]
        return max(measure(text, size) for text in (self.heading, self.unit, *cut))


def columns(runs: Sequence[DrawnRun], preset: str) -> tuple[Column, ...]:
    """Return the columns that have anything to say."""
    found = [
        Column("Machine", "", tuple(run.machine for run in runs), right=False, room=_MACHINE_ROOM),
        Column("Diameter", unit("diameter", preset), tuple(_bore(run, preset) for run in runs)),
        Column("Length", "", tuple(quantity("length", run.length, preset) for run in runs)),
        Column("Flow", unit("flow", preset), _cells(runs, lambda run: run.flow, "flow", preset)),
        Column(
            "Velocity",
            unit("velocity", preset),
            _cells(runs, lambda run: None if run.idle else run.velocity, "velocity", preset),
        ),
        Column("Design", unit("flow", preset), _cells(runs, lambda run: run.design_flow, "flow", preset)),
        Column("Gets", "of design", tuple("" if run.share is None else percent(run.share) for run in runs)),
        Column("Gate", "", tuple("" if run.opening is None else state(run.opening) for run in runs), right=False),
    ]
    return tuple(column for column in found if any(column.cells))


def _bore(run: DrawnRun, preset: str) -> str:
    start, end = number("diameter", run.start, preset), number("diameter", run.end, preset)
    return start if start == end else f"{start} to {end}"


def _cells(
    runs: Sequence[DrawnRun], pick: Callable[[DrawnRun], float | None], kind: str, preset: str
) -> tuple[str, ...]:
    picked = [pick(run) for run in runs]
    return tuple("" if si is None else number(kind, si, preset) for si in picked)


def percent(share: float) -> str:
    """Return a share as whole percent; what is short of all never reads as 100."""
    whole = round(100.0 * share)
    return f"{99 if whole == 100 and below(share, 1.0) else whole}\xa0%"


def state(opening: float) -> str:
    """Return a gate's state as words."""
    if is_shut(opening):
        return "shut"
    return "open" if opening >= 1.0 else f"{max(1, min(99, round(100.0 * opening)))} % open"


def draw(
    sheet: Sheet, table: Sequence[Column], runs: Sequence[DrawnRun], rows: Sequence[int], left: float, top: float,
    row: float, size: float,
) -> float:  # fmt: skip
    """Write headings above `top` and a row of cells a run below it; return the right end."""
    gap = size * 1.3
    widths = [column.width(size) for column in table]
    right = left + sum(widths) + gap * len(widths)
    for level in range(0, len(runs), 2):
        sheet.rectangle(left - gap / 2, top + level * row, right - left, row, fill=_BAND)
    sheet.path([(left - gap / 2, top), (right - gap / 2, top)], stroke=HAIR)
    x = left
    for column, wide in zip(table, widths, strict=True):
        at, anchor = (x + wide, "end") if column.right else (x, "start")
        sheet.text(at, top - size * 1.75, column.heading, size=size, bold=True, anchor=anchor)
        if column.unit:
            sheet.text(at, top - size * 0.5, column.unit, size=size, anchor=anchor, fill=SOFT_INK)
        room = None if column.room is None else column.room * size
        for run, level, cell in zip(runs, rows, column.cells, strict=True):
            if cell:
                y = top + (level + 0.5) * row + size * 0.36
                ink = SOFT_INK if run.idle else INK
                sheet.text(at, y, cell, size=size, anchor=anchor, fill=ink, room=room)
        x += wide + gap
    sheet.reach(right - gap / 2, top + len(runs) * row)
    return right - gap / 2
