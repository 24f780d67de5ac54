"""Lists of an answer as plain rows, and as text that a sheet reads."""

from __future__ import annotations

import csv
import decimal as decimals
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, TypeAlias

from msgspec import Struct

from airbough.reading.quantity_text import Decimal
from airbough.wire.places import Place, places_of
from airbough.wire.trimmed import TrimmedAnswer

Row: TypeAlias = dict[str, object]
DIGITS: Final = 15
"""Of a number in a cell: what a float holds for sure, so that 30 is not 29.999999999999993."""
FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""With what a sheet lets a formula begin."""


def rows(answer: Struct, of: str = "runs", *, units: bool = False) -> list[Row]:
    """Return a list of an answer as plain rows, each with the same columns.

    What a row holds of its own is told in columns with a point (`suggestion.text`), a list of words as one text; lists
    of further structs are left out.

    Args:
        answer: of any question.
        of: a list of the answer, such as `runs`, `hoods` or `findings`; or a part of it, such as `system`: one row.
        units: whether the columns of quantities tell their unit: `flow [ft^3/min]`.

    Raises:
        LookupError: where the answer has no such list or part; it names those that there are.
        ValueError: for units of a `TrimmedAnswer`, whose columns do not say which they are in.
    """
    if isinstance(answer, TrimmedAnswer):
        return _of_parts(answer, of, units)
    found = getattr(answer, of, None)
    known = [name for name in answer.__struct_fields__ if isinstance(getattr(answer, name), Struct | tuple)]
    if of not in known:
        raise LookupError(f"a {type(answer).__name__} has no {of!r} to tell in rows; it has {', '.join(known)}")
    told = getattr(answer, "units", None) if units else None
    items = found if isinstance(found, tuple) else (found,)
    plain = [dict(_fields(item, told if isinstance(told, dict) else {})) for item in items if isinstance(item, Struct)]
    return _even(plain)


def _even(plain: list[Row]) -> list[Row]:
    """Return rows with the same columns."""
    columns = dict.fromkeys(name for row in plain for name in row)
    return [{name: row.get(name) for name in columns} for row in plain]


def _of_parts(answer: TrimmedAnswer, of: str, units: bool) -> list[Row]:
    """Return rows of what was asked for."""
    if units:
        raise ValueError("parts of an answer do not say in which unit a column is; its `units` has those used")
    told = {name: item for name, item in answer.told.items() if isinstance(item, dict | list)}
    if of not in told:
        raise LookupError(f"{of!r} was not asked for, or is told in no rows; there is {', '.join(told)}")
    items = told[of] if isinstance(told[of], list) else [told[of]]
    return _even([dict(_cells(item)) for item in items if isinstance(item, dict)])


def _cells(table: Mapping[str, object], before: str = "") -> Iterator[tuple[str, object]]:
    for name, value in table.items():
        if isinstance(value, dict):
            yield from _cells(value, f"{before}{name}.")
        elif not isinstance(value, list):
            yield f"{before}{name}", value
        elif all(isinstance(item, str) for item in value):
            yield f"{before}{name}", ", ".join(value)


def _fields(struct: Struct, units: Mapping[str, str], before: str = "") -> Iterator[tuple[str, object]]:
    for name, place in places_of(type(struct)).items():
        value = getattr(struct, name)
        if isinstance(value, Struct):
            yield from _fields(value, units, f"{before}{name}.")
        elif isinstance(value, tuple | list):
            if all(isinstance(item, str) for item in value):
                yield f"{before}{name}", ", ".join(value)
        elif not isinstance(value, dict):
            yield f"{before}{name}{_unit(place, units)}", value


def _unit(place: Place, units: Mapping[str, str]) -> str:
    unit = units.get(place.kind or "", "")
    return f" [{unit}]" if unit else ""


def as_csv(rows: Sequence[Row], separator: str = ",", decimal: Decimal = "point") -> str:
    """Return rows as text (RFC 4180) under their columns; texts that a sheet would take for a formula are quoted."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    writer.writerow(list(rows[0]) if rows else [])
    writer.writerows([cell(value, decimal) for value in row.values()] for row in rows)
    return out.getvalue()


def cell(value: object, decimal: Decimal = "point") -> str:
    """Return a cell's text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        text = short(value)
        return text.replace(".", ",") if decimal == "comma" else text
    text = str(value)
    return f"'{text}" if text.startswith(FORMULA) else text


def short(number: float) -> str:
    """Return a number to fifteen figures, without a power of ten."""
    text = format(decimals.Decimal(f"{number:.{DIGITS}g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
