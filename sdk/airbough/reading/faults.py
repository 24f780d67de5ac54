"""All faults of a document against a wire type at once, each with its path; only looked for once reading has failed."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import msgspec
from msgspec import Struct

from airbough.reading import (
    examples,
    quantity_text,
    telling,
)
from airbough.reading.said import said
from airbough.reading.units import (
    PRESETS,
    from_preset,
    printed_range,
    with_slack,
)
from airbough.reading.wrong import Wrong
from airbough.wire.places import (
    Place,
    below,
    place_of,
    places_of,
)
from airbough.wire.problem import Fault
from airbough.wire.quantity import (
    MOST_CHARACTERS,
    RANGES,
)

MOST: Final = 100
"""Different faults told at most."""

MOST_PLACES: Final = 1000
"""Places told at most; ten thousand rows with the same slip need not be told ten thousand times."""

MOST_OF_A_NAME: Final = 64
"""Characters told of a name that no field has."""


def find(data: Any, wanted: Any, preset: str | None = None) -> list[Fault]:
    """Return what is wrong with plain data against a wire type, equal faults as one, at most `MOST` of them.

    Args:
        data: the data.
        wanted: the type, as annotated.
        preset: in which bare numbers are read, where no struct says so.
    """
    search = _Search()
    search.look(data, place_of(wanted), "", preset)
    told: list[Fault] = []
    shown: set[tuple[str, ...]] = set()
    for slip in search.found:
        key, right = (slip.code, slip.detail, telling.field_of(slip.path)), None
        if slip.place is not None and key not in shown and len(shown) < MOST:
            right = examples.right(slip.data, slip.place, slip.path, slip.preset, _fits)
        shown.add(key)
        told.append(Fault(path=slip.path, code=slip.code, detail=slip.detail, example=right))
    return telling.taught(told, data)[:MOST]


def _fits(data: Any, place: Place, preset: str | None) -> bool:
    """Return whether a value has no fault at a place."""
    search = _Search()
    search.look(data, place, "", preset)
    return not search.found


@dataclass(frozen=True, slots=True)
class _Slip:
    """Something wrong: where, what, and what stands there; without a place nothing may stand there."""

    path: str
    code: str
    detail: str
    data: Any = None
    place: Place | None = None
    preset: str | None = None


class _Search:
    """One walk through a document, gathering what is wrong."""

    def __init__(self) -> None:
        self.found: list[_Slip] = []

    def tell(
        self,
        path: str,
        code: str,
        detail: str,
        data: Any = None,
        place: Place | None = None,
        preset: str | None = None,
    ) -> None:
        self.found.append(_Slip(path, code, detail, data, place, preset))

    def look(self, data: Any, place: Place, path: str, preset: str | None) -> None:
        if len(self.found) >= MOST_PLACES or (data is None and place.nullable):
            return
        if isinstance(data, float) and not math.isfinite(data):
            self.tell(path, "not-finite", "must be a finite number", data, place, preset)
        elif place.kind is not None and not isinstance(data, dict | list):
            self.quantity(data, place, path, preset)
        elif place.structs and isinstance(data, dict):
            self.one_of(data, place, path, preset)
        elif place.container is not None and isinstance(data, dict if place.container is dict else list):
            self.items(data, place, path, preset)
        else:
            self.value(data, place, path, preset)

    def one_of(self, data: dict[str, Any], place: Place, path: str, preset: str | None) -> None:
        config = place.structs[0].__struct_config__
        if len(place.structs) == 1 and config.tag_field is None:
            self.struct(data, place.structs[0], path, preset)
            return
        by_tag = examples.tags_of(place)
        field = str(config.tag_field)
        words = ", ".join(by_tag)
        its_own = Place(str, words=tuple(by_tag), scalars=frozenset({str}))
        if field not in data:
            self.tell(below(path, field), "missing-field", f"one of {words}")
        elif not isinstance(data[field], str) or data[field] not in by_tag:
            self.tell(below(path, field), "unknown-type", f"must be one of {words}", data[field], its_own, preset)
        else:
            self.struct(data, by_tag[data[field]], path, preset)

    def struct(self, data: dict[str, Any], struct: type[Struct], path: str, preset: str | None) -> None:
        own = data.get("units")
        preset = own if isinstance(own, str) and own in PRESETS else preset
        config = struct.__struct_config__
        places = places_of(struct)
        known = set(places) | ({config.tag_field} if config.tag_field else set())
        for name in data:
            if name not in known and config.forbid_unknown_fields:
                self.tell(below(path, name[:MOST_OF_A_NAME]), "unknown-field", _unknown(name, known, places))
        for name, place in places.items():
            if name in data:
                self.look(data[name], place, below(path, name), preset)
            elif place.required:
                self.tell(below(path, name), "missing-field", "this field is needed", None, place, preset)

    def items(self, data: Any, place: Place, path: str, preset: str | None) -> None:
        before = len(self.found)
        for step, item in _steps(data):
            self.look(item, place.item or place_of(Any), below(path, step), preset)
        if len(self.found) == before:
            self.value(data, place, path, preset)

    def quantity(self, data: Any, place: Place, path: str, preset: str | None) -> None:
        kind: str = place.extra["kind"]
        if isinstance(data, str) and len(data) <= MOST_CHARACTERS:
            try:
                si = quantity_text.parse(data, kind)
            except Wrong as wrong:
                for _, code, detail in wrong.found:
                    self.tell(path, code, detail, data, place, preset)
                return
        elif isinstance(data, int | float) and not isinstance(data, bool) and preset is not None:
            number = float(data) if abs(data) < 10**300 else math.inf  # JSON has integers that no float holds
            si = from_preset(kind, number, preset)
        else:
            self.value(data, place, path, preset)
            return
        low, high = place.extra.get("range", RANGES[kind])
        least, most = with_slack(low, high)
        if preset is not None and not least <= si <= most:
            detail = f"must be {printed_range(kind, low, high, preset)}"
            self.tell(path, "out-of-range", detail, data, place, preset)

    def value(self, data: Any, place: Place, path: str, preset: str | None) -> None:
        try:
            msgspec.convert(data, place.annotation, strict=True)
        except msgspec.ValidationError as error:
            code, detail = said(str(error), place)
            self.tell(path, code, detail, data, place, preset)


def _steps(data: Any) -> Iterable[tuple[str, Any]]:
    if isinstance(data, Mapping):
        return ((str(name)[:MOST_OF_A_NAME], item) for name, item in data.items())
    return ((f"[{index}]", item) for index, item in enumerate(data))


def _unknown(name: str, known: set[str], places: Mapping[str, Place]) -> str:
    inside = [other for other, place in places.items() if _has(place, name)]
    if inside:
        return f"no such field here; it stands in `{inside[0]}`"
    near = difflib.get_close_matches(name[:MOST_OF_A_NAME], sorted(known), n=1)
    return (
        f"no such field; did you mean `{near[0]}`?" if near else f"no such field; known are {', '.join(sorted(known))}"
    )


def _has(place: Place, name: str) -> bool:
    """Return whether the one struct at a place, or each of its items, has a field of this name."""
    structs = place.structs or (place.item.structs if place.item is not None else ())
    return len(structs) == 1 and name in places_of(structs[0])


def all_finite(data: Any) -> bool:
    """Return whether plain data holds no NaN and no infinity."""
    kind = type(data)
    if kind is float:
        return math.isfinite(data)
    if kind is str or kind is int or data is None:
        return True
    if kind is dict:
        return all(map(all_finite, data.values()))
    if kind is list or kind is tuple:
        return all(map(all_finite, data))
    return not not_finite(data)


def not_finite(data: Any, path: str = "") -> list[Fault]:
    """Return a fault for each number anywhere in plain data that is not finite, known field or not."""
    if isinstance(data, float):
        wrong = not math.isfinite(data)
        return [Fault(path=path, code="not-finite", detail="must be a finite number")] if wrong else []
    if not isinstance(data, Mapping | list | tuple):
        return []
    return [fault for step, item in _steps(data) for fault in not_finite(item, below(path, step))][:MOST]
