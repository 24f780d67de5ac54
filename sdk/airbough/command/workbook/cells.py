"""Cells of a sheet as the text of a table, and rows as cells."""

from __future__ import annotations

import csv
import datetime
import io
from dataclasses import dataclass
from typing import Final, TypeAlias

from airbough.reading.answer_rows import short
from airbough.reading.outline_table import FIRST, heading_of

Value: TypeAlias = str | float | int | bool | None
Rows: TypeAlias = list[list[Value]]
Tables: TypeAlias = dict[str, Rows]
"""Name of a sheet -> its rows, the headings first."""

OURS: Final = "airbough "
"""With what the name of each sheet begins that is written, and written over."""
MOST_ROWS: Final = 3100


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet as read: the values of its cells, a date or what could not be read as an exception to be told."""

    name: str
    rows: list[list[object]]

    def named(self, name: str | None) -> bool:
        """Return whether it is the one asked for: by name, or by a row of headings."""
        if name is not None:
            return self.name == name
        if self.name.startswith(OURS):
            return False
        return any(isinstance(row[0], str) and heading_of(row[0].strip()).name == FIRST for row in self.rows if row)


def text_of(sheet: Sheet) -> str:
    """Return a sheet as the text of a table; decimal points, whatever the sheet shows.

    Raises:
        ValueError: for a date, or a formula that was never computed.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    last = max((number for number, row in enumerate(sheet.rows, 1) if any(cell is not None for cell in row)), default=0)
    for number, row in enumerate(sheet.rows[:last], 1):
        writer.writerow([_cell(value, f"{sheet.name}!{column_name(k)}{number}") for k, value in enumerate(row)])
    return out.getvalue()


def _cell(value: object, place: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return short(float(value))
    if isinstance(value, Exception):
        raise ValueError(f"{place}: {value}")
    if isinstance(value, datetime.date | datetime.time | datetime.timedelta):
        raise ValueError(f"{place} is a date or a time; write a fraction of an inch as text, such as '1/2 in")
    return " ".join(str(value).split())


def column_name(number: int) -> str:
    """Return a column's letters: 0 is A, 26 is AA."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def told(value: Value) -> Value:
    """Return a value as a cell holds it: fifteen figures of a number."""
    return float(f"{value:.15g}") if isinstance(value, float) else value
