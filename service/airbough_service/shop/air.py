"""The air of a request: standard, computed, or the caller's own."""

from __future__ import annotations

from functools import cache

from airbough.wire.air import (
    Air,
    AirResult,
)
from airbough.wire.collector import CollectorLoss
from airbough.wire.problem import Fault
from airbough.wire.tree import Resistance
from airbough_service import catalogue
from airbough_service.core.errors import OutsideTableError


def air_of(asked: Air | None, path: str) -> tuple[AirResult, list[Fault]]:
    """Return the air and every fault of it; standard air where nothing is asked."""
    if asked is None:
        return standard(), []
    if asked.altitude is not None and asked.pressure is not None:
        detail = "give altitude or pressure, not both"
        return standard(), [Fault(path=f"{path}.pressure", code="altitude-and-pressure", detail=detail)]
    return computed(
        path,
        temperature=None if asked.temperature is None else float(asked.temperature),
        altitude=None if asked.altitude is None else float(asked.altitude),
        pressure=None if asked.pressure is None else float(asked.pressure),
        humidity=None if asked.humidity is None else float(asked.humidity),
        density=None if asked.density is None else float(asked.density),
        viscosity=None if asked.viscosity is None else float(asked.viscosity),
    )


def rated_term(loss: CollectorLoss | Resistance, air: AirResult) -> float:
    """Return a of a loss a * flow^n at the tree's air: pressure (1/flow)^n (rho/rho_r)^(n-1) (mu/mu_r)^(2-n)."""
    rated, _ = air_of(loss.rated_air, "")
    n = loss.exponent
    density = (float(air.density) / float(rated.density)) ** (n - 1.0)
    viscosity = (float(air.viscosity) / float(rated.viscosity)) ** (2.0 - n)
    return float(float(loss.pressure) / float(loss.flow) ** n * density * viscosity)


@cache
def standard() -> AirResult:
    """Return standard air (ISO 5801)."""
    air = catalogue.standard_air()
    return AirResult(density=air.density, viscosity=air.viscosity, standard=True)


def computed(
    path: str,
    *,
    temperature: float | None = None,
    altitude: float | None = None,
    pressure: float | None = None,
    humidity: float | None = None,
    density: float | None = None,
    viscosity: float | None = None,
) -> tuple[AirResult, list[Fault]]:
    """Return moist air; what is left out is as usual, and at sea level. Density and viscosity alone say no more."""
    said = (temperature, altitude, pressure, humidity)
    if density is not None and viscosity is not None and all(one is None for one in said):
        return AirResult(density=density, viscosity=viscosity, standard=False), []
    usual_temperature, usual_humidity = catalogue.usual_air()
    kelvin = usual_temperature if temperature is None else temperature
    humid = usual_humidity if humidity is None else humidity
    try:
        barometer = catalogue.standard_pressure(altitude or 0.0) if pressure is None else pressure
        own = catalogue.moist_air(kelvin, barometer, humid)
    except OutsideTableError as error:
        detail = f"{error.value:.6g} is outside {error.low:.6g}..{error.high:.6g}"
        return standard(), [Fault(path=f"{path}.{error.name}", code="outside-range", detail=detail)]
    return AirResult(
        density=own.density if density is None else density,
        viscosity=own.viscosity if viscosity is None else viscosity,
        standard=False,
        temperature=kelvin,
        pressure=barometer,
        humidity=humid,
    ), []
