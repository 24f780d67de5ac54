"""The question of a hood's static pressure: the flow behind it, or the hood's own coefficient."""

from __future__ import annotations

import math
from dataclasses import dataclass

from airbough.wire.answer import Finding
from airbough.wire.entry import (
    FlangedOpening,
    PlainOpening,
)
from airbough.wire.measurement import (
    HoodStaticPressureAnswer,
    HoodStaticPressureRequest,
)
from airbough.wire.problem import Fault
from airbough_service import catalogue
from airbough_service.catalogue import (
    MissingParameterError,
    Outside,
    Passport,
    UnknownWordError,
)
from airbough_service.catalogue.traverse import (
    hood_tap,
    instrument,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws import measurement
from airbough_service.core.limits import above, below
from airbough_service.core.network.tree import area
from airbough_service.judging.speed import beyond_sense
from airbough_service.questions.measuring.air import measured_air
from airbough_service.shop import pieces
from airbough_service.terms import (
    out_of_range,
    sources,
)
from airbough_service.terms.cautions import cautions
from airbough_service.terms.finding import (
    finding,
)
from airbough_service.terms.refusal import Refusal


@dataclass(frozen=True, slots=True)
class _Entry:
    """Loss of the entry in velocity pressures, and where it comes from."""

    coefficient: float
    passport: Passport | None = None
    entry: str = ""
    outside: tuple[Outside, ...] = ()


def answer(request: HoodStaticPressureRequest) -> HoodStaticPressureAnswer:
    """Answer the flow through a hood from the static pressure just after it.

    Raises:
        Refusal: not one of entry, coefficient and flow; no suction; a flow too great for the suction read.
    """
    _check(request)
    air, origins = measured_air(request.air)
    density, suction = float(air.density), abs(float(request.hood_static_pressure))
    bore = area(float(request.diameter))
    entry = _entry(request, density, suction)
    pressure = measurement.hood_velocity_pressure(suction, entry.coefficient)
    velocity = measurement.velocity(pressure, density)
    known = request.flow is None
    passports: tuple[Passport | None, ...] = (entry.passport, instrument().passport if known else None)
    if request.tap_distance is not None:
        passports += (hood_tap().passport,)
    return HoodStaticPressureAnswer(
        units={},
        preset=request.units,
        flow=velocity * bore,
        velocity=velocity,
        velocity_pressure=pressure,
        hood_static_pressure=-suction,
        entry_loss=entry.coefficient * pressure,
        coefficient_of_entry=measurement.coefficient_of_entry(entry.coefficient),
        entry_coefficient=entry.coefficient,
        spread=_spread(entry) if known else None,
        air=air,
        findings=(*_findings(request, entry), *beyond_sense(request.units, velocity)),
        sources=sources.told(origins | sources.origins(*passports)),
        cautions=cautions("estimates", "measurement"),
    )


def _check(request: HoodStaticPressureRequest) -> None:
    """Refuse a question that says too much or too little."""
    given = [name for name in ("entry", "coefficient_of_entry", "flow") if getattr(request, name) is not None]
    faults = []
    if len(given) != 1:
        detail = "give one of entry, coefficient_of_entry and flow"
        faults.append(Fault(path=given[1] if given else "entry", code="one-of-three", detail=detail))
    if float(request.hood_static_pressure) == 0.0:
        faults.append(Fault(path="hood_static_pressure", code="no-suction", detail="no suction is no flow"))
    if faults:
        raise Refusal("not-computable", faults)


def _entry(request: HoodStaticPressureRequest, density: float, suction: float) -> _Entry:
    """Return the loss of the entry asked for, or the one that the measured flow shows."""
    if request.coefficient_of_entry is not None:
        return _Entry(measurement.entry_coefficient(request.coefficient_of_entry))
    if request.flow is not None:
        return _shown(float(request.flow), float(request.diameter), density, suction)
    asked = request.entry
    assert asked is not None
    if pieces.tag(asked) == "known-coefficient":
        return _Entry(float(asked.coefficient))  # type: ignore[union-attr]  # the tag says which
    try:
        loss = catalogue.entry_loss(pieces.tag(asked), pieces.parameters(asked), float(request.diameter))
    except (UnknownWordError, MissingParameterError, OutsideTableError) as error:
        raise _below_entry(out_of_range.refusal(error, "entry", request.units)) from None
    return _Entry(loss.coefficient, loss.passport, loss.entry, loss.outside)


def _below_entry(refusal: Refusal) -> Refusal:
    """Return the refusal with its paths below `entry`."""
    faults = [
        Fault(path=f"entry.{fault.path}" if fault.path != "entry" else "entry", code=fault.code, detail=fault.detail)
        for fault in refusal.faults
    ]
    return Refusal(refusal.kind, faults)


def _shown(flow: float, diameter: float, density: float, suction: float) -> _Entry:
    """Return the entry's loss that a measured flow shows: F = SPh / VP - 1."""
    speed = flow / area(diameter)
    pressure = 0.5 * density * speed * speed
    if above(pressure, suction):
        detail = "the velocity pressure of this flow exceeds the suction read; no entry gains pressure"
        raise Refusal("not-computable", [Fault(path="flow", code="flow-above-suction", detail=detail)])
    return _Entry(max(suction / pressure - 1.0, 0.0))


def _spread(entry: _Entry) -> float:
    """Return the relative spread of the flow, which goes with 1 / sqrt(1 + F), and of the reading itself."""
    own = 0.0 if entry.passport is None else entry.passport.spread
    of_entry = 0.5 * entry.coefficient * own / (1.0 + entry.coefficient)
    return math.hypot(of_entry, instrument().value)


def _findings(request: HoodStaticPressureRequest, entry: _Entry) -> list[Finding]:
    """Return what speaks against the reading."""
    source = "" if entry.passport is None else entry.passport.source
    found = [
        out_of_range.finding(outside, request.units, of=entry.entry, source=source, at="entry")
        for outside in entry.outside
    ]
    if request.tap_distance is None:
        return found
    rule = hood_tap()
    wanted = rule.plain if isinstance(request.entry, PlainOpening | FlangedOpening) else rule.tapered
    limit = wanted * float(request.diameter)
    if below(float(request.tap_distance), limit):
        found.append(
            finding(
                request.units,
                "tap-too-close",
                f"the flow behind the hood has not settled here: read at least {wanted:g} times the diameter from it",
                at="tap_distance",
                quantity="tap_distance",
                kind="length",
                value=float(request.tap_distance),
                minimum=limit,
                source=rule.passport.source,
            )
        )
    return found
