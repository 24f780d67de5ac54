"""Air by the catalogue's constants: standard air, moist air, the standard atmosphere."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, Final

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Outside,
    Passport,
    beyond,
    passport_of,
)
from airbough_service.core.laws import air as laws

_MOST_AIRS: Final = 1024  # airs that are remembered: a caller's shops stand in one, and an answer asks for it again


@dataclass(frozen=True, slots=True)
class StandardAir:
    """Standard air: density [kg/m3], dynamic viscosity [Pa*s]."""

    density: float
    viscosity: float
    passport: Passport


@dataclass(frozen=True, slots=True)
class MoistAir:
    """Moist air: density [kg/m3], dynamic viscosity [Pa*s], and what lies beyond the checked range."""

    density: float
    viscosity: float
    passports: tuple[Passport, ...]
    outside: tuple[Outside, ...]


@cache
def standard_air() -> StandardAir:
    """Return standard air, one constant for both presets."""
    block = reading.read("air")["standard"]
    return StandardAir(block["density"], block["viscosity"], passport_of(block))


@cache
def usual_air() -> tuple[float, float]:
    """Return the temperature [K] and relative humidity of air of which they are not said."""
    block = reading.read("air")["usual"]
    return block["temperature"], block["humidity"]


@lru_cache(_MOST_AIRS)
def moist_air(temperature: float, pressure: float, humidity: float) -> MoistAir:
    """Return density and viscosity for temperature [K], absolute pressure [Pa], relative humidity 0..1.

    Raises:
        OutsideTableError: where the vapour alone would exceed the pressure.
    """
    blocks = reading.read("air")
    density, viscosity = laws.moist_air(temperature, pressure, humidity, constants(), sutherland())
    block = blocks["moist_air"]
    ranges = {"temperature": tuple(block["checked_temperature_range"]), "pressure": tuple(block["pressure_range"])}
    outside = beyond(ranges, {"temperature": temperature, "pressure": pressure})
    return MoistAir(float(density), float(viscosity), (passport_of(block), passport_of(blocks["viscosity"])), outside)


@lru_cache(_MOST_AIRS)
def standard_pressure(altitude: float) -> float:
    """Return the pressure [Pa] of the standard atmosphere at this altitude [m]."""
    return float(laws.standard_pressure(altitude, atmosphere()))


def standard_pressure_passport() -> Passport:
    """Return where the standard atmosphere comes from."""
    return passport_of(reading.read("air")["standard_atmosphere"])


@cache
def constants() -> laws.MoistAirConstants:
    """Return the constants of moist air's density."""
    block = reading.read("air")["moist_air"]
    return laws.MoistAirConstants(
        gas_constant=block["gas_constant"],
        molar_mass_dry=block["molar_mass_dry"],
        molar_mass_water=block["molar_mass_water"],
        compressibility=_numbers(block["compressibility"]),
        saturation=_numbers(block["saturation"]),
        enhancement=_numbers(block["enhancement"]),
    )


@cache
def sutherland() -> laws.Sutherland:
    """Return the constants of Sutherland's law."""
    block = reading.read("air")["viscosity"]
    return laws.Sutherland(block["beta"], block["s"])


@cache
def atmosphere() -> laws.StandardAtmosphere:
    """Return the constants of the standard atmosphere."""
    block = reading.read("air")["standard_atmosphere"]
    return laws.StandardAtmosphere(
        sea_level_pressure=block["sea_level_pressure"],
        height_factor=block["height_factor"],
        exponent=block["exponent"],
    )


def _numbers(block: dict[str, Any]) -> dict[str, float]:
    return {name: value for name, value in block.items() if isinstance(value, float)}
