"""Places of a document by their paths: what stands there, what may stand there, and the document with another value."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import msgspec
from msgspec import NODEFAULT, Struct, structs

from airbough.reading import faults as looking
from airbough.reading.converters import Convert
from airbough.reading.in_si import reader
from airbough.reading.request import whole_numbers
from airbough.reading.wrong import Wrong
from airbough.wire.known import known
from airbough.wire.places import Place, places_of
from airbough.wire.problem import Fault
from airbough_service.terms.refusal import nearest

_STEP: Final = re.compile(r'(?:^|\.)([A-Za-z_]\w*)|\[(?:"((?:[^"\\]|\\.)*)"|(\d+)|([^"\]][^\]]*))\]')
_ROWS: Final = ("id", "name")
"""Fields by which a path may name a row."""
_NOT_CHANGED: Final = frozenset({"units", "resolved", "explain", "uncertainty"})
"""Of a document: what is about its answer alone."""


class NoPlaceError(Exception):
    """A path that names no place; its text says why."""


@dataclass(frozen=True, slots=True)
class Target:
    """A place of a document.

    Attributes:
        path: as asked.
        steps: fields and numbers from the document down.
        place: what may stand there.
        default: what stands there where it is left out; NODEFAULT where it must not be.
        slot: a struct of one field that takes what may stand there.
        read: gives the SI value of what is no null; None where it is itself.
        preset: in which a bare number is read.
    """

    path: str
    steps: tuple[str | int, ...]
    place: Place
    default: Any
    slot: type[Struct]
    read: Convert | None
    preset: str

    def value(self, written: Any) -> Any:
        """Return what is written as it stands in a document in SI.

        Raises:
            ValueError: it is no such value; `faults` tells why.
        """
        if written is None and (self.place.nullable or self.default is not NODEFAULT):
            return None if self.place.nullable else self.default
        if self.place.kind is None or type(written) not in (float, int, str):
            try:
                written = msgspec.convert({"value": written}, self.slot, strict=True).value  # type: ignore[attr-defined]
            except msgspec.ValidationError:
                tidy = whole_numbers(written)  # JSON Schema takes 2.0 for a whole number
                written = msgspec.convert({"value": tidy}, self.slot, strict=True).value  # type: ignore[attr-defined]
        if self.read is None or written is None:
            return written
        try:
            return self.read(written, None)
        except Wrong as wrong:
            raise ValueError(str(wrong)) from None

    def faults(self, written: Any, path: str) -> list[Fault]:
        """Return why something written is no value here, told at a path."""
        found = looking.find({"value": whole_numbers(written)}, self.slot, self.preset)
        if not found:
            found = [Fault(path="value", code="wrong-type", detail="no such value may stand here")]
        return [structs.replace(fault, path=path + fault.path.removeprefix("value")) for fault in found]


def target(document: Struct, path: str, preset: str) -> Target:
    """Return the place that a path names in a document.

    Args:
        document: in SI.
        path: as `airbough.wire.variants` has it.
        preset: in which the document's bare numbers are written.

    Raises:
        NoPlaceError: with the reason.
    """
    value: Any = document
    steps, here = list[str | int](), ""
    place: Place | None = None
    holder: tuple[type[Struct], str] | None = None
    for step in _steps(path):
        if value is None:
            raise NoPlaceError(f"nothing stands at `{here}`; set it whole")
        if isinstance(step, str):
            holder, place = _field(value, step, here, at_top=not steps)
            steps.append(step)
            value, here = getattr(value, step), f"{here}.{step}" if here else step
        else:
            number = _row(value, step[0], here)
            place = None if place is None else place.item
            steps.append(number)
            value, here = value[number], f"{here}[{step[0]}]"
    if place is None or holder is None:
        raise NoPlaceError("no such place")
    depth = len(steps) - 1 - max(k for k, step in enumerate(steps) if isinstance(step, str))
    return Target(
        path, tuple(steps), place, NODEFAULT if depth else _default(*holder), _slot(*holder, depth),
        reader(place, preset), preset,
    )  # fmt: skip


def _steps(path: str) -> list[str | tuple[str | int]]:
    """Return a path's fields as texts, and its rows each in a tuple: a number, an id or a name."""
    out: list[str | tuple[str | int]] = []
    reached = 0
    while reached < len(path):
        found = _STEP.match(path, reached)
        if found is None or (found[0].startswith(".") and reached == 0):
            raise NoPlaceError("not written as a path such as `runs[main].diameter`")
        name, quoted, number, word = found.groups()
        if name is not None:
            out.append(name)
        elif quoted is not None:
            out.append((re.sub(r"\\(.)", r"\1", quoted),))
        else:
            out.append((int(number) if number is not None else word,))
        reached = found.end()
    return out


def _field(value: Any, name: str, here: str, *, at_top: bool) -> tuple[tuple[type[Struct], str], Place]:
    """Return the struct that has a field, the field, and what may stand there."""
    places = places_of(type(value)) if isinstance(value, Struct) else {}
    names = [known for known in places if not (at_top and known in _NOT_CHANGED)]
    if name not in names:
        near, _ = nearest(name, names)
        hint = near or (f"; there is {', '.join(names)}" if names else "")
        raise NoPlaceError(f"{f'`{here}`' if here else 'the document'} has no field {name!r}{hint}")
    return (type(value), name), places[name]


def _row(rows: Any, word: str | int, here: str) -> int:
    """Return the number of a row, told by its number, id or name."""
    if not isinstance(rows, tuple):
        raise NoPlaceError(f"`{here}` has no rows")
    if isinstance(word, int):
        if word < len(rows):
            return word
        raise NoPlaceError(f"`{here}` has {len(rows)} rows, counted from 0; set it whole to add one")
    for number, row in enumerate(rows):
        if any(getattr(row, name, None) == word for name in _ROWS):
            return number
    ids = [name for row in rows for field in _ROWS if isinstance(name := getattr(row, field, None), str)]
    raise NoPlaceError(f"`{here}` has no row {word!r}{nearest(word, ids)[0]}")


@cache
def _slot(struct: type[Struct], name: str, depth: int) -> type[Struct]:
    """Return a struct with the one field `value`, which takes what the field, or an item in it, takes."""
    place = places_of(struct)[name]
    for _ in range(depth):
        assert place.item is not None
        place = place.item
    return known(msgspec.defstruct("Slot", [("value", place.annotation)]))


@cache
def _default(struct: type[Struct], name: str) -> Any:
    """Return what a field is where it is left out."""
    told = next(field for field in structs.fields(struct) if field.encode_name == name)
    return told.default_factory() if told.default_factory is not NODEFAULT else told.default


def put(document: Any, steps: tuple[str | int, ...], value: Any) -> Any:
    """Return a document, or a part of one, with another value at a place below."""
    if not steps:
        return value
    step, rest = steps[0], steps[1:]
    if isinstance(step, int):
        return (*document[:step], put(document[step], rest, value), *document[step + 1 :])
    new = value if not rest else put(getattr(document, step), rest, value)
    return structs.replace(document, **{step: new})
