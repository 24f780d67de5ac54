"""Workbooks of OpenDocument (ISO/IEC 26300): values read from their content, our tables put into it as text."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final
from xml.etree import ElementTree
from xml.sax.saxutils import escape, quoteattr

from airbough.command.workbook import packed
from airbough.command.workbook.cells import MOST_ROWS, Rows, Sheet, Tables, Value

_CONTENT: Final = "content.xml"
_NAMES: Final = {
    "office": "urn:oasis:names:tc:opendocument:xmlns:office:1.0",
    "table": "urn:oasis:names:tc:opendocument:xmlns:table:1.0",
    "text": "urn:oasis:names:tc:opendocument:xmlns:text:1.0",
}
_EMPTY: Final = "<table:table-cell/>"
_MOST_COLUMNS: Final = 200
_DATE: Final = ValueError("a date or a time; write a fraction of an inch as text, such as '1/2 in")
_NOT_IN_XML: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def check(path: Path) -> None:
    """Refuse a workbook into which no table can be put without losing something.

    Raises:
        ValueError: with the reason.
    """
    parts = packed.names(path)
    if _CONTENT not in parts:
        raise ValueError(f"{path.name}: no workbook of this kind; it has no {_CONTENT}")
    if "META-INF/documentsignatures.xml" in parts:
        raise ValueError(f"{path.name} is signed; a further sheet would break the signature")
    if "META-INF/manifest.xml" in parts and "encryption-data" in packed.part(path, "META-INF/manifest.xml"):
        raise ValueError(f"{path.name} is under a password; save it without one first")
    text = packed.part(path, _CONTENT)
    if "</table:table>" not in text or any(f'xmlns:{name}="{uri}"' not in text for name, uri in _NAMES.items()):
        raise ValueError(f"{path.name}: its content is not written as usual; open it, save it, and ask again")
    if re.search(r'<office:spreadsheet\b[^>]*table:structure-protected="true"', text):
        raise ValueError(f"{path.name}: its structure is protected, so no sheet may be added; unprotect it first")


def sheets(path: Path) -> list[Sheet]:
    """Return the sheets with the values of their cells."""
    root = ElementTree.fromstring(packed.part(path, _CONTENT))
    return [
        Sheet(table.get(_name("table", "name")) or "", _rows(table))
        for table in root.iterfind(".//office:spreadsheet/table:table", _NAMES)
    ]


def _name(space: str, name: str) -> str:
    return f"{{{_NAMES[space]}}}{name}"


def _rows(table: ElementTree.Element) -> list[list[object]]:
    out: list[list[object]] = []
    for row in table.iter(_name("table", "table-row")):
        times = int(row.get(_name("table", "number-rows-repeated")) or 1)
        cells = _cells(row)
        if not cells and times > MOST_ROWS:
            break
        out += [list(cells) for _ in range(min(times, MOST_ROWS))]
        if len(out) >= MOST_ROWS:
            break
    return out


def _cells(row: ElementTree.Element) -> list[object]:
    """Return the values of a row's cells up to the last that has one."""
    out: list[object] = []
    for cell in row:
        if cell.tag not in (_name("table", "table-cell"), _name("table", "covered-table-cell")):
            continue
        times = int(cell.get(_name("table", "number-columns-repeated")) or 1)
        out += [_value(cell)] * min(times, _MOST_COLUMNS)
    while out and out[-1] is None:
        out.pop()
    return out


def _value(cell: ElementTree.Element) -> object:
    kind = cell.get(_name("office", "value-type"))
    if kind in ("float", "currency", "percentage"):
        return float(cell.get(_name("office", "value")) or "nan")
    if kind == "boolean":
        return cell.get(_name("office", "boolean-value")) == "true"
    if kind in ("date", "time"):
        return _DATE
    lines = ["".join(line.itertext()) for line in cell.iterfind("text:p", _NAMES)]
    return " ".join(lines) or None


def write(path: Path, tables: Tables) -> None:
    """Put the tables into the workbook, each in its own sheet; a sheet of that name is written over, others stay."""
    text = packed.part(path, _CONTENT)
    for name, rows in tables.items():
        new = _table(name, rows)
        old = re.search(
            rf"<table:table\b[^>]*table:name={re.escape(quoteattr(name))}[^>]*>.*?</table:table>", text, re.DOTALL
        )
        if old is not None:
            text = text[: old.start()] + new + text[old.end() :]
            continue
        end = text.rindex("</table:table>") + len("</table:table>")
        text = text[:end] + new + text[end:]
    packed.rewrite(path, {_CONTENT: text})


def _table(name: str, rows: Rows) -> str:
    columns = max(map(len, rows), default=1)
    body = "".join(
        f"<table:table-row>{''.join(map(_cell, row)) or '<table:table-cell/>'}</table:table-row>" for row in rows
    )
    column = f'<table:table-column table:number-columns-repeated="{columns}"/>'
    return f"<table:table table:name={quoteattr(name)}>{column}{body}</table:table>"


def _cell(value: Value) -> str:
    if value is None:
        return _EMPTY
    if isinstance(value, bool):
        word = "true" if value else "false"
        return _typed(f'"boolean" office:boolean-value="{word}"', word)
    if isinstance(value, int | float):
        return _typed(f'"float" office:value="{value!r}"', repr(value))
    return _typed('"string"', escape(_NOT_IN_XML.sub("\ufffd", value)))


def _typed(kind: str, text: str) -> str:
    return f"<table:table-cell office:value-type={kind}><text:p>{text}</text:p></table:table-cell>"
