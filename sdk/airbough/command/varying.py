"""Many variants of one design: asked in one question, told a row each."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import msgspec

from airbough.command import writing
from airbough.command.answering import is_outline
from airbough.wire.answer import HoodResult, RunResult
from airbough.wire.operating_point import OperatingPointSystem
from airbough.wire.places import places_of
from airbough.wire.variants import VariantsAnswer

ENDINGS: Final = (".csv", ".ndjson", ".json", ".parquet")
Cells = list[Any]


def request(document: object, sets: Sequence[str], only: Sequence[str]) -> object:
    """Return the question: the document's own, or a grid of values on a tree or an outline.

    Args:
        document: a request, a tree or an outline.
        sets: each `PATH=VALUE,VALUE,…`; a value with a comma in it is a JSON list of all.
        only: figures asked for; none: those of the document.

    Raises:
        ValueError: a set that is none.
    """
    out = dict(document) if isinstance(document, Mapping) else {}
    if "changes" not in out and "grid" not in out:
        out = {"units": out.get("units"), ("outline" if is_outline(document) else "tree"): document}
    if sets:
        out["grid"] = dict(map(_axis, sets))
    return {**out, "only": list(only)} if only else out


def _axis(text: str) -> tuple[str, list[Any]]:
    path, mark, values = text.rpartition("]=") if "]=" in text else text.partition("=")
    path += "]" if mark == "]=" else ""
    if not mark or not path or not values:
        raise ValueError(f"{text!r} is not PATH=VALUE,VALUE")
    if values.startswith("["):
        return path, msgspec.json.decode(values)
    return path, [_value(one.strip()) for one in values.split(",")]


def _value(text: str) -> Any:
    try:
        return msgspec.json.decode(text)
    except msgspec.DecodeError:
        return text


def table(answer: VariantsAnswer) -> tuple[list[str], list[Cells]]:
    """Return headings and cells: a variant a row, its name, figures, checks, and why it has no answer."""
    columns = dict(_columns(answer))
    unit = answer.units
    headings = ["name", *(_heading(name, unit) for name in columns), *answer.checks, "problem"]
    rows = []
    for number, name in enumerate(answer.names):
        problem = answer.problems.get(str(number))
        figures = [column[number] for column in columns.values()]
        checks = [holds[number] for holds in answer.checks.values()]
        rows.append([name, *figures, *checks, None if problem is None else problem.detail])
    return headings, rows


def _columns(answer: VariantsAnswer) -> Iterator[tuple[str, list[Any]]]:
    for name, told in answer.columns.items():
        if isinstance(told, Mapping):
            yield from ((f"{name} {run}", column) for run, column in told.items())
        else:
            yield name, told


def _heading(name: str, units: Mapping[str, str]) -> str:
    where, _, field = name.partition(" ")[0].rpartition(".")
    kind = places_of(_TOLD[where])[field].kind if where else None
    unit = units.get(kind or "", "")
    return f"{name} ({unit})" if unit else name


_TOLD: Final = {"system": OperatingPointSystem, "hoods": HoodResult, "runs": RunResult}


def text(answer: VariantsAnswer, ending: str) -> str:
    """Return the rows as CSV, NDJSON or JSON."""
    if ending == ".json":
        return msgspec.json.format(msgspec.json.encode(answer)).decode() + "\n"
    headings, rows = table(answer)
    if ending == ".ndjson":
        lines = (dict(zip(headings, row, strict=True)) for row in rows)
        return "".join(msgspec.json.encode(line).decode() + "\n" for line in lines)
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(headings)
    writer.writerows([writing.harmless(_cell(cell)) for cell in row] for row in rows)
    return out.getvalue()


def _cell(cell: Any) -> Any:
    """Return a cell as a sheet takes it: numbers as short as they are the same to fifteen figures."""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return float(f"{cell:.15g}") if isinstance(cell, float) else cell


def write(answer: VariantsAnswer, into: Path) -> None:
    """Write the rows into a file, by its ending.

    Raises:
        ValueError: for an ending that is not written.
        ImportError: for Parquet without the extra `parquet`.
    """
    ending = into.suffix.lower()
    if ending not in ENDINGS:
        raise ValueError(f"{into}: written are {', '.join(ENDINGS)}")
    if ending == ".parquet":
        writing.write_columns(*table(answer), into)
    else:
        into.write_text(text(answer, ending), encoding="utf-8", newline="")
