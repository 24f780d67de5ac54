"""The question of air, and the air of every GET question."""

from __future__ import annotations

from dataclasses import dataclass

from msgspec import structs

from airbough.wire.air import (
    Air,
    AirRequest,
    AirResult,
)
from airbough.wire.answer import Finding
from airbough.wire.reference import (
    AirAnswer,
    FittingLossRequest,
    FrictionLossRequest,
    VelocityCheckRequest,
)
from airbough_service import catalogue
from airbough_service.shop.air import air_of
from airbough_service.terms import (
    out_of_range,
    sources,
)
from airbough_service.terms.cautions import cautions
from airbough_service.terms.refusal import Refusal
from airbough_service.terms.sources import Origin


@dataclass(frozen=True, slots=True)
class AskedAir:
    """The air of a GET question: what is told of it, where it comes from, and its findings."""

    told: AirResult
    origins: set[Origin]
    findings: tuple[Finding, ...]


def of_request(request: AirRequest | FrictionLossRequest | FittingLossRequest | VelocityCheckRequest) -> AskedAir:
    """Return the air that a GET question asks for, in SI; standard air where it asks for none.

    Raises:
        Refusal: where altitude and pressure are both given, or no such air exists.
    """
    own = Air(
        temperature=request.temperature,
        altitude=request.altitude,
        pressure=request.pressure,
        humidity=request.humidity,
    )
    told, faults = air_of(None if own == Air() else own, "")
    if faults:
        raise Refusal("not-computable", [structs.replace(fault, path=fault.path.removeprefix(".")) for fault in faults])
    if told.temperature is None or told.pressure is None or told.humidity is None:
        return AskedAir(told, sources.origins(catalogue.standard_air().passport), ())
    moist = catalogue.moist_air(told.temperature, told.pressure, told.humidity)
    passports = list(moist.passports)
    if request.pressure is None:
        passports.append(catalogue.standard_pressure_passport())
    findings = tuple(
        out_of_range.finding(outside, request.units, of="moist air", source=moist.passports[0].source)
        for outside in moist.outside
    )
    return AskedAir(told, sources.origins(*passports), findings)


def answer(request: AirRequest) -> AirAnswer:
    """Answer density and viscosity of the air asked for."""
    air = of_request(request)
    return AirAnswer(
        units={},
        preset=request.units,
        air=air.told,
        findings=air.findings,
        sources=sources.told(air.origins),
        cautions=cautions("estimates"),
    )
