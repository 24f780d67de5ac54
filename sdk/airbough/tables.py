"""Answers as rows: plain tables in memory, and frames of pandas or polars where those are installed."""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, Literal, TypeAlias

from msgspec import Struct

from airbough.reading.answer_rows import Row, rows
from airbough.travel.batch import Result

Library: TypeAlias = Literal["pandas", "polars"]
Answers: TypeAlias = Struct | Mapping[str, Struct] | Iterable[Struct | Result]

__all__ = ["frame", "rows"]

_LIBRARIES: Final[tuple[Library, ...]] = ("pandas", "polars")


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


def _library(using: Library | None) -> Any:
    for name in _LIBRARIES if using is None else (using,):
        try:
            return importlib.import_module(name)
        except ModuleNotFoundError as error:
            if error.name != name:
                raise
    wanted = using or "pandas or polars"
    raise ImportError(f"frames need {wanted}: pip install 'airbough[{using or 'pandas'}]'")
