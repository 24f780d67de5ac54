"""Moist air and the standard atmosphere; SI units, temperatures in kelvin, floats or arrays of one shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.errors import OutsideTableError

Number = TypeVar("Number", float, NDArray[np.float64])

ZERO_CELSIUS: Final = 273.15


@dataclass(frozen=True, slots=True)
class MoistAirConstants:
    """The constants of CIPM-2007, named as in its printed formulas; SI."""

    gas_constant: float
    molar_mass_dry: float
    molar_mass_water: float
    compressibility: dict[str, float]
    saturation: dict[str, float]
    enhancement: dict[str, float]


@dataclass(frozen=True, slots=True)
class Sutherland:
    """Sutherland's law: beta T^1.5 / (T + s) [Pa*s], T and s in K."""

    beta: float
    s: float


@dataclass(frozen=True, slots=True)
class StandardAtmosphere:
    """The standard atmosphere to 11 km: p0 (1 - height_factor z)^exponent."""

    sea_level_pressure: float
    height_factor: float
    exponent: float


def vapour_fraction(temperature: Number, pressure: Number, humidity: Number, constants: MoistAirConstants) -> Number:
    """Mole fraction of water vapour: x = h f(p, t) p_sv(T) / p.

    Args:
        temperature: of the air [K].
        pressure: absolute [Pa].
        humidity: relative, 0..1.
        constants: of CIPM-2007.

    Returns:
        Mole fraction, 0..1, the shape of the arguments.

    Raises:
        OutsideTableError: where the vapour alone would exceed the pressure: no such air exists.

    Notes:
        CIPM-2007, appendices A1.1 and A1.2.
    """
    p, f = constants.saturation, constants.enhancement
    celsius = temperature - ZERO_CELSIUS
    saturation = np.exp(p["a"] * temperature**2 + p["b"] * temperature + p["c"] + p["d"] / temperature)
    enhancement = f["alpha"] + f["beta"] * pressure + f["gamma"] * celsius**2
    greatest = pressure / (enhancement * saturation)
    fraction: Any = humidity / greatest
    if np.any(fraction > 1.0):
        raise OutsideTableError("humidity", float(np.max(humidity)), 0.0, float(np.min(greatest)))
    return fraction


def density(temperature: Number, pressure: Number, humidity: Number, constants: MoistAirConstants) -> Number:
    """Density of moist air: rho = p M / (Z R T) (1 - x (1 - M_water / M)).

    Args:
        temperature: of the air [K].
        pressure: absolute [Pa].
        humidity: relative, 0..1.
        constants: of CIPM-2007.

    Returns:
        Density [kg/m3], the shape of the arguments.

    Raises:
        OutsideTableError: where no such moist air exists.

    Notes:
        CIPM-2007, equations 1 and 2 and appendix A1.4, made for 15 to 27 degC and 600 to 1100 hPa.
    """
    z = constants.compressibility
    t = temperature - ZERO_CELSIUS
    x = vapour_fraction(temperature, pressure, humidity, constants)
    virial = z["a0"] + z["a1"] * t + z["a2"] * t**2 + (z["b0"] + z["b1"] * t) * x + (z["c0"] + z["c1"] * t) * x**2
    ratio = pressure / temperature
    compressibility = 1.0 - ratio * virial + ratio**2 * (z["d"] + z["e"] * x**2)
    mass, water = constants.molar_mass_dry, constants.molar_mass_water
    return ratio * mass / (compressibility * constants.gas_constant) * (1.0 - x * (1.0 - water / mass))


def viscosity(temperature: Number, law: Sutherland) -> Number:
    """Dynamic viscosity of air: mu = beta T^1.5 / (T + s) [Pa*s]; humidity is left out (about 1 % at 30 degC)."""
    return law.beta * temperature**1.5 / (temperature + law.s)


def moist_air(
    temperature: Number, pressure: Number, humidity: Number, constants: MoistAirConstants, law: Sutherland
) -> tuple[Number, Number]:
    """Return density [kg/m3] and dynamic viscosity [Pa*s] of moist air; see `density` and `viscosity`."""
    return density(temperature, pressure, humidity, constants), viscosity(temperature, law)


def standard_pressure(altitude: Number, atmosphere: StandardAtmosphere) -> Number:
    """Pressure of the standard atmosphere at this altitude [m]: p0 (1 - height_factor z)^exponent [Pa]."""
    base = 1.0 - atmosphere.height_factor * altitude
    return atmosphere.sea_level_pressure * base**atmosphere.exponent
