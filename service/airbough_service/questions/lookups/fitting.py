"""The loss of one fitting, entry, gate or junction."""

from __future__ import annotations

import math
from typing import Any

from msgspec import structs

from airbough.wire.answer import Finding
from airbough.wire.problem import Fault
from airbough.wire.reference import (
    FittingLossAnswer,
    FittingLossRequest,
)
from airbough_service import catalogue
from airbough_service.catalogue import (
    Loss,
    MissingParameterError,
    UnknownWordError,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.friction import velocity_pressure
from airbough_service.core.laws.transport import velocity_in
from airbough_service.judging import speed
from airbough_service.questions.lookups import (
    air,
    junctions,
)
from airbough_service.questions.lookups.catalogue import passport_told
from airbough_service.terms import (
    assumed,
    out_of_range,
    sources,
)
from airbough_service.terms.cautions import cautions
from airbough_service.terms.finding import finding
from airbough_service.terms.refusal import Refusal

_NO_PARAMETERS = frozenset({"units", "flow", "diameter", "count", "temperature", "altitude", "pressure", "humidity"})


def answer(request: FittingLossRequest, type: str) -> FittingLossAnswer:  # the path template's word
    """Answer the coefficient of one piece, and the loss of all `count` where the flow is given."""
    try:
        of = catalogue.family(type)
        given = parameters(request)
        _refuse_strangers(given, of.parameters.keys() | (junctions.EXTRA if of.place == "junction" else set()), type)
        if of.place == "junction":
            loss, straight, bore = junctions.loss(type, given, _bore(request))
        else:
            loss, straight, bore = _plain(type, given, _bore(request))
    except (UnknownWordError, MissingParameterError, OutsideTableError) as error:
        raise _refusal(error, request, type) from None
    return _told(request, type, of.refers_to, loss, straight, bore)


def parameters(request: FittingLossRequest) -> dict[str, Any]:
    """Return the parameters that were given, by name."""
    values = structs.asdict(request)
    return {name: value for name, value in values.items() if value is not None and name not in _NO_PARAMETERS}


def _bore(request: FittingLossRequest) -> float:
    """Return the bore, not a number where it is not given."""
    return math.nan if request.diameter is None else float(request.diameter)


def _plain(type_: str, given: dict[str, Any], bore: float) -> tuple[Loss, float | None, float]:
    loss = catalogue.fitting_loss(type_, given, bore)
    return loss, None, catalogue.refers_bore(type_, given, bore)


def _refuse_strangers(given: dict[str, Any], known: Any, type_: str) -> None:
    faults = [
        Fault(path=name, code="unknown-field", detail=f"{type_} takes {', '.join(sorted(known)) or 'no parameter'}")
        for name in given
        if name not in known
    ]
    if faults:
        raise Refusal("not-computable", faults)


def _refusal(
    error: UnknownWordError | MissingParameterError | OutsideTableError, request: FittingLossRequest, type_: str
) -> Refusal:
    if isinstance(error, UnknownWordError):
        return out_of_range.refusal(error, "type" if error.word == type_ else error.kind, request.units)
    if isinstance(error, OutsideTableError) and math.isnan(error.value):
        return out_of_range.missing(("diameter",))
    return out_of_range.refusal(error, "type", request.units)


def _assumes_construction(request: FittingLossRequest, type_: str) -> bool:
    """Return whether the catalogue chose how an elbow is made."""
    return "construction" in catalogue.family(type_).parameters and request.construction is None


def _told(
    request: FittingLossRequest, type_: str, refers_to: str, loss: Loss, straight: float | None, bore: float
) -> FittingLossAnswer:
    state = air.of_request(request)
    velocity = pressure = lost = None
    if request.flow is not None:
        if math.isnan(bore):
            raise out_of_range.missing(("diameter",))
        velocity = velocity_in(float(request.flow), bore)
        pressure = float(velocity_pressure(velocity, float(state.told.density)))
        lost = request.count * loss.coefficient * pressure
    findings: list[Finding] = [
        out_of_range.finding(outside, request.units, of=loss.entry, source=loss.passport.source)
        for outside in loss.outside
    ]
    if _assumes_construction(request, type_):
        text = assumed.construction(bore, "a turn")
        findings.append(finding(request.units, "construction-assumed", text, at="construction"))
    if request.flow is not None:
        findings += [*speed.beyond_sense(request.units, velocity), *state.findings]
    return FittingLossAnswer(
        units={},
        preset=request.units,
        type=type_,
        coefficient=loss.coefficient,
        refers_to=refers_to,
        passport=passport_told(loss.passport),
        loss=lost,
        velocity=velocity,
        velocity_pressure=pressure,
        straight_coefficient=straight,
        gate_travel=None if request.opening is None else catalogue.gate_travel(float(request.opening)),
        findings=tuple(findings),
        sources=sources.told(sources.origins(loss.passport) | (state.origins if request.flow is not None else set())),
        cautions=cautions("estimates"),
    )
