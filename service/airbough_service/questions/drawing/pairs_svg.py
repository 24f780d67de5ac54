"""Machine by machine: which two can run together, told by shape, word and colour, and the further gate to open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from airbough_service.core import deadline
from airbough_service.questions.drawing import key
from airbough_service.questions.drawing.svg import HAIR, INK, PAPER, SOFT_INK, Sheet
from airbough_service.questions.drawing.text import measure, sentence, shorten, wrap

Verdict: TypeAlias = Literal["together", "with", "short", "apart"]

MARGIN: Final = 24.0
_SIZE, _SMALL = 11.0, 9.5
_WIDE, _HIGH = 122.0, 52.0
_NARROW, _LOW = 62.0, 34.0
_FEW: Final = 9  # machines up to which a cell has room for its words
_NAME: Final = 130.0
FILLS: Final[dict[Verdict, str]] = {"together": "#d3ebe2", "with": "#dbe6f4", "short": "#fbe8c0", "apart": "#f5d3c4"}
STROKES: Final[dict[Verdict, str]] = {"together": "#00604a", "with": "#1f4f8a", "short": "#8a5a00", "apart": "#a23b00"}
SHORT: Final[dict[Verdict, str]] = {"together": "yes", "with": "with", "short": "just", "apart": "no"}
KEYS: Final[dict[Verdict, str]] = {
    "together": "can run together (on the slope: alone)",
    "with": "can, with the further gate open",
    "short": "just short of it, by up to a tenth",
    "apart": "not as the shop stands",
}


@dataclass(frozen=True, slots=True)
class Cell:
    """Two machines, or one alone.

    Attributes:
        verdict: whether they can run.
        first: the words of the verdict.
        second: how far it is from its limit, or the gate to open.
    """

    verdict: Verdict
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class PairsPicture:
    """Every pair of machines.

    Attributes:
        lines: what stands under the title.
        machines: by name.
        cells: by row, columns up to the row's own: `cells[i][j]` with j up to i.
        notes: what is told under the picture.
    """

    title: str
    lines: tuple[str, ...]
    machines: tuple[str, ...]
    cells: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()


def draw(picture: PairsPicture) -> Sheet:
    """Return the sheet of pairs: a stair of cells, each machine's name before its row and over its column."""
    sheet = Sheet()
    roomy = len(picture.machines) <= _FEW
    wide, high = (_WIDE, _HIGH) if roomy else (_NARROW, _LOW)
    left = MARGIN + min(_NAME, max(measure(name, _SIZE) for name in picture.machines)) + 12.0
    right = max(left + wide * (len(picture.machines) + 1), 620.0)
    top = _title(sheet, picture, right - MARGIN) + 26.0
    for row, name in enumerate(picture.machines):
        deadline.check()
        y = top + row * high
        sheet.text(left - 10.0, y + high / 2 + 4.0, name, size=_SIZE, bold=True, anchor="end", room=_NAME)
        sheet.text(left + (row + 1) * wide + 8.0, y + high / 2 + 4.0, name, size=_SIZE, fill=SOFT_INK, room=_NAME)
        for column, cell in enumerate(picture.cells[row]):
            _cell(sheet, cell, left + column * wide, y, (wide, high), roomy=roomy)
    bottom = top + len(picture.machines) * high
    signs = [(KEYS[verdict], _sign(verdict)) for verdict in _used(picture)]
    bottom = key.write(sheet, signs, MARGIN, bottom + 20.0, right, 10.5)
    for note in picture.notes:
        for line in wrap(sentence(note), _SMALL + 1.0, right - MARGIN):
            bottom += 16.0
            sheet.text(MARGIN, bottom, line, size=_SMALL + 1.0, fill=SOFT_INK)
    sheet.reach(right, bottom)
    return sheet


def _title(sheet: Sheet, picture: PairsPicture, room: float) -> float:
    """Write the title and its lines; return where they end."""
    y = MARGIN + 14.0
    sheet.text(MARGIN, y, picture.title, size=17.0, bold=True, room=room)
    for line in picture.lines:
        for words in wrap(line, 11.5, room):
            y += 17.0
            sheet.text(MARGIN, y, words, size=11.5, fill=SOFT_INK)
    return y


def _used(picture: PairsPicture) -> list[Verdict]:
    """Return the verdicts that stand in the picture."""
    found = {cell.verdict for row in picture.cells for cell in row}
    return [verdict for verdict in FILLS if verdict in found]


def _cell(sheet: Sheet, cell: Cell, x: float, y: float, size: tuple[float, float], *, roomy: bool) -> None:
    """Draw one cell: shade, sign, the word, and how far or which gate."""
    wide, high = size
    sheet.rectangle(x + 1.0, y + 1.0, wide - 2.0, high - 2.0, fill=FILLS[cell.verdict], stroke=HAIR, line=0.8)
    mark(sheet, x + 15.0, y + (18.0 if roomy else high / 2), cell.verdict)
    if not roomy:
        sheet.text(x + 27.0, y + high / 2 + 4.0, SHORT[cell.verdict], size=_SIZE, room=wide - 30.0)
        return
    sheet.text(x + 28.0, y + 22.0, cell.first, size=_SIZE, bold=True, room=wide - 32.0)
    sheet.text(x + 8.0, y + 41.0, shorten(cell.second, _SMALL, wide - 12.0), size=_SMALL, fill=INK)


def mark(sheet: Sheet, x: float, y: float, verdict: Verdict) -> None:
    """Draw a verdict's sign: a full disc, a disc half filled, a triangle, a cross."""
    stroke = STROKES[verdict]
    if verdict == "together":
        sheet.circle(x, y, 6.0, fill=stroke, stroke=stroke)
    elif verdict == "with":
        sheet.circle(x, y, 6.0, fill=PAPER, stroke=stroke, line=1.6)
        half = [(x + 6.0 * a, y + 6.0 * b) for a, b in _HALF]
        sheet.path(half, stroke=stroke, fill=stroke, width=0.8, close=True)
    elif verdict == "short":
        corners = [(x - 6.5, y + 5.5), (x, y - 6.0), (x + 6.5, y + 5.5)]
        sheet.path(corners, stroke=stroke, fill=PAPER, width=1.8, close=True)
    else:
        sheet.path([(x - 5.0, y - 5.0), (x + 5.0, y + 5.0)], stroke=stroke, width=2.6)
        sheet.path([(x - 5.0, y + 5.0), (x + 5.0, y - 5.0)], stroke=stroke, width=2.6)


_HALF: Final = ((0.0, -1.0), (-0.5, -0.866), (-0.866, -0.5), (-1.0, 0.0), (-0.866, 0.5), (-0.5, 0.866), (0.0, 1.0))


def _sign(verdict: Verdict) -> key.Sign:
    def sign(sheet: Sheet, x: float, y: float) -> None:
        sheet.rectangle(x, y - 10.0, 34.0, 20.0, fill=FILLS[verdict], stroke=HAIR, line=0.8)
        mark(sheet, x + 17.0, y, verdict)

    return sign


def description(picture: PairsPicture) -> str:
    """Return the picture in words, for those who do not see it."""
    told = [sentence(line) for line in picture.lines]
    for row, cells in enumerate(picture.cells):
        for column, cell in enumerate(cells):
            names = picture.machines[row]
            if column != row:
                names = f"{picture.machines[column]} and {names}"
            told.append(sentence(f"{names}: {cell.first}, {cell.second}"))
    return " ".join([*told, *map(sentence, picture.notes)])
