"""Air: what the caller says of it, and what was computed."""

from __future__ import annotations

from typing import Annotated

from msgspec import Meta

from airbough.wire.base import (
    Asked,
    Told,
)
from airbough.wire.quantity import (
    Altitude,
    Barometer,
    Density,
    DensityResult,
    Preset,
    PressureResult,
    Share,
    Temperature,
    TemperatureResult,
    Viscosity,
    ViscosityResult,
)


class Air(Asked, kw_only=True):
    """The air of the whole tree. Left out: standard air, 1.2 kg/m3 and 18.2 uPa*s (ISO 5801)."""

    temperature: Annotated[Temperature | None, Meta(description="Left out: 20 degC.")] = None
    altitude: Annotated[Altitude | None, Meta(description="Left out: sea level. Not together with `pressure`.")] = None
    pressure: Annotated[Barometer | None, Meta(description="Barometric pressure, in place of `altitude`.")] = None
    humidity: Annotated[Share | None, Meta(description="Relative humidity, 0..1. Left out: 0.5.")] = None
    density: Annotated[Density | None, Meta(description="Overrides the computed density.")] = None
    viscosity: Annotated[Viscosity | None, Meta(description="Overrides the computed viscosity.")] = None


class AirResult(Told, kw_only=True):
    """The air that the answer was computed with."""

    density: DensityResult
    viscosity: ViscosityResult
    standard: Annotated[bool, Meta(description="Whether this is standard air.")]
    temperature: TemperatureResult | None = None
    pressure: PressureResult | None = None
    humidity: float | None = None


class AirRequest(Asked, kw_only=True):
    """GET /v1/air."""

    units: Preset
    temperature: Temperature | None = None
    altitude: Altitude | None = None
    pressure: Barometer | None = None
    humidity: Share | None = None
