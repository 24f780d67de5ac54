"""A table in a CSV file: its answers go into files beside it."""

from __future__ import annotations

import csv
from pathlib import Path

from airbough.command.workbook.cells import OURS, Sheet, Tables
from airbough.command.writing import harmless
from airbough.reading.outline_table import cells_of


def check(path: Path) -> None:
    """Refuse nothing: the file itself is only read."""


def sheets(path: Path) -> list[Sheet]:
    """Return the table as the one sheet; raises UnicodeDecodeError, a ValueError, where it is no UTF-8."""
    rows: list[list[object]] = [list(row) for row in cells_of(path.read_text("utf-8-sig"))]
    return [Sheet(path.stem, rows)]


def write(path: Path, tables: Tables) -> None:
    """Write each table into its file: `shop-flows.csv` beside `shop.csv`."""
    for name, rows in tables.items():
        beside = path.with_name(f"{path.stem}-{name.removeprefix(OURS)}.csv")
        with beside.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([harmless(cell) for cell in row] for row in rows)
