"""Workbooks of Office Open XML (ECMA-376): values read by openpyxl, our sheets put in as parts of their own."""

from __future__ import annotations

import re
import warnings
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape, quoteattr

from airbough.command.workbook import packed
from airbough.command.workbook.cells import MOST_ROWS, Rows, Sheet, Tables, Value, column_name

_WORKBOOK: Final = "xl/workbook.xml"
_RELATIONS: Final = "xl/_rels/workbook.xml.rels"
_TYPES: Final = "[Content_Types].xml"
_MAIN: Final = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE: Final = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_SHEET: Final = re.compile(r"<sheet\b[^>]*/>")
_NOT_IN_XML: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NEVER: Final = ValueError("a formula that was never computed; open the workbook, save it, and ask again")
_WIDEST: Final = 60


def check(path: Path) -> None:
    """Refuse a workbook into which no sheet can be put without losing something.

    Raises:
        ValueError: with the reason.
    """
    parts = packed.names(path)
    missing = [name for name in (_WORKBOOK, _RELATIONS, _TYPES) if name not in parts]
    if missing:
        raise ValueError(f"{path.name}: no workbook of this kind; it has no {missing[0]}")
    if any(name.startswith("_xmlsignatures/") for name in parts):
        raise ValueError(f"{path.name} is signed; a further sheet would break the signature")
    text = packed.part(path, _WORKBOOK)
    if _MAIN not in text or re.search(r"<\w+:sheets\b", text):
        raise ValueError(f"{path.name} is written in the strict form, or with names of its own; save it as usual .xlsx")
    if re.search(r"<workbookProtection\b[^>]*lockStructure=\"(1|true)\"", text):
        raise ValueError(f"{path.name}: its structure is protected, so no sheet may be added; unprotect it first")


def sheets(path: Path) -> list[Sheet]:
    """Return the sheets with the values that their cells last showed."""
    try:
        from openpyxl import load_workbook
    except ModuleNotFoundError:
        raise ImportError("workbooks need openpyxl: pip install 'airbough[workbook]'") from None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of what it would not keep, were it to write
        values, written = load_workbook(path, data_only=True), load_workbook(path)
    try:
        return [Sheet(sheet.title, _values(sheet, written[sheet.title])) for sheet in values.worksheets]
    finally:
        values.close()
        written.close()


def _values(shown: Any, written: Any) -> list[list[object]]:
    """Return a sheet's values; a formula that has none yet as what is to be told of it."""
    most = min(shown.max_row, MOST_ROWS)
    return [
        [
            _NEVER if own.value is None and _is_formula(formula.value) else own.value
            for own, formula in zip(row, formulas, strict=False)
        ]
        for row, formulas in zip(shown.iter_rows(max_row=most), written.iter_rows(max_row=most), strict=False)
    ]


def _is_formula(value: object) -> bool:
    return isinstance(value, str) and value.startswith("=")


def write(path: Path, tables: Tables) -> None:
    """Put the tables into the workbook, each in its own sheet; a sheet of that name is written over, others stay."""
    book, relations, types = (packed.part(path, name) for name in (_WORKBOOK, _RELATIONS, _TYPES))
    parts, changed = set(packed.names(path)), dict[str, str]()
    for name, rows in tables.items():
        place = _place_of(name, book, relations)
        if place is None:
            place = _free(parts)
            book, relations, types = _joined(name, place, book, relations, types)
        parts.add(place)
        changed[place] = _sheet(rows)
    changed |= {_WORKBOOK: _recomputed(book), _RELATIONS: relations, _TYPES: types}
    packed.rewrite(path, changed)


def _place_of(name: str, book: str, relations: str) -> str | None:
    """Return the part of the sheet of a name."""
    for found in _SHEET.findall(book):
        if _attribute(found, "name") == name:
            wanted = _attribute(found, r"\w+:id")
            for relation in re.findall(r"<Relationship\b[^>]*/>", relations):
                if _attribute(relation, "Id") == wanted:
                    target = _attribute(relation, "Target") or ""
                    return target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    return None


def _attribute(element: str, name: str) -> str | None:
    found = re.search(rf"\s{name}=(\"([^\"]*)\"|'([^']*)')", element)
    return None if found is None else (found[2] if found[2] is not None else found[3]).replace("&amp;", "&")


def _free(parts: set[str]) -> str:
    number = 1
    while f"xl/worksheets/sheet{number}.xml" in parts:
        number += 1
    return f"xl/worksheets/sheet{number}.xml"


def _joined(name: str, place: str, book: str, relations: str, types: str) -> tuple[str, str, str]:
    """Return the three parts that name a workbook's sheets with one more."""
    ids = [int(found) for found in re.findall(r"sheetId=[\"'](\d+)", book)]
    relation = f"rIdAirbough{max(ids, default=0) + 1}"
    sheet = f'<sheet name={quoteattr(name)} sheetId="{max(ids, default=0) + 1}" r:id="{relation}" xmlns:r="{_OFFICE}"/>'
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
    return (
        book.replace("</sheets>", f"{sheet}</sheets>", 1),
        relations.replace(
            "</Relationships>",
            f'<Relationship Id="{relation}" Type="{_OFFICE}/worksheet" Target="/{place}"/></Relationships>',
            1,
        ),
        types.replace("</Types>", f'<Override PartName="/{place}" ContentType="{kind}"/></Types>', 1),
    )


def _recomputed(book: str) -> str:
    """Return the workbook's part with the wish that formulas are computed when opened: they may look at our sheets."""
    found = re.search(r"<calcPr\b[^>]*>", book)
    if found is not None:
        if "fullCalcOnLoad" in found[0]:
            return book
        return book.replace(found[0], re.sub(r"(/?>)$", r' fullCalcOnLoad="1"\1', found[0]), 1)
    before = next(
        end for end in ("</definedNames>", "<definedNames/>", "</externalReferences>", "</sheets>") if end in book
    )
    return book.replace(before, f'{before}<calcPr fullCalcOnLoad="1"/>', 1)


def _sheet(rows: Rows) -> str:
    """Return a sheet's part: headings that stay in sight, columns as wide as what they hold."""
    columns = max(map(len, rows), default=1)
    widths = [
        min(max((len(str(row[k])) for row in rows if k < len(row) and row[k] is not None), default=6) + 2, _WIDEST)
        for k in range(columns)
    ]
    cols = "".join(f'<col min="{k}" max="{k}" width="{width}" customWidth="1"/>' for k, width in enumerate(widths, 1))
    body = "".join(
        f'<row r="{number}">{"".join(_cell(value, f"{column_name(k)}{number}") for k, value in enumerate(row))}</row>'
        for number, row in enumerate(rows, 1)
    )
    view = '<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/>'
    return (
        f'<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<worksheet xmlns="{_MAIN}">'
        f'<sheetViews><sheetView workbookViewId="0">{view}</sheetView></sheetViews>'
        f"<cols>{cols}</cols><sheetData>{body}</sheetData></worksheet>"
    )


def _cell(value: Value, place: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return f'<c r="{place}" t="b"><v>{int(value)}</v></c>'
    if isinstance(value, int | float):
        return f'<c r="{place}"><v>{value!r}</v></c>'
    text = escape(_NOT_IN_XML.sub("\ufffd", value))
    return f'<c r="{place}" t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'
