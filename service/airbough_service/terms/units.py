"""The only home of units: one table of exact factors, and the way in and out of SI for every wire struct.

Inside the service: m, m3/s, Pa, m/s, K, W, J, kg/m3, Pa*s, m2, m3; an angle stays in degrees, a share is 0..1.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from msgspec import Struct, structs

from airbough.wire.problem import Fault
from airbough.wire.quantity import (
    PRESET_UNITS,
    RANGES,
    SPELLINGS,
)
from airbough_service.terms.refusal import (
    NotFiniteError,
    Refusal,
)
from airbough_service.terms.walk import (
    Convert,
    Walker,
    Wrong,
)

AnyStruct = TypeVar("AnyStruct", bound=Struct)

_FOOT: Final = 0.3048  # International foot, exact (1959 agreement)
_POUND: Final = 0.45359237  # avoirdupois pound, exact
_FEET: Final = {"ft": _FOOT, "in": _FOOT / 12, "mm": 0.001, "cm": 0.01, "m": 1.0}

_FACTORS: Final[dict[str, dict[str, float]]] = {
    "flow": {
        "cfm": _FOOT**3 / 60,
        "ft^3/min": _FOOT**3 / 60,
        "ft3/min": _FOOT**3 / 60,
        "m^3/h": 1 / 3600,
        "m3/h": 1 / 3600,
        "m^3/s": 1.0,
        "m3/s": 1.0,
        "L/s": 0.001,
    },
    "velocity": {"fpm": _FOOT / 60, "ft/min": _FOOT / 60, "m/s": 1.0},
    "pressure": {
        "inH2O": 249.08891,  # conventional inch of water, 25.4 * 9.80665 Pa
        "inWC": 249.08891,
        "inwg": 249.08891,
        "Pa": 1.0,
        "kPa": 1000.0,
        "mmH2O": 9.80665,
    },
    "length": _FEET,
    "diameter": _FEET,
    "roughness": _FEET,
    "altitude": _FEET,
    "temperature": {"degF": 5 / 9, "degC": 1.0, "K": 1.0},
    "power": {"hp": 745.69987, "W": 1.0, "kW": 1000.0},
    "angle": {"deg": 1.0},
    "share": {"%": 0.01},
    "area": {
        "ft^2": _FOOT**2,
        "ft2": _FOOT**2,
        "m^2": 1.0,
        "m2": 1.0,
        "in^2": (_FOOT / 12) ** 2,
        "in2": (_FOOT / 12) ** 2,
        "mm^2": 1.0e-6,
        "mm2": 1.0e-6,
    },
    "volume": {"ft^3": _FOOT**3, "ft3": _FOOT**3, "m^3": 1.0, "m3": 1.0, "L": 0.001},
    "density": {"lb/ft^3": _POUND / _FOOT**3, "lb/ft3": _POUND / _FOOT**3, "kg/m^3": 1.0, "kg/m3": 1.0},
    "viscosity": {"lb/(ft*s)": _POUND / _FOOT, "Pa*s": 1.0},
    "energy": {"kWh": 3.6e6, "J": 1.0, "MJ": 1.0e6},
}
_OFFSETS: Final = {"degF": 459.67 * 5 / 9, "degC": 273.15}

TABLE: Final[dict[str, dict[str, tuple[float, float]]]] = {
    kind: {spelling: (factor, _OFFSETS.get(spelling, 0.0)) for spelling, factor in factors.items()}
    for kind, factors in _FACTORS.items()
}
"""Kind -> spelling -> (factor, offset): SI value = value * factor + offset."""

_BARE: Final = (1.0, 0.0)
_PRESETS: Final[dict[str, dict[str, tuple[float, float]]]] = {
    preset: {kind: TABLE[kind].get(of_kind.get(kind, ""), _BARE) for kind in TABLE}
    for preset, of_kind in PRESET_UNITS.items()
}

_GRAMMAR: Final = re.compile(
    r"(?P<sign>-?)(?P<number>[0-9]{1,9}(?:\.[0-9]{1,15})?)(?: (?P<over>[0-9]{1,3})/(?P<under>[1-9][0-9]{0,2}))?"
    r" ?(?P<unit>[^0-9\s.,+\-][^\s]*)"
)
_STANDARD_FLOWS: Final = frozenset({"scfm", "sl/s", "slpm", "nm3/h", "nm^3/h"})
_SLACK: Final = 1.0e-9


@dataclass(frozen=True, slots=True)
class _Telling:
    factors: dict[str, tuple[float, float]]
    used: set[str]


def unit(kind: str, preset: str) -> str:
    """Return the unit of this kind in the preset; empty for a share."""
    return PRESET_UNITS[preset].get(kind, "")


def value(kind: str, si: float, preset: str) -> float:
    """Return an SI value in the preset's unit of its kind."""
    factor, offset = _PRESETS[preset][kind]
    return (si - offset) / factor


def from_preset(kind: str, number: float, preset: str) -> float:
    """Return the SI value of a bare number in the preset's unit of its kind."""
    factor, offset = _PRESETS[preset][kind]
    return number * factor + offset


def within(si: float, low: float, high: float) -> bool:
    """Return whether a value lies in a printed range, with a slack for what rounding of units does."""
    return low - _SLACK * abs(low) <= si <= high + _SLACK * abs(high)


def parse(text: str, kind: str) -> float:
    """Return the SI value of a quantity's text, such as `4 1/2 in`.

    Raises:
        Wrong: with code `quantity-grammar`, `unknown-unit`, `wrong-kind` or `standard-flow`.
    """
    found = _GRAMMAR.fullmatch(text)
    if found is None:
        raise Wrong(
            [("", "quantity-grammar", f"a number, or a number and a fraction, then a unit: {_spellings(kind)}")]
        )
    spelling = found["unit"]
    if spelling not in TABLE[kind]:
        raise Wrong([("", *_unit_fault(spelling, kind))])
    number = float(found["number"])
    if found["over"]:
        number += int(found["over"]) / int(found["under"])
    factor, offset = TABLE[kind][spelling]
    return (-number if found["sign"] else number) * factor + offset


def _spellings(kind: str) -> str:
    return ", ".join(SPELLINGS[kind])


def _unit_fault(spelling: str, kind: str) -> tuple[str, str]:
    if spelling.lower() in _STANDARD_FLOWS:
        return "standard-flow", (
            "flows here are actual volumes at the duct's own density, not at standard conditions: "
            f"convert first and use one of {_spellings(kind)}"
        )
    for other, factors in TABLE.items():
        if spelling in factors:
            return "wrong-kind", f"`{spelling}` is a unit of {other}; {kind} takes {_spellings(kind)}"
    return "unknown-unit", f"the units of {kind} are {_spellings(kind)}"


def _read_text(written: Any, kind: str, preset: str) -> float:
    """Return the SI value of what is not a plain float: a text, or a number of Python's other types."""
    if type(written) is str:
        return parse(written, kind)
    if type(written) is int:
        factor, offset = _PRESETS[preset][kind]
        return written * factor + offset
    raise Wrong([("", "wrong-type", "a number or a text with a unit")])


def _asked(extra: dict[str, Any]) -> Convert:
    kind: str = extra["kind"]
    low, high = extra.get("range", RANGES[kind])
    least, most = low - _SLACK * abs(low), high + _SLACK * abs(high)
    factors = {preset: of_kind[kind] for preset, of_kind in _PRESETS.items()}

    def read(written: Any, preset: str) -> float:
        if type(written) is float:
            factor, offset = factors[preset]
            si: float = written * factor + offset
        else:
            si = _read_text(written, kind, preset)
        if least <= si <= most:
            return si
        raise Wrong([("", "out-of-range", f"must be {printed_range(kind, low, high, preset)}")])

    return read


def printed_range(kind: str, low: float, high: float, preset: str) -> str:
    """Return a range given in SI as text in the preset's unit, such as `0.393701 to 118.11 in`."""
    shown = f"{_short(value(kind, low, preset))} to {_short(value(kind, high, preset))}"
    return f"{shown} {unit(kind, preset)}".rstrip()


def _short(number: float) -> str:
    text = f"{number:.6g}"
    return "0" if text == "-0" else text


class _Reading(Walker):
    """A struct with `units` of its own is read in them, at any depth."""

    def struct(self, value: Struct, context: Any) -> Struct:
        own = getattr(value, "units", context)
        return super().struct(value, own if own in _PRESETS else context)


_reading: Final = _Reading(_asked)


def to_si(request: AnyStruct) -> AnyStruct:
    """Return the request with every quantity as an SI float; bare numbers are in the preset `request.units`.

    Raises:
        Refusal: `out-of-range` where that is all that is wrong, else `against-schema`, with every fault and its path.
    """
    try:
        return _reading.struct(request, None)  # type: ignore[return-value]  # a struct keeps its type
    except Wrong as wrong:
        faults = [Fault(path=path, code=code, detail=detail) for path, code, detail in wrong.places]
        ranges_only = all(fault.code == "out-of-range" for fault in faults)
        raise Refusal("out-of-range" if ranges_only else "against-schema", faults) from None


def _told(extra: dict[str, Any]) -> Convert:
    kind: str = extra["kind"]
    isfinite = math.isfinite

    def tell(si: Any, telling: _Telling) -> float:
        factor, offset = telling.factors[kind]
        told_value = float((si - offset) / factor)
        if not isfinite(told_value):
            raise Wrong([("", "not-finite", f"{told_value}")])
        telling.used.add(kind)
        return told_value

    return tell


def _finite(number: Any, _: Any) -> Any:
    if not math.isfinite(number):
        raise Wrong([("", "not-finite", f"{number}")])
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
        except Wrong as wrong:
            raise Wrong(wrong.below(step)) from None
    return data


class _TellingWalker(Walker):
    """A struct with a `units` table of its own has it filled with the kinds used in it."""

    def struct(self, value: Struct, context: Any) -> Struct:
        if not isinstance(getattr(value, "units", None), dict):
            return super().struct(value, context)
        inner = _Telling(context.factors, set())
        told_struct = super().struct(value, inner)
        context.used.update(inner.used)
        return structs.replace(told_struct, units=_units_of(inner))


def _units_of(telling: _Telling) -> dict[str, str]:
    preset = next(name for name, factors in _PRESETS.items() if factors is telling.factors)
    return {kind: spelling for kind, spelling in PRESET_UNITS[preset].items() if kind in telling.used}


_telling: Final = _TellingWalker(_told, _finite, _finite_anywhere)


def told(answer: AnyStruct, preset: str) -> AnyStruct:
    """Return the answer with every SI quantity in the preset's unit and its `units` filled with the kinds used.

    Data of no declared type (`Any`) is only looked through for numbers that are not finite.

    Raises:
        NotFiniteError: where a number anywhere is not finite, naming its path.
    """
    try:
        return _telling.struct(answer, _Telling(_PRESETS[preset], set()))  # type: ignore[return-value]
    except Wrong as wrong:
        raise NotFiniteError(str(wrong)) from None
