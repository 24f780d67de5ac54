"""A workbook to fill in: an outline's headings over an invented shop, with lists of the catalogue's words."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any, Final

from airbough import Client, Local
from airbough.command.workbook.cells import column_name
from airbough.reading.outline_table import FIRST, heading_of
from airbough.wire.quantity import Preset

_WORDS: Final = "words"
_LAST: Final = 500  # row down to which a list drops
_DIRECTIONS: Final = ("ahead", "up", "left", "right", "down")


def write(path: Path, client: Client | Local, preset: Preset) -> None:
    """Write a template: `.xlsx` with lists to choose from, or `.csv` without.

    Raises:
        ValueError: for another ending, or a file that is there already.
        ImportError: without the extra `workbook`.
    """
    if path.exists():
        raise ValueError(f"{path} is there already; a template writes over nothing")
    text = client.outline_template(units=preset).csv
    if path.suffix.lower() == ".csv":
        path.write_text(text, encoding="utf-8", newline="")
    elif path.suffix.lower() == ".xlsx":
        _workbook(text, _words(client, preset)).save(path)
    else:
        raise ValueError(f"{path.name}: a template is .xlsx, which other spreadsheets open too, or .csv")


def _words(client: Client | Local, preset: Preset) -> dict[str, list[str]]:
    """Return the words of each heading or setting that takes one of a list."""
    ducts = [duct.id for duct in client.ducts(units=preset).ducts if duct.kind == "rigid"]
    hoses = [duct.id for duct in client.ducts(units=preset).ducts if duct.kind == "hose"]
    return {
        "machine": [one.id for one in client.hoods(units=preset).machines],
        "dust": [one.id for one in client.dusts(units=preset).dusts],
        "duct": ducts,
        "hose_duct": hoses,
        "start": list(_DIRECTIONS),
        "units": ["us", "metric"],
    }


def _workbook(text: str, words: dict[str, list[str]]) -> Any:
    try:
        from openpyxl import Workbook
        from openpyxl.styles import Font
        from openpyxl.worksheet.datavalidation import DataValidation
    except ModuleNotFoundError:
        raise ImportError("workbooks need openpyxl: pip install 'airbough[workbook]'") from None
    book = Workbook()
    shop, lists = book.active, book.create_sheet(_WORDS)
    rows = list(csv.reader(io.StringIO(text)))
    start = next(number for number, row in enumerate(rows) if row and heading_of(row[0]).name == FIRST)
    rows[start] += [name for name in ("duct", "hose_duct") if name not in rows[start]]
    shop.title = "shop"
    for row in rows:
        shop.append([_value(cell) for cell in row] or [None])
    for k, (name, every) in enumerate(words.items()):
        lists.append([]) if k == 0 else None
        for number, word in enumerate([name, *every], 1):
            lists.cell(number, k + 1, word)
        chosen = DataValidation(
            "list", formula1=f"{_WORDS}!${column_name(k)}$2:${column_name(k)}${len(every) + 1}", allow_blank=True,
            showErrorMessage=False,
        )  # fmt: skip
        for place in _places(rows, start, name):
            chosen.add(place)
        shop.add_data_validation(chosen)
    for cell in shop[start + 1]:
        cell.font = Font(bold=True)
        shop.column_dimensions[cell.column_letter].width = max(11, len(str(cell.value or "")) + 2)
    shop.freeze_panes = f"B{start + 2}"
    return book


def _value(cell: str) -> str | float | None:
    try:
        return float(cell)
    except ValueError:
        return cell or None


def _places(rows: list[list[str]], start: int, name: str) -> list[str]:
    """Return the cells under a heading, or beside a setting, of a name."""
    out = [f"B{number}" for number, row in enumerate(rows[:start], 1) if row and heading_of(row[0]).name == name]
    for k, cell in enumerate(rows[start]):
        if heading_of(cell).name == name:
            out.append(f"{column_name(k)}{start + 2}:{column_name(k)}{_LAST}")
    return out
