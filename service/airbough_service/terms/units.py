"""The way in and out of SI for every wire struct; the table of factors is `airbough.reading.units`.

Inside the service: m, m3/s, Pa, m/s, K, W, J, kg/m3, Pa*s, m2, m3; an angle stays in degrees, a share is 0..1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from msgspec import Struct, structs

from airbough.reading import request as reading
from airbough.reading.request import Unreadable
from airbough.reading.units import (
    PRESETS,
    TABLE,
    printed_range,
    unit,
    value,
)
from airbough.reading.walk import (
    Convert,
    Walker,
)
from airbough.reading.wrong import (
    Wrong,
    wrong,
)
from airbough.wire.base import Asked
from airbough.wire.quantity import PRESET_UNITS
from airbough_service.terms.refusal import (
    NotFiniteError,
    refusal,
)

__all__ = ["TABLE", "printed_range", "to_si", "told", "unit", "value", "written"]

AnyStruct = TypeVar("AnyStruct", bound=Struct)


@dataclass(frozen=True, slots=True)
class _Telling:
    factors: dict[str, tuple[float, float]]
    used: set[str]


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


def _as_written(number: float, si: float, factor: float) -> float:
    """Return the number that a caller wrote where it is read as this SI value: 150, not 150.00000000000003."""
    short = float(f"{number:.15g}")
    return short if short * factor == si else number


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


def _told(extra: Mapping[str, Any]) -> Convert:
    kind: str = extra["kind"]
    isfinite = math.isfinite

    def tell(si: Any, telling: _Telling) -> float:
        factor, offset = telling.factors[kind]
        told_value = float((si - offset) / factor)
        if kind in _ECHOED:
            told_value = _as_written(told_value, si, factor)
        if not isfinite(told_value):
            raise wrong("not-finite", f"{told_value}")
        telling.used.add(kind)
        return told_value

    return tell


def _finite(number: Any, _: Any) -> Any:
    if not math.isfinite(number):
        raise wrong("not-finite", f"{number}")
    return float(number)


def _finite_anywhere(data: Any, context: Any) -> Any:
    if isinstance(data, float):
        _finite(data, context)
        return data
    if isinstance(data, Struct):
        parts = ((name, getattr(data, name)) for name in data.__struct_fields__)
    elif isinstance(data, dict):
        parts = ((str(key), item) for key, item in data.items())
    elif isinstance(data, list | tuple):
        parts = ((f"[{index}]", item) for index, item in enumerate(data))
    else:
        return data
    for step, item in parts:
        try:
            _finite_anywhere(item, context)
        except Wrong as below:
            raise Wrong(below.under(step)) from None
    return data


class _TellingWalker(Walker):
    """A struct with a `units` table of its own has it filled with the kinds used in it; part of a request stays."""

    def struct(self, value: Struct, context: Any) -> Struct:
        if isinstance(value, Asked):  # a document to be sent back: its numbers are in its own preset already
            _finite_anywhere(value, context)
            return value
        if not isinstance(getattr(value, "units", None), dict):
            return super().struct(value, context)
        inner = _Telling(context.factors, set())
        told_struct = super().struct(value, inner)
        context.used.update(inner.used)
        return structs.replace(told_struct, units=_units_of(inner))


def _units_of(telling: _Telling) -> dict[str, str]:
    preset = next(name for name, factors in PRESETS.items() if factors is telling.factors)
    return {kind: spelling for kind, spelling in PRESET_UNITS[preset].items() if kind in telling.used}


_telling: Final = _TellingWalker(_told, _finite, _finite_anywhere)


def told(answer: AnyStruct, preset: str) -> AnyStruct:
    """Return the answer with every SI quantity in the preset's unit and its `units` filled with the kinds used.

    Data of no declared type (`Any`) is only looked through for numbers that are not finite.

    Raises:
        NotFiniteError: where a number anywhere is not finite, naming its path.
    """
    try:
        return _telling.struct(answer, _Telling(PRESETS[preset], set()))  # type: ignore[return-value]
    except Wrong as found:
        raise NotFiniteError(str(found)) from None
