"""Answers as rows: plain tables in memory, and frames of pandas or polars where those are installed."""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, Literal, TypeAlias

from msgspec import Struct

from airbough.travel.batch import Result
from airbough.wire.places import Place, places_of

Library: TypeAlias = Literal["pandas", "polars"]
Row: TypeAlias = dict[str, object]
Answers: TypeAlias = Struct | Mapping[str, Struct] | Iterable[Struct | Result]

_LIBRARIES: Final[tuple[Library, ...]] = ("pandas", "polars")


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
    """
    found = getattr(answer, of, None)
    known = [name for name in answer.__struct_fields__ if isinstance(getattr(answer, name), Struct | tuple)]
    if of not in known:
        raise LookupError(f"a {type(answer).__name__} has no {of!r} to tell in rows; it has {', '.join(known)}")
    told = getattr(answer, "units", None) if units else None
    items = found if isinstance(found, tuple) else (found,)
    plain = [dict(_fields(item, told if isinstance(told, dict) else {})) for item in items if isinstance(item, Struct)]
    columns = dict.fromkeys(name for row in plain for name in row)
    return [{name: row.get(name) for name in columns} for row in plain]


def frame(answers: Answers, of: str = "runs", *, units: bool = False, using: Library | None = None) -> Any:
    """Return answers as a frame: a row for each item of `of`.

    Args:
        answers: an answer; a table of them by name, told in the column `id`; or the results of a batch, each with its
            `id`, and one that was refused as a row that has its `error`.
        of: as in `rows`.
        units: as in `rows`.
        using: left out: pandas, or polars where that alone is installed.

    Raises:
        ImportError: where neither is installed, or not the one asked for.
        LookupError: as `rows`.
    """
    library = _library(using)
    told = list(_named(answers, of, units))
    columns = dict.fromkeys(name for row in told for name in row)
    return library.DataFrame({name: [row.get(name) for row in told] for name in columns})


def _named(answers: Answers, of: str, units: bool) -> Iterator[Row]:
    if isinstance(answers, Struct):
        yield from rows(answers, of, units=units)
        return
    pairs = answers.items() if isinstance(answers, Mapping) else enumerate(answers)
    for name, answer in pairs:
        if isinstance(answer, Result):
            yield from _of_result(answer, of, units)
        else:
            yield from ({"id": name, **_without_id(row)} for row in rows(answer, of, units=units))


def _of_result(result: Result, of: str, units: bool) -> Iterator[Row]:
    if result.error is not None:
        yield {"id": result.id, "error": str(result.error)}
        return
    for row in rows(result.answer, of, units=units):
        yield {"id": result.id, **_without_id(row), "error": None}


def _without_id(row: Row) -> Row:
    """Return a row whose own id is the run's, for `id` is the answer's."""
    return {("run" if name == "id" else name): item for name, item in row.items()}


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


def _library(using: Library | None) -> Any:
    for name in _LIBRARIES if using is None else (using,):
        try:
            return importlib.import_module(name)
        except ModuleNotFoundError as error:
            if error.name != name:
                raise
    wanted = using or "pandas or polars"
    raise ImportError(f"frames need {wanted}: pip install 'airbough[{using or 'pandas'}]'")
