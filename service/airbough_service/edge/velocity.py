"""Is the air fast enough for the dust, and not needlessly fast."""

from __future__ import annotations

from airbough.wire.answer import Finding
from airbough.wire.reference import VelocityCheckAnswer, VelocityCheckRequest
from airbough_service import catalogue
from airbough_service.catalogue import Dust, Outside, UnknownWordError
from airbough_service.core import transport
from airbough_service.edge import air, beyond, sources, units
from airbough_service.edge.cautions import cautions

SLACK = 1.0e-6  # a comparison within this share of its limit holds


def answer(request: VelocityCheckRequest) -> VelocityCheckAnswer:
    """Answer whether a flow in a bore carries a dust."""
    try:
        dust = catalogue.dust(request.dust)
    except UnknownWordError as error:
        raise beyond.refusal(error, "dust", request.units) from None
    state = air.asked(request)
    flow, bore = float(request.flow), float(request.diameter)
    velocity = transport.velocity_in(flow, bore)
    holds = velocity >= dust.transport_velocity * (1.0 - SLACK)
    fast = velocity > dust.upper_velocity * (1.0 + SLACK)
    second, findings = _second_opinion(request, dust, velocity)
    passports = [dust.passport, dust.upper_passport]
    if request.loading is not None:
        passports += [catalogue.saltation().passport, dust.particle.passport]
    return VelocityCheckAnswer(
        units={},
        preset=request.units,
        velocity=velocity,
        transport_velocity=dust.transport_velocity,
        upper_velocity=dust.upper_velocity,
        holds=holds,
        needlessly_fast=fast,
        largest_diameter=transport.largest_bore(flow, dust.transport_velocity),
        least_flow=transport.flow_at(dust.transport_velocity, bore),
        saltation_velocity=second,
        findings=(*_judged(request, dust, velocity, holds, fast), *findings, *state.findings),
        sources=sources.told(sources.origins(*passports)),
        cautions=cautions("estimates", *dust.cautions),
    )


def _judged(request: VelocityCheckRequest, dust: Dust, velocity: float, holds: bool, fast: bool) -> tuple[Finding, ...]:
    def told(si: float) -> float:
        return units.value("velocity", si, request.units)

    unit = units.unit("velocity", request.units)
    if not holds:
        return (
            Finding(
                code="below-transport-velocity",
                severity="warning",
                message=f"too slow for {dust.title.lower()}: the transport check does not hold, it may settle",
                value=told(velocity),
                limit=told(dust.transport_velocity),
                bound="minimum",
                source=dust.passport.source,
                quantity="velocity",
                unit=unit,
            ),
        )
    if fast:
        return (
            Finding(
                code="needlessly-fast",
                severity="note",
                message="faster than this dust needs: noise, wear and power grow with speed",
                value=told(velocity),
                limit=told(dust.upper_velocity),
                bound="maximum",
                source=dust.upper_passport.source,
                quantity="velocity",
                unit=unit,
            ),
        )
    return ()


def _second_opinion(
    request: VelocityCheckRequest, dust: Dust, velocity: float
) -> tuple[float | None, tuple[Finding, ...]]:
    """Return the saltation velocity where it is asked for and the dust is fine enough for the correlation."""
    if request.loading is None:
        return None, ()
    law, size = catalogue.saltation(), dust.particle.diameter
    if size > law.maximum_diameter:
        outside = Outside("particle_diameter", size, 0.0, law.maximum_diameter)
        found = beyond.finding(outside, request.units, of="the saltation correlation", source=law.passport.source)
        return None, (found,)
    delta, chi = law.delta_slope * size + law.delta_base, law.chi_slope * size + law.chi_base
    return transport.saltation_velocity(float(request.loading), float(request.diameter), delta, chi), ()
