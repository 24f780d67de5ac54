"""Pint: a registry that has the wire's spellings, requests from quantities, answers as quantities.

By default pint reads `cfm` as a length and knows no `inWC`; here each spelling means what the service means by it.
"""

from __future__ import annotations

import functools
import re
from decimal import Decimal
from typing import Any, Final

from airbough.wire.quantity import (
    PRESET_UNITS,
    SPELLINGS,
)

try:
    import pint
except ImportError as error:  # pragma: no cover - pint is an extra
    raise ImportError("quantities with units need pint: pip install 'airbough[pint]'") from error

_DEFINITIONS: Final = (
    "cubic_foot_per_minute = foot ** 3 / minute = cfm",
    "foot_per_minute = foot / minute = fpm",
    "inch_H2O = 249.08891 * pascal = inH2O = inWC = inwg",
    "millimeter_H2O = 9.80665 * pascal = mmH2O",
    "horsepower = 745.69987 * watt = hp",
    "BTU = 1055.05585262 * joule",
)
_SI: Final = {
    "flow": "m^3/s",
    "velocity": "m/s",
    "pressure": "Pa",
    "length": "m",
    "diameter": "m",
    "roughness": "m",
    "altitude": "m",
    "temperature": "K",
    "power": "W",
    "angle": "deg",
    "area": "m^2",
    "volume": "m^3",
    "density": "kg/m^3",
    "viscosity": "Pa*s",
    "energy": "J",
    "heat": "W",
    "time": "s",
    "clock": "s",
    "voltage": "V",
    "current": "A",
    "force": "N",
}
_DIGIT_POWER: Final = re.compile(r"(?<![A-Za-z_0-9])(mm|cm|m|ft|in)([23])(?![A-Za-z_0-9])")


def _powers(text: str) -> str:
    """Return `ft3` as `ft^3`: as units of their own such names would take prefixes, `mm3` being a thousandth of m3."""
    return _DIGIT_POWER.sub(r"\1^\2", text)


@functools.cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the registry, made once: every spelling of the wire, with the service's own factors."""
    units: pint.UnitRegistry[Any] = pint.UnitRegistry(on_redefinition="ignore", preprocessors=[_powers])
    for definition in _DEFINITIONS:
        units.define(definition)
    return units


@functools.cache
def _spelled(kind: str) -> dict[str, str]:
    """Return pint's long name of a unit -> the wire's spelling."""
    names: dict[str, str] = {}
    for spelling in SPELLINGS[kind]:
        names.setdefault(f"{registry().Unit(spelling):D}", spelling)
    return names


def written(quantity: Any, kind: str, preset: str | None) -> str | float:  # pint is loaded lazily
    """Return a quantity as the wire has it: its own unit where that loses no digit, else a bare number of the preset.

    Raises:
        ValueError: where the quantity is not of this kind, is no single number, or is not finite.
    """
    try:
        magnitude = float(quantity.magnitude)
    except (TypeError, ValueError):
        raise ValueError(f"one number is needed, not {quantity.magnitude!r}") from None
    if kind == "share":
        return _to(quantity, "dimensionless", kind)
    spelling = _spelled(kind).get(f"{quantity.units:D}")
    if spelling and _means_the_same(quantity, spelling):
        return _text(magnitude, spelling) or _bare(registry().Quantity(magnitude, spelling), kind, preset)
    si = _to(quantity, _SI[kind], kind)
    return _text(si, _SI[kind]) or _bare(registry().Quantity(si, _SI[kind]), kind, preset)


def _means_the_same(quantity: Any, spelling: str) -> bool:  # pint is loaded lazily
    """Return whether the quantity's own registry means by its unit what the service means by the spelling."""
    if quantity._REGISTRY is registry():
        return True
    theirs = type(quantity)(1.0, quantity.units).to_base_units()
    ours = registry().Quantity(1.0, spelling).to_base_units()
    return bool(abs(theirs.magnitude - ours.magnitude) <= 1e-12 * abs(ours.magnitude))


def _to(quantity: Any, unit: str, kind: str) -> float:  # pint is loaded lazily
    try:
        return float(quantity.to(unit).magnitude)
    except pint.PintError as error:
        raise ValueError(f"not a {kind}: {error}") from None


def _text(magnitude: float, spelling: str) -> str | None:
    """Return number and unit in the wire's grammar, or None where its digits do not suffice."""
    digits = format(Decimal(repr(magnitude)), "f")
    return f"{digits} {spelling}" if re.fullmatch(r"-?[0-9]{1,9}(\.[0-9]{1,15})?", digits) else None


def _bare(quantity: Any, kind: str, preset: str | None) -> float:  # pint is loaded lazily
    if preset is None:
        raise ValueError("the number needs a unit, and the request names no preset of units")
    return _to(quantity, PRESET_UNITS[preset][kind], kind)


def quantity(value: float, unit: str) -> pint.Quantity[Any] | float:
    """Return a number of an answer as a quantity; itself where the unit is none of the wire's."""
    try:
        return registry().Quantity(value, unit) if unit else value
    except pint.UndefinedUnitError:
        return value
