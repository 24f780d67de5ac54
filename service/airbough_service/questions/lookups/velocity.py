"""Is the air fast enough for the dust, and not needlessly fast."""

from __future__ import annotations

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.reference import (
    VelocityCheckAnswer,
    VelocityCheckRequest,
)
from airbough_service import catalogue
from airbough_service.catalogue import (
    Dust,
    Outside,
    UnknownWordError,
)
from airbough_service.core.laws import transport
from airbough_service.judging import speed
from airbough_service.questions.lookups import air
from airbough_service.solving.grades import needlessly_fast, settles
from airbough_service.terms import (
    out_of_range,
    sources,
)
from airbough_service.terms.cautions import cautions
from airbough_service.terms.finding import (
    finding,
    lower,
    show_apart,
    show_bound,
)


def answer(request: VelocityCheckRequest) -> VelocityCheckAnswer:
    """Answer whether a flow in a bore carries a dust."""
    try:
        dust = catalogue.dust(request.dust)
    except UnknownWordError as error:
        raise out_of_range.refusal(error, "dust", request.units) from None
    state = air.of_request(request)
    flow, bore = float(request.flow), float(request.diameter)
    velocity = transport.velocity_in(flow, bore)
    holds = not settles(velocity / dust.transport_velocity)
    fast = needlessly_fast(velocity / dust.upper_velocity)
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
        findings=(
            *speed.beyond_sense(request.units, velocity),
            *_judged(request, dust, velocity, holds, fast),
            *findings,
            *state.findings,
        ),
        sources=sources.told(sources.origins(*passports)),
        cautions=cautions("estimates", *dust.cautions),
    )


def _judged(request: VelocityCheckRequest, dust: Dust, velocity: float, holds: bool, fast: bool) -> tuple[Finding, ...]:
    """Return the finding of air too slow or needlessly fast, with the diameter and the flow that would fix it."""
    preset, flow = request.units, float(request.flow)
    widest = show_bound(preset, "diameter", transport.largest_bore(flow, dust.transport_velocity), most=True)
    if not holds:
        moves, settles = show_apart(preset, "velocity", velocity, dust.transport_velocity)
        least = show_bound(
            preset, "flow", transport.flow_at(dust.transport_velocity, float(request.diameter)), most=False
        )
        slow = finding(
            preset,
            "below-transport-velocity",
            f"{moves}, below {settles}: the transport check does not hold, {lower(dust.title)} may settle",
            quantity="velocity",
            kind="velocity",
            value=velocity,
            minimum=dust.transport_velocity,
            suggestion=Suggestion(text=f"a diameter of at most {widest}, or at least {least} in this one"),
            source=dust.passport.source,
        )
        return (slow,)
    if not fast:
        return ()
    quick = finding(
        preset,
        "needlessly-fast",
        "faster than this dust needs: noise, wear and power grow with speed",
        quantity="velocity",
        kind="velocity",
        value=velocity,
        maximum=dust.upper_velocity,
        suggestion=Suggestion(text=f"a wider duct, up to {widest}, still carries the dust"),
        source=dust.upper_passport.source,
    )
    return (quick,)


def _second_opinion(
    request: VelocityCheckRequest, dust: Dust, velocity: float
) -> tuple[float | None, tuple[Finding, ...]]:
    """Return the saltation velocity where it is asked for and the dust is fine enough for the correlation."""
    if request.loading is None:
        return None, ()
    law, size = catalogue.saltation(), dust.particle.diameter
    if size > law.maximum_diameter:
        outside = Outside("particle_diameter", size, 0.0, law.maximum_diameter)
        found = out_of_range.finding(outside, request.units, of="the saltation correlation", source=law.passport.source)
        return None, (found,)
    delta, chi = law.delta_slope * size + law.delta_base, law.chi_slope * size + law.chi_base
    return transport.saltation_velocity(float(request.loading), float(request.diameter), delta, chi), ()
