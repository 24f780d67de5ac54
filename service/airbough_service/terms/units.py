"""The way in and out of SI for every wire struct; the table of factors is `airbough.reading.units`.

Inside the service: m, m3/s, Pa, m/s, K, W, J, kg/m3, Pa*s, m2, m3; an angle stays in degrees, a share is 0..1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any, Final, TypeVar

import msgspec
from msgspec import Struct, structs

from airbough.reading import request as reading
from airbough.reading.converters import (
    Convert,
    Converters,
)
from airbough.reading.faults import all_finite, not_finite
from airbough.reading.request import Unreadable
from airbough.reading.units import (
    PRESETS,
    TABLE,
    printed_range,
    unit,
    value,
)
from airbough.wire.base import Asked
from airbough.wire.places import Place, places_of
from airbough.wire.quantity import PRESET_UNITS
from airbough_service.terms.refusal import (
    NotFiniteError,
    refusal,
)

__all__ = ["PRESETS", "TABLE", "document", "printed_range", "to_si", "told", "unit", "value", "written"]

AnyStruct = TypeVar("AnyStruct", bound=Struct)


def to_si(request: AnyStruct) -> AnyStruct:
    """Return the request with every quantity as an SI float; bare numbers are in the preset `request.units`.

    Raises:
        Refusal: `out-of-range` where that is all that is wrong, else `against-schema`, with every fault and its path.
    """
    try:
        return reading.to_si(request)
    except Unreadable as unreadable:
        raise refusal(unreadable) from None


_ROUNDING: Final = 4.0e-15  # of a number that went through a few units
_ECHOED: Final = frozenset({"diameter", "length"})  # kinds that come back as they were asked
_PLAIN: Final = frozenset({str, int, bool})
_FLOATS: Final = frozenset({float})
_MOST_ECHOED: Final = 4096  # bores and lengths come again and again


@lru_cache(_MOST_ECHOED)
def as_written(si: float, factor: float) -> float:
    """Return the number that a caller wrote where it is read as this SI value: 150, not 150.00000000000003.

    Args:
        si: the value.
        factor: SI value of 1 in the preset's unit.
    """
    number = si / factor
    short = float(f"{number:.15g}")
    return short if short * factor == si else number


def factor(kind: str, preset: str) -> float:
    """Return the SI value of 1 in the preset's unit of a kind that has no other zero."""
    one, offset = PRESETS[preset][kind]
    assert offset == 0.0
    return one


def written(kind: str, si: float, preset: str) -> float:
    """Return the number that a person would write in the preset for an SI value; read back, it is that value.

    A value that was computed may lie a rounding away from what a person would write, such as 4 in from 0.1016 m.
    """
    number = value(kind, si, preset)
    factor, offset = PRESETS[preset][kind]
    for digits in (6, 12, 15):
        short = float(f"{number:.{digits}g}")
        if abs(short * factor + offset - si) <= _ROUNDING * abs(si):
            return short
    near = (number, math.nextafter(number, math.inf), math.nextafter(number, -math.inf))
    return min(near, key=lambda one: abs(one * factor + offset - si))


def _finite(number: Any, _: Any) -> float:
    if not math.isfinite(number):
        raise NotFiniteError
    return float(number)


def _finite_anywhere(data: Any, _: Any) -> Any:
    """Return data of no declared type as it is read from JSON, all its numbers finite."""
    return data if is_plain(data) else msgspec.json.decode(msgspec.json.encode(_finite_document(data, None)))


def is_finite(number: Any) -> bool:
    """Return whether it is a plain fraction, and finite."""
    return type(number) is float and number - number == 0.0


def are_finite(numbers: Sequence[Any]) -> bool:
    """Return whether these are plain fractions, and surely finite: their sum is, too."""
    whole = sum(numbers) if _FLOATS.issuperset(map(type, numbers)) else math.nan
    return whole - whole == 0.0


def is_plain(data: Any) -> bool:
    """Return whether data, or each value of a table, is a word or a finite number that JSON reads as it is written."""
    rows = data.values() if type(data) is dict else (data,)
    return not [one for one in rows if type(one) not in _PLAIN and not is_finite(one)]


def _finite_document(data: Any, _: Any) -> Any:
    """Return a document that is sent back, or other data, as it is, all its numbers finite."""
    if not all_finite(msgspec.to_builtins(data)):
        raise NotFiniteError
    return data


def _finite_table(table: Any, _: Any) -> Any:
    """Return a table of numbers, each finite."""
    if are_finite(list(table.values())):
        return table
    return {name: _finite(one, None) for name, one in table.items()}


class AllAtOnce(tuple[AnyStruct, ...]):
    """A list of an answer in SI that is put into a preset as a whole; its rows are read as those structs are."""

    def told(self, preset: str) -> tuple[tuple[AnyStruct, ...], frozenset[str]] | None:
        """Return the structs in a preset and the kinds of quantities in them; None where that is done one by one."""
        raise NotImplementedError

    def plainly(self) -> tuple[AnyStruct, ...]:
        """Return the structs in SI."""
        raise NotImplementedError


def _at_once(convert: Convert, preset: str) -> Convert:
    """Return a converter that puts into a preset as a whole what can be."""

    def tell(values: Any, used: set[str]) -> Any:
        if not isinstance(values, AllAtOnce):
            return convert(values, used)
        found = values.told(preset)
        if found is None:
            return convert(values.plainly(), used)
        used |= found[1]
        return found[0]

    return tell


class _Telling(Converters):
    """Converters of answers into one preset; their context gathers the kinds used.

    A struct with a `units` table of its own has it filled with the kinds used in it, beside what it tells already. Part
    of a request is a document to be sent back: its numbers are in its own preset already.
    """

    number = staticmethod(_finite)
    numbers = staticmethod(_finite_table)
    keeps = True
    anything = staticmethod(_finite_anywhere)

    def __init__(self, preset: str) -> None:
        super().__init__()
        self.preset = preset

    def of(self, struct: type[Struct]) -> Convert | None:
        return _finite_document if issubclass(struct, Asked) else super().of(struct)

    def quantity(self, extra: Mapping[str, Any]) -> Convert:
        kind: str = extra["kind"]
        factor, offset = PRESETS[self.preset][kind]

        def tell(si: Any, used: set[str]) -> float:
            used.add(kind)
            si = float(si)
            return _finite(as_written(si, factor) if kind in _ECHOED else (si - offset) / factor, used)

        return tell

    def conversion(self, place: Place) -> Convert | None:
        convert = super().conversion(place)
        rows = place.container is tuple and place.item is not None and place.item.structs
        return _at_once(convert, self.preset) if rows and convert is not None else convert

    def quickly(self, place: Place) -> tuple[str, str]:
        kind = place.kind
        if kind is None:  # what is not finite is no number when taken from itself
            return "x - x == 0.0", "x"
        factor, offset = PRESETS[self.preset][kind]
        out = f"x / {factor!r}" if offset == 0.0 else f"(x - {offset!r}) / {factor!r}"
        out = f"as_written(x, {factor!r})" if kind in _ECHOED else out
        noted = f" and not used.add({kind!r})" if place.nullable else ""  # the others are noted when a struct is begun
        return f"(told := {out}) - told == 0.0{noted}", "told"

    def begin(self, struct: type[Struct], names: dict[str, Any]) -> list[str]:
        names["as_written"] = as_written
        places = places_of(struct).values()
        names["always"] = frozenset(place.extra["kind"] for place in places if place.kind and not place.nullable)
        outer = ["outer, context = context, set()"] if _has_units(struct) else []
        return [*outer, "used = context", "used |= always"]

    def end(self, struct: type[Struct], names: dict[str, Any]) -> list[str]:
        if not _has_units(struct):
            return []
        names["units_of"] = self._units_of
        return ["outer |= context", "value = replace(value, units=value.units | units_of(context))"]

    def _units_of(self, used: set[str]) -> dict[str, str]:
        return {kind: spelling for kind, spelling in PRESET_UNITS[self.preset].items() if kind in used}


def _has_units(struct: type[Struct]) -> bool:
    """Return whether a struct has a table of the units that it uses."""
    place = places_of(struct).get("units")
    return place is not None and place.container is dict


class _Writing(Converters):
    """Converters of documents in SI into one preset, as a person would write them."""

    def __init__(self, preset: str) -> None:
        super().__init__()
        self.preset = preset

    def quantity(self, extra: Mapping[str, Any]) -> Convert:
        kind: str = extra["kind"]
        return lambda si, _: written(kind, float(si), self.preset)


_WRITING: Final = {preset: _Writing(preset) for preset in PRESETS}
_TELLING: Final = {preset: _Telling(preset) for preset in PRESETS}


def told(answer: AnyStruct, preset: str) -> AnyStruct:
    """Return the answer with every SI quantity in the preset's unit and its `units` filled with the kinds used.

    Data of no declared type (`Any`) is only looked through for numbers that are not finite.

    Raises:
        NotFiniteError: where a number anywhere is not finite, naming its path.
    """
    try:
        return _TELLING[preset].struct(answer, set())  # type: ignore[no-any-return]  # a struct keeps its type
    except NotFiniteError:
        rows = {name: getattr(answer, name) for name in answer.__struct_fields__}
        plainly = {name: own.plainly() for name, own in rows.items() if isinstance(own, AllAtOnce)}
        found = not_finite(msgspec.to_builtins(structs.replace(answer, **plainly)))
        raise NotFiniteError("; ".join(f"{fault.path}: {fault.detail}" for fault in found)) from None


def document(request: AnyStruct, preset: str) -> AnyStruct:
    """Return part of a request in SI as a person would write it in a preset; read back, it is the same."""
    return _WRITING[preset].struct(request, None)  # type: ignore[no-any-return]  # a struct keeps its type
