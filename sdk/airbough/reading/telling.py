"""What a fault tells beside its path: whose row it is in, what stands there, and where else the same is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import msgspec
from msgspec import Struct, structs

from airbough.wire.problem import Fault, FaultPlace

MOST_READ: Final = 60
"""Characters told of what stands at a place."""

_STEP: Final = re.compile(r"\[(\d+)\]|([^.\[\]]+)")
_NAMES: Final = ("id", "name", "item", "run", "machine")
"""Fields that name a row of a list; the first that it has counts."""

_NOTHING: Final = object()


def taught(faults: Iterable[Fault], data: object) -> list[Fault]:
    """Return the faults with the row's id and what was read at each place, equal ones as one.

    Args:
        faults: each with one path; what they tell already stays.
        data: the request, as a struct or as plain data, as the caller wrote it.
    """
    together: dict[tuple[str, ...], Fault] = {}
    also: dict[tuple[str, ...], list[FaultPlace]] = {}
    for fault in faults:
        place = _place(fault, data)
        key = fault.code, fault.detail, field_of(fault.path)
        if key not in together:
            together[key] = structs.replace(fault, id=place.id, read=place.read)
            also[key] = list(fault.also)
        elif place.path not in (together[key].path, *(other.path for other in also[key])):
            also[key].append(place)
    return [structs.replace(fault, also=tuple(also[key])) for key, fault in together.items()]


def field_of(path: str) -> str:
    """Return the last field of a path: `diameter` of `runs[3].diameter`, `curve` of `collector.fan.curve[1]`."""
    return path.rpartition(".")[2].partition("[")[0]


def _place(fault: Fault, data: object) -> FaultPlace:
    here = _Here(data)
    for number, name in _STEP.findall(fault.path):
        here = here.below(int(number) if number else name)
    read = fault.read if fault.read is not None else shown(here.value)
    return FaultPlace(path=fault.path, id=fault.id if fault.id is not None else here.row, read=read)


@dataclass(frozen=True, slots=True)
class _Here:
    """A place in a request, and the name of the innermost row of a list that it is in."""

    value: object
    row: str | None = None

    def below(self, step: int | str) -> _Here:
        if isinstance(step, str):
            return _Here(_field(self.value, step), self.row)
        items = self.value if isinstance(self.value, list | tuple) else ()
        item = items[step] if step < len(items) else _NOTHING
        return _Here(item, _name(item) or self.row)


def _field(value: object, name: str) -> object:
    if isinstance(value, Struct):
        return getattr(value, name, _NOTHING)
    return value.get(name, _NOTHING) if isinstance(value, Mapping) else _NOTHING


def _name(row: object) -> str | None:
    names = (_field(row, name) for name in _NAMES)
    return next((name[:64] for name in names if isinstance(name, str) and name), None)


def shown(value: object) -> str | None:
    """Return what stands at a place as JSON, cut where it is long; None for nothing."""
    if value is _NOTHING or value is None:
        return None
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        value = int(value)  # the same number, however it was written
    try:
        text = msgspec.json.encode(value).decode()
    except (TypeError, ValueError, OverflowError, RecursionError):
        return f"a {type(value).__name__} that JSON does not have"
    if isinstance(value, float) and text == "null":
        text = repr(value)
    return text if len(text) <= MOST_READ else f"{text[: MOST_READ - 1]}…"
