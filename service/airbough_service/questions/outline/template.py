"""GET /v1/outlines/template: the table of an outline to fill in, with an invented shop under its headings."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from airbough.reading import outline_table
from airbough.reading import request as reading
from airbough.wire.outline import (
    OutlineHeading,
    OutlineRequest,
    OutlineTemplateAnswer,
    OutlineTemplateRequest,
)
from airbough.wire.quantity import PRESET_UNITS, Preset

Rows: TypeAlias = tuple[Literal["setting", "line", "machine", "port"], ...]
_LINE: Final[Rows] = ("line",)
_MACHINE: Final[Rows] = ("machine",)
_PORT: Final[Rows] = ("machine", "port")
_BOTH: Final[Rows] = ("line", "machine")


@dataclass(frozen=True, slots=True)
class _Column:
    """A heading: its field, the kind of quantity in it, which rows have it, and what it means."""

    name: str
    kind: str | None
    rows: Rows
    meaning: str


_SETTINGS: Final = (
    _Column("units", None, ("setting",), "us or metric: of numbers without a unit, and of the answer"),
    _Column("name", None, ("setting",), "of the shop"),
    _Column("dust", None, ("setting",), "the kind of dust by which ducts are judged"),
    _Column("greatest_flow", "flow", ("setting",), "of the collector as sold, with nothing joined to it"),
    _Column("greatest_suction", "pressure", ("setting",), "of the collector as sold, with its inlet shut"),
)
_COLUMNS: Final = (
    _Column("id", None, ("line", "machine", "port"), "your own name of the row; of a further port, its machine's"),
    _Column("line", None, _MACHINE, "the line that the machine joins, or the machine whose drop it shares"),
    _Column("into", None, _LINE, "the line that a line flows into; empty: the collector"),
    _Column("at", "length", _BOTH, "how far along it joins, measured from that line's lower end"),
    _Column("length", "length", _LINE, "from the collector, or from the line it flows into, to the line's end"),
    _Column("start", None, _LINE, "its first direction: ahead, up, left, right or down; empty: ahead"),
    _Column("turns", "length", _LINE, "where the line turns and whereto, such as: 4 ahead; 16 left"),
    _Column("diameter", "diameter", _BOTH, "of the stiff duct; empty: chosen by ports and flows"),
    _Column("machine", None, _MACHINE, "a word of the catalogue, such as table-saw"),
    _Column("size", "diameter", _MACHINE, "of the machine: blade, knives, belt or disc; empty: the smallest"),
    _Column("off", "length", _MACHINE, "level distance from the line to the drop"),
    _Column("drop", "length", _MACHINE, "height from the line down to the end of the stiff duct"),
    _Column("port", "diameter", _PORT, "the machine's opening; a further port has a row of its own"),
    _Column("hose", "length", _PORT, "from the end of the stiff duct to the port; empty: none"),
    _Column("flow", "flow", _PORT, "exhaust flow, where you know it from the maker"),
)
_EXAMPLE: Final[dict[str, tuple[tuple[str, ...], tuple[dict[str, str], ...]]]] = {
    "us": (
        ("us", "invented shop", "sawdust", "1600", "12"),
        (
            {"id": "main", "length": "28", "start": "up", "turns": "4 ahead; 16 left", "diameter": "6"},
            {"id": "planer", "line": "main", "at": "10", "machine": "planer", "size": "13", "off": "3", "drop": "5"}
            | {"port": "5", "hose": "4", "flow": "650"},
            {"id": "saw", "line": "main", "at": "18", "machine": "table-saw", "size": "10", "off": "4", "drop": "6"}
            | {"port": "4", "hose": "5"},
            {"id": "saw", "port": "2.5", "hose": "8"},
            {"id": "band saw", "line": "main", "at": "28", "machine": "band-saw", "off": "1", "drop": "5"}
            | {"port": "4", "hose": "4"},
        ),
    ),
    "metric": (
        ("metric", "invented shop", "sawdust", "2700", "3000"),
        (
            {"id": "main", "length": "8.5", "start": "up", "turns": "1.2 ahead; 5 left", "diameter": "160"},
            {"id": "planer", "line": "main", "at": "3", "machine": "planer", "size": "330", "off": "0.9", "drop": "1.5"}
            | {"port": "120", "hose": "1.2", "flow": "1100"},
            {"id": "saw", "line": "main", "at": "5.5", "machine": "table-saw", "size": "254", "off": "1.2"}
            | {"drop": "1.8", "port": "100", "hose": "1.5"},
            {"id": "saw", "port": "60", "hose": "1.5"},
            {"id": "band saw", "line": "main", "at": "8.5", "machine": "band-saw", "off": "0.3", "drop": "1.5"}
            | {"port": "100", "hose": "1.2"},
        ),
    ),
}


def answer(request: OutlineTemplateRequest) -> OutlineTemplateAnswer:
    """Answer the template in a preset's units."""
    text = table(request.units)
    return OutlineTemplateAnswer(
        preset=request.units,
        headings=tuple(_told(column, request.units) for column in (*_SETTINGS, *_COLUMNS)),
        csv=text,
        outline=reading.read(outline_table.document(text), OutlineRequest),
    )


def table(preset: Preset) -> str:
    """Return the table: settings, an empty line, the headings, and an invented shop to write over."""
    settings, rows = _EXAMPLE[preset]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows(zip((_heading(column, preset) for column in _SETTINGS), settings, strict=True))
    writer.writerow([])
    writer.writerow([_heading(column, preset) for column in _COLUMNS])
    writer.writerows([row.get(column.name, "") for column in _COLUMNS] for row in rows)
    return out.getvalue()


def _heading(column: _Column, preset: Preset) -> str:
    unit = PRESET_UNITS[preset][column.kind] if column.kind is not None else ""
    return f"{column.name} ({unit})" if unit else column.name


def _told(column: _Column, preset: Preset) -> OutlineHeading:
    heading = _heading(column, preset)
    return OutlineHeading(name=column.name, heading=heading, rows=column.rows, meaning=column.meaning)
