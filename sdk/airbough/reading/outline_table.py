"""An outline as a table: settings in two columns, an empty line or none, then a row for each line and machine.

```
units,us
dust,sawdust
greatest_flow (cfm),1500
greatest_suction (inH2O),12

id,line,at (ft),length (ft),turns (ft),diameter (in),machine,size (in),off (ft),drop (ft),port (in),hose (ft)
main,,,22,3 left,7,,,,,,
saw,main,10,,,,table-saw,10,2,6,4,5
saw,,,,,,,,,,2.5,8
```

A row with `line` is a machine, one without it a line; a further row of a machine's id is a further port of it. A unit
stands in its heading, or in the cell; without either a number is in the preset's unit. Cells are parted by commas,
semicolons or tabs.
"""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from msgspec import Struct

from airbough.reading import quantity_text
from airbough.reading.quantity_text import Decimal
from airbough.reading.request import unreadable
from airbough.reading.wrong import Wrong
from airbough.wire.collector import CollectorFigures
from airbough.wire.outline import OutlineLine, OutlineMachine, OutlinePort
from airbough.wire.places import Place, places_of
from airbough.wire.problem import Fault

FIRST: Final = "id"
"""The heading that begins the row of headings."""

_HEADING: Final = re.compile(r"(?P<name>[^(\[]*?)\s*(?:[(\[]\s*(?P<unit>[^)\]]*?)\s*[)\]])?\s*")
PARTS: Final = re.compile(r"\s*[;|]\s*")
_SEPARATORS: Final = ("\t", ";", ",")
_SETTINGS: Final = ("units", "name", "dust", "turns", "decimal")
_FIGURES: Final = tuple(CollectorFigures.__struct_fields__)
_WORDS: Final = frozenset({"duct", "hose_duct", "dust", "entry", "construction"})
"""Cells that hold a word of the catalogue, however a person writes it: `Spiral Galvanized`."""

_OF_PORTS: Final = frozenset(OutlinePort.__struct_fields__)
MOST_ROWS: Final = 3000


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: its name in the wire's spelling, and its unit."""

    name: str
    unit: str


@dataclass(slots=True)
class Table:
    """A table on its way to a document."""

    faults: list[Fault] = field(default_factory=list)
    decimal: Decimal | None = None
    settings: dict[str, Any] = field(default_factory=dict)
    figures: dict[str, Any] = field(default_factory=dict)
    lines: list[dict[str, Any]] = field(default_factory=list)
    machines: dict[str, dict[str, Any]] = field(default_factory=dict)
    further: dict[str, list[dict[str, Any]]] = field(default_factory=dict)

    def fault(self, path: str, code: str, detail: str, read: str | None = None) -> None:
        """Note what is wrong."""
        self.faults.append(Fault(path=path, code=code, detail=detail, read=read))


def document(text: str) -> dict[str, Any]:
    """Return the outline that a table says, as a plain document; its quantities are not looked at yet.

    Raises:
        Unreadable: with everything that is wrong with the table itself.
    """
    rows = cells_of(text)
    start = headings_at(rows)
    table = Table()
    if start is None:
        table.fault("table", "headings-missing", f"the row of headings begins with {FIRST!r}; the template has them")
        raise unreadable(table.faults)
    for number, row in enumerate(rows[:start], 1):
        _setting(table, row, f"table[{number}]")
    headings = [heading_of(cell) for cell in rows[start]]
    _check(table, headings, start + 1)
    for number, row in enumerate(rows[start + 1 :], start + 2):
        if number > MOST_ROWS:
            table.fault("table", "length", f"must have at most {MOST_ROWS} rows")
            break
        _row(table, headings, row, f"table[{number}]")
    if table.faults:
        raise unreadable(table.faults)
    return _whole(table)


def cells_of(text: str) -> list[list[str]]:
    """Return the cells, without the blanks around them, by row."""
    plain = text.removeprefix("\ufeff")
    head = next((line for line in plain.splitlines() if line.strip().strip('"').lower().startswith(FIRST)), "")
    separator = max(_SEPARATORS, key=head.count)
    try:
        return [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(plain), delimiter=separator)]
    except csv.Error as error:
        raise unreadable([Fault(path="table", code="not-a-table", detail=str(error))]) from None


def headings_at(rows: list[list[str]]) -> int | None:
    """Return the number of the row of headings, from 0; None where there is none."""
    return next((number for number, row in enumerate(rows) if row and heading_of(row[0]).name == FIRST), None)


def heading_of(cell: str) -> Heading:
    """Return what a heading says: `port (in)` is `port` in inches."""
    found = _HEADING.fullmatch(cell)
    if found is None:
        return Heading(cell, "")
    name = re.sub(r"[\s-]+", "_", found["name"].strip().lower())
    return Heading(name, found["unit"] or "")


def _setting(table: Table, row: list[str], path: str) -> None:
    """Take a setting: its name in the first cell, its value in the second."""
    if not row or not row[0]:
        return
    heading, value = heading_of(row[0]), row[1] if len(row) > 1 else ""
    if heading.name not in (*_SETTINGS, *_FIGURES):
        table.fault(path, "unknown-field", near(heading.name, (*_SETTINGS, *_FIGURES)), row[0])
    elif not value:
        return
    elif heading.name == "decimal":
        if value not in ("comma", "point"):
            table.fault(path, "unknown-word", "must be one of comma, point", value)
        table.decimal = "comma" if value == "comma" else "point"
    elif heading.name in _FIGURES:
        place = places_of(CollectorFigures)[heading.name]
        table.figures[heading.name] = cell_of(table, value, heading, place, f"{path}.{heading.name}")
    else:
        table.settings[heading.name] = _word(value) if heading.name in _WORDS else value


def near(name: str, known: tuple[str, ...]) -> str:
    """Return that a heading is none, with the nearest that is."""
    close = difflib.get_close_matches(name, known, n=1) or [part for part in name.split("_") if part in known]
    return f"no such heading; did you mean `{close[0]}`?" if close else f"no such heading; known are {', '.join(known)}"


def _known() -> tuple[str, ...]:
    """Return every heading that some row has."""
    return tuple(dict.fromkeys((*places_of(OutlineLine), *places_of(OutlineMachine))))


def _word(cell: str) -> str:
    """Return a word as the catalogue writes it."""
    return re.sub(r"[\s_]+", "-", cell.strip().lower())


def _check(table: Table, headings: list[Heading], number: int) -> None:
    """Tell of headings that no row has, or that stand twice."""
    known, seen = _known(), set[str]()
    for heading in headings:
        if heading.name and heading.name not in known:
            table.fault(f"table[{number}]", "unknown-field", near(heading.name, known), heading.name)
        if heading.name and heading.name in seen:
            table.fault(f"table[{number}]", "duplicate-key", "this heading stands twice", heading.name)
        seen.add(heading.name)


def _row(table: Table, headings: list[Heading], row: list[str], path: str) -> None:
    """Take a row of a line, of a machine, or of a further port."""
    cells = {heading: cell for heading, cell in zip(headings, row, strict=False) if heading.name and cell}
    if not cells:
        return
    given = {heading.name for heading in cells}
    name = next((cell for heading, cell in cells.items() if heading.name == FIRST), None)
    if name is None:
        table.fault(f"{path}.id", "missing-field", "each row has an id; a further port that of its machine")
        return
    if "line" in given:
        if name in table.machines:
            table.fault(f"{path}.id", "duplicate-id", "this machine has a row already; further ports leave `line` out")
            return
        table.machines[name] = _fields(table, cells, OutlineMachine, path)
    elif name in table.machines:
        port = {heading: cell for heading, cell in cells.items() if heading.name != FIRST}
        table.further.setdefault(name, []).append(_fields(table, port, OutlinePort, path))
    elif _machines_alone(given):
        line = table.lines[0]["id"] if table.lines else "main"
        detail = f"say which line this machine joins, such as {line}; the row of a line has none of a machine's cells"
        table.fault(f"{path}.line", "missing-field", detail, name)
    else:
        table.lines.append(_fields(table, cells, OutlineLine, path))


def _machines_alone(given: set[str]) -> bool:
    """Return whether a row can only be a machine's, by its cells."""
    of_line, of_machine = set(places_of(OutlineLine)), set(places_of(OutlineMachine))
    return bool(given & (of_machine - of_line)) and not given & (of_line - of_machine)


def _fields(table: Table, cells: Mapping[Heading, str], struct: type[Struct], path: str) -> dict[str, Any]:
    """Return the fields of a row."""
    places, out = places_of(struct), dict[str, Any]()
    what = {OutlineLine: "a line", OutlineMachine: "a machine", OutlinePort: "a further port"}[struct]
    for heading, cell in cells.items():
        here = f"{path}.{heading.name}"
        if heading.name not in _known():
            continue  # told of the heading
        if heading.name not in places:
            table.fault(here, "unknown-field", f"{what} has no such cell; leave it empty", cell)
        elif heading.name == "turns" and struct is OutlineLine:
            out["turns"] = list(_turns(table, cell, heading, here))
        elif heading.name in ("path", "place"):
            points = [point_of(table, part, heading, here) for part in PARTS.split(cell) if part]
            out[heading.name] = points if heading.name == "path" else points[0] if points else []
        else:
            out[heading.name] = cell_of(table, cell, heading, places[heading.name], here)
    return out


def _turns(table: Table, cell: str, heading: Heading, path: str) -> Iterator[dict[str, Any]]:
    """Yield the turns in a cell: `3 left; 12 up 45` is one at 3 to the left, and one of 45 deg upward at 12."""
    for part in PARTS.split(cell):
        words = part.split()
        if not words:
            continue
        turn: dict[str, Any] = {"at": _number(table, words[0], heading, path)}
        for word in words[1:]:
            if word[:1].isdigit():
                turn["angle"] = _number(table, word, Heading("", "deg"), path)
            else:
                turn["made" if word == "two-45" else "to"] = word
        yield turn


def point_of(table: Table, part: str, heading: Heading, path: str) -> list[Any]:
    """Return a place: three numbers with blanks between them."""
    return [_number(table, word, heading, path) for word in part.split()]


def cell_of(table: Table, cell: str, heading: Heading, place: Place, path: str) -> Any:
    """Return what a cell says: a number with the heading's unit, or as it is written."""
    if place.kind is None and float not in place.scalars and not heading.unit:
        said = _word(cell) if heading.name in _WORDS else cell
        return {"type": said} if place.structs else said
    return _number(table, cell, heading, path)


def _number(table: Table, cell: str, heading: Heading, path: str) -> Any:
    """Return a number, with its unit where it has one; what is none is left as it is, to be told of later."""
    try:
        number = quantity_text.bare(cell, table.decimal)
        if number is None:
            return quantity_text.with_point(cell, table.decimal) if table.decimal is not None else cell
    except Wrong as wrong:
        for _, code, detail in wrong.found:
            way = ", or say decimal comma or point above the table" if code == "ambiguous-decimal" else ""
            table.fault(path, code, detail + way, cell)
        return cell
    return f"{_short(number)} {heading.unit}" if heading.unit else number


def _short(number: float) -> str:
    """Return a number as a quantity's text takes it, without a power of ten."""
    return f"{number:.15f}".rstrip("0").rstrip(".") if abs(number) < 1.0e9 else repr(number)


def _whole(table: Table) -> dict[str, Any]:
    """Return the document: ports gathered, what the collector is known by beside the rows."""
    for name, others in table.further.items():
        row = table.machines[name]
        first = {field: row.pop(field) for field in ("port", "hose", "hose_rise", "hose_diameter") if field in row}
        row["ports"] = [first, *others]
    whole = {**table.settings, "lines": table.lines, "machines": list(table.machines.values())}
    if table.figures:
        whole["collector"] = {"known_by": table.figures}
    return whole
