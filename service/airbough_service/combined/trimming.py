"""Parts of an answer, where only those are asked for: which they are, and what is left out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from msgspec import Struct, structs

from airbough.calls import CALLS
from airbough.reading.examples import nearest
from airbough.wire.places import Place, places_of
from airbough.wire.problem import Fault
from airbough.wire.trimmed import TrimmedAnswer
from airbough_service.terms.refusal import Refusal

_ALWAYS: Final = ("engine", "preset", "units", "cautions")
_OF_A_ROW: Final = ("id", "run")
_MOST_KEPT: Final = 256  # ways to ask that are remembered: a batch asks in one
_ANSWERS: Final[dict[str, type[Struct]]] = {call.name: call.answer for call in CALLS}


@dataclass(frozen=True, slots=True)
class Parts:
    """What is asked for of one kind of answer.

    Attributes:
        fields: each field asked for -> what of it, where not the whole.
        left_out: the names of what is not told.
        emptied: fields not told that may stand empty -> empty.
    """

    fields: dict[str, tuple[str, ...]]
    left_out: tuple[str, ...]
    emptied: dict[str, Any]

    def __contains__(self, name: str) -> bool:
        return name in self.fields


@lru_cache(_MOST_KEPT)
def parts(question: str, only: tuple[str, ...]) -> Parts:
    """Return what is asked for of a question's answer.

    Raises:
        Refusal: `unknown-word` for what the answer does not have.
    """
    places = places_of(_ANSWERS[question])
    named = [name for name in places if name not in _ALWAYS]
    below = {name: tuple(_below(places[name])) for name in named}
    known = dict.fromkeys([*named, *(f"{name}.{inner}" for name in named for inner in below[name])])
    faults = [_unknown(index, one, tuple(known)) for index, one in enumerate(only) if one not in known]
    if faults:
        raise Refusal("unknown-word", faults)
    whole = {one for one in only if "." not in one}
    fields: dict[str, tuple[str, ...]] = dict.fromkeys((name for name in named if name in whole), ())
    for name, _, inner in (one.partition(".") for one in only):
        if name not in whole:
            rows = [each for each in _OF_A_ROW if each in below[name]] if places[name].container is tuple else []
            fields[name] = tuple(dict.fromkeys((*rows, *fields.get(name, ()), inner)))
    left_out = [name for name in named if name not in fields]
    left_out += [f"{name}.{each}" for name, told in fields.items() if told for each in below[name] if each not in told]
    emptied = {name: empty for name in named if name not in fields and (empty := _empty(places[name])) is not _FULL}
    return Parts(fields, tuple(left_out), emptied)


_FULL: Final = object()


def _empty(place: Place) -> Any:
    """Return what may stand in a place that is not told; `_FULL` where it must stay."""
    return () if place.container is tuple else None if place.nullable else _FULL


def _below(place: Place) -> list[str]:
    """Return the fields of what stands in a place, or of the rows there."""
    held = place.structs if place.item is None or place.container is not tuple else place.item.structs
    return list(dict.fromkeys(name for struct in held for name in places_of(struct)))


def _unknown(index: int, word: str, known: tuple[str, ...]) -> Fault:
    name = word.partition(".")[0]
    there = [one for one in known if one.startswith(f"{name}.")] or [one for one in known if "." not in one]
    detail = f"the answer does not have this; it has {', '.join(there)}"
    return Fault(path=f"only[{index}]", code="unknown-word", detail=detail, example=nearest(word, known))


def emptied(answer: Struct, asked: Parts) -> Struct:
    """Return an answer without what may be left out before its numbers are put into units."""
    return structs.replace(answer, **asked.emptied)


def trimmed(answer: Struct, asked: Parts) -> TrimmedAnswer:
    """Return what is asked for of an answer in its preset."""
    told = {}
    for name, fields in asked.fields.items():
        value = getattr(answer, name)
        if value is not None:
            told[name] = _picked(value, fields) if fields else value
    return TrimmedAnswer(
        told=told,
        left_out=asked.left_out,
        cautions=getattr(answer, "cautions", ()),
        engine=getattr(answer, "engine", None),
        preset=getattr(answer, "preset", None),
        units=getattr(answer, "units", None),
    )


def _picked(value: Any, fields: tuple[str, ...]) -> Any:
    if isinstance(value, tuple):
        return [_picked(row, fields) for row in value]
    told = ((name, getattr(value, name, None)) for name in fields)
    return {name: item for name, item in told if item is not None}
