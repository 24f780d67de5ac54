"""The measuring sheet: one page to print, to be filled in with a tape measure and typed into the template's table.

`python -m airbough_service.api.document.measuring_sheet us` prints it as HTML.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from html import escape
from typing import Final

from airbough.wire.outline import OutlineHeading, OutlineTemplateRequest
from airbough.wire.quantity import Preset
from airbough_service.questions.outline import template

NAMES: Final[dict[str, Preset]] = {"measuring-sheet-us": "us", "measuring-sheet-metric": "metric"}
"""What `/docs/` serves it as, and in which units."""

_WIDTH: Final = 190.0  # mm, fits both letter and A4 with margins
_HEIGHT: Final = 255.0
_ROW: Final = 6.6
_LINES: Final = 4  # rows for lines
_MACHINES: Final = 11
_LINE_COLUMNS: Final = {"id": 24, "into": 22, "at": 16, "length": 20, "start": 22, "turns": 62, "diameter": 24}
_MACHINE_COLUMNS: Final = {
    "id": 23,
    "line": 18,
    "machine": 31,
    "size": 16,
    "at": 15,
    "off": 15,
    "drop": 16,
    "port": 17,
    "hose": 17,
    "flow": 22,
}
_STEPS: Final = (
    "1 Draw the shop from above on the back. Give each line and each machine a name of its own.",
    "2 Pull the tape along each line from the collector; write where it turns and how long it is.",
    "3 Each machine: A along the line from its lower end, B level off it, C down to the hose, D hose, E port.",
    "4 A machine with a further port has a further row: its name, E and D. Leave empty what you do not know.",
)


def html(preset: Preset) -> str:
    """Return the page in a preset's units."""
    return "".join(
        (
            '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Measuring sheet</title>',
            '<link rel="icon" href="data:,">',
            f"</head><body>{svg(preset)}</body></html>\n",
        )
    )


def svg(preset: Preset) -> str:
    """Return the sheet as a drawing of its own, lengths in mm."""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="100%" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" role="img" '
    head += 'font-family="sans-serif" stroke-width="0.25" fill="none" stroke="#000">'
    return "".join((head, "<title>Measuring sheet</title>", *_parts(preset), "</svg>"))


def _parts(preset: Preset) -> Iterator[str]:
    told = template.answer(OutlineTemplateRequest(units=preset))
    headings = {heading.name: heading for heading in told.headings}
    yield _text(0, 7, "Measuring sheet for dust ducts", 6)
    yield _text(112, 7, "Shop", 3.2) + _stroke((120, 7.6), (_WIDTH, 7.6))
    for number, step in enumerate(_STEPS):
        yield _text(0, 14 + 4.4 * number, step, 3)
    yield from _sketch(34)
    yield _text(0, 98, "Collector, as sold", 4)
    settings = ("greatest_flow", "greatest_suction", "dust")
    for place, name in enumerate(settings):
        yield _field(64.0 * place, 104, headings[name].heading, 60)
    yield _text(0, 115, "Lines, from the collector outwards", 4)
    yield from _table(117, _LINE_COLUMNS, _LINES, headings)
    below = 117 + (_LINES + 1) * _ROW
    yield _text(0, below + 9, "Machines, one row each", 4)
    yield from _table(below + 11, _MACHINE_COLUMNS, _MACHINES, headings)
    yield _text(0, _HEIGHT - 7, _CAUTION, 2.6)
    yield _text(0, _HEIGHT - 3, _NEXT, 2.6)


_CAUTION: Final = (
    "What is computed from this is an estimate. Measure the finished ducts; local codes and licensed practice decide."
)
_NEXT: Final = (
    "Type the rows under the headings of /v1/outlines/template?format=csv and send the table to /v1/outlines/tree."
)


def _sketch(top: float) -> Iterator[str]:
    """Yield the sketch of one drop from the side and from above, with the letters that the steps name."""
    ceiling, floor = top + 10, top + 56
    yield _text(0, top + 2, "From the side", 3.2)
    yield _stroke((0, floor), (112, floor))
    yield _box(4, ceiling - 4, 14, floor - ceiling + 4) + _text(5, floor - 20, "collector", 2.6)
    yield _pipe((19, ceiling), (104, ceiling))
    yield _pipe((70, ceiling), (70, floor - 24)) + _pipe((70, floor - 24), (86, floor - 14), thin=True)
    yield _box(86, floor - 18, 20, 18) + _text(88, floor - 7, "machine", 2.6)
    yield _measure((18, ceiling - 4), (70, ceiling - 4), "A at")
    yield _measure((64, ceiling), (64, floor - 24), "C drop")
    yield _text(80, floor - 21, "D hose", 3) + _text(94, floor - 19.5, "E port", 3)
    yield _text(122, top + 4, "From above", 3.2)
    yield _pipe((122, top + 14), (188, top + 14)) + _pipe((156, top + 14), (156, top + 38))
    yield _box(148, top + 42, 18, 11) + _text(149.5, top + 49, "machine", 2.6)
    yield _pipe((156, top + 38), (156, top + 42), thin=True)
    yield _measure((162, top + 14), (162, top + 38), "B off")
    yield _measure((122, top + 9), (156, top + 9), "A at")


def _table(top: float, columns: dict[str, int], rows: int, headings: dict[str, OutlineHeading]) -> Iterator[str]:
    """Yield an empty table under its headings."""
    bottom, x = top + (rows + 1) * _ROW, 0.0
    for row in range(rows + 2):
        yield _stroke((0, top + row * _ROW), (float(sum(columns.values())), top + row * _ROW))
    for name, width in columns.items():
        yield _stroke((x, top), (x, bottom)) + _text(x + 0.8, top + 4.6, headings[name].heading, 2.8)
        x += width
    yield _stroke((x, top), (x, bottom))


def _field(x: float, y: float, label: str, width: float) -> str:
    return _text(x, y, label, 2.8) + _stroke((x + 34, y + 0.6), (x + width, y + 0.6))


def _measure(start: tuple[float, float], end: tuple[float, float], label: str) -> str:
    """Return a measured distance: a line with ticks at its ends, and its letter."""
    upright = start[0] == end[0]
    dx, dy = (1.5, 0.0) if upright else (0.0, 1.5)
    ticks = "".join(_stroke((x - dx, y - dy), (x + dx, y + dy)) for x, y in (start, end))
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    at = (x + 1.5, y) if upright and x > 100 else (x - 12, y) if upright else (x - 4, y - 1.2)
    return _stroke(start, end) + ticks + _text(*at, label, 3)


def _pipe(start: tuple[float, float], end: tuple[float, float], *, thin: bool = False) -> str:
    (x, y), (u, v) = start, end
    wide = ' stroke-dasharray="2 1" stroke-width="1.2"' if thin else ' stroke-width="2"'
    return f'<path d="M{x:g} {y:g}L{u:g} {v:g}"{wide} stroke-linecap="round"/>'


def _stroke(start: tuple[float, float], end: tuple[float, float]) -> str:
    (x, y), (u, v) = start, end
    return f'<path d="M{x:g} {y:g}L{u:g} {v:g}"/>'


def _box(x: float, y: float, width: float, height: float) -> str:
    return f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="1"/>'


def _text(x: float, y: float, words: str, size: float) -> str:
    return f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" fill="#000" stroke="none">{escape(words)}</text>'


if __name__ == "__main__":
    sys.stdout.write(html("metric" if sys.argv[1:] == ["metric"] else "us"))
