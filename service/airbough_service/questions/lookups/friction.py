"""The friction loss of a straight length."""

from __future__ import annotations

from dataclasses import dataclass

from airbough.wire.answer import Finding
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.reference import (
    FrictionLossAnswer,
    FrictionLossRequest,
)
from airbough_service import catalogue
from airbough_service.catalogue import (
    Duct,
    Slack,
    UnknownWordError,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws import friction as laws
from airbough_service.core.laws.friction import LAMINAR_END, TURBULENT_START, PowerLaw
from airbough_service.judging import speed
from airbough_service.questions.lookups import air
from airbough_service.terms import (
    assumed,
    out_of_range,
    sources,
)
from airbough_service.terms.cautions import cautions
from airbough_service.terms.finding import finding
from airbough_service.terms.refusal import Refusal


@dataclass(frozen=True, slots=True)
class _Wall:
    """What the duct's wall says: roughness [m], the construction, what slack does, and what to tell of it."""

    roughness: float
    duct: Duct | None
    slack: Slack | None
    findings: tuple[Finding, ...]

    @property
    def multiplier(self) -> float:
        return self.slack.multiplier if self.slack else 1.0


def answer(request: FrictionLossRequest) -> FrictionLossAnswer:
    """Answer the friction loss of a straight length of duct."""
    state = air.of_request(request)
    wall = _wall(request)
    flow, bore, length = float(request.flow), float(request.diameter), float(request.length)
    density, viscosity = float(state.told.density), float(state.told.viscosity)
    velocity = flow / float(laws.area(bore))
    pressure = float(laws.velocity_pressure(velocity, density))
    reynolds = float(laws.reynolds_number(flow, bore, density, viscosity))
    law = _power_law(request, wall)
    if law is None:
        factor = wall.multiplier * float(laws.friction_factor(reynolds, wall.roughness / bore))
    else:
        factor = wall.multiplier * laws.power_law_loss(flow, bore, bore, law, density) / pressure
    own = _transition(request.units, reynolds) if law is None else _beyond_power_law(request, wall, velocity)
    return FrictionLossAnswer(
        units={},
        preset=request.units,
        friction_loss=factor * length / bore * pressure,
        velocity=velocity,
        velocity_pressure=pressure,
        reynolds=reynolds,
        friction_factor=factor,
        roughness=wall.roughness,
        length=length,
        air=state.told,
        findings=(
            *speed.beyond_sense(request.units, velocity),
            *state.findings,
            *wall.findings,
            *_hose_range(request, wall, density, viscosity),
            *own,
        ),
        sources=sources.told(state.origins | _origins(wall, law, request.roughness is None)),
        cautions=_cautions(wall),
    )


def _wall(request: FrictionLossRequest) -> _Wall:
    if request.duct is None:
        if request.roughness is None:
            raise out_of_range.missing(("duct", "roughness"))
        if request.stretch is not None:
            raise _not_computable("stretch", "stretch-without-hose", "`stretch` goes with a hose named by `duct`")
        return _Wall(float(request.roughness), None, None, ())
    try:
        duct = catalogue.duct(request.duct)
    except UnknownWordError as error:
        raise out_of_range.refusal(error, "duct", request.units) from None
    if duct.kind != "hose":
        if request.stretch is not None:
            raise _not_computable("stretch", "stretch-without-hose", f"{duct.id} is no hose")
        return _Wall(duct.roughness if request.roughness is None else float(request.roughness), duct, None, ())
    if request.roughness is not None:
        return _Wall(float(request.roughness), duct, None, ())
    return _hose(request, duct)


def _hose(request: FrictionLossRequest, duct: Duct) -> _Wall:
    stretch = duct.typical_stretch if request.stretch is None else float(request.stretch)
    if stretch is None:
        raise out_of_range.missing(("stretch",))
    try:
        slack = catalogue.hose_slack(duct, stretch, float(request.diameter))
    except OutsideTableError as error:
        raise out_of_range.refusal(error, "stretch", request.units) from None
    findings = [
        out_of_range.finding(outside, request.units, of=slack.entry, source=slack.passport.source)
        for outside in slack.outside
    ]
    if request.stretch is None:
        message = assumed.stretch(duct, stretch, float(request.diameter), "hose")
        findings.append(finding(request.units, "stretch-assumed", message, quantity="stretch", value=stretch))
    return _Wall(duct.roughness, duct, slack, tuple(findings))


def _hose_range(request: FrictionLossRequest, wall: _Wall, density: float, viscosity: float) -> tuple[Finding, ...]:
    """Return the note on what a hose loses against spiral duct, and how surely."""
    if wall.duct is None or wall.duct.kind != "hose" or request.roughness is not None:
        return ()
    text, ratio = assumed.hose_range(wall.duct, float(request.diameter), density, viscosity)
    source = wall.duct.passport.source
    return (finding(request.units, "hose-range", text, quantity="friction_ratio", value=ratio, source=source),)


def _power_law(request: FrictionLossRequest, wall: _Wall) -> PowerLaw | None:
    if request.friction != "power-law":
        return None
    if wall.duct is None or wall.duct.power_law is None or request.roughness is not None:
        detail = "the power law needs a `duct` with published constants, and no roughness of its own"
        raise _not_computable("duct", "power-law-not-published", detail)
    return wall.duct.power_law


def _beyond_power_law(request: FrictionLossRequest, wall: _Wall, velocity: float) -> tuple[Finding, ...]:
    if wall.duct is None or wall.duct.power_law_passport is None:
        return ()
    source = wall.duct.power_law_passport.source
    return tuple(
        out_of_range.finding(outside, request.units, of="the power law", source=source)
        for outside in catalogue.beyond(wall.duct.power_law_published, {"velocity": velocity})
    )


def _transition(preset: Preset, reynolds: float) -> tuple[Finding, ...]:
    if not LAMINAR_END < reynolds < TURBULENT_START:
        return ()
    message = "the flow is neither laminar nor turbulent; friction between Reynolds 2000 and 4000 is a bridge"
    return (finding(preset, "transitional-flow", message, quantity="reynolds", value=reynolds),)


def _origins(wall: _Wall, law: PowerLaw | None, from_catalogue: bool) -> set[sources.Origin]:
    if wall.duct is None or not from_catalogue:
        return set()
    slack = wall.slack.passport if wall.slack else None
    return sources.origins(wall.duct.passport if law is None else wall.duct.power_law_passport, slack)


def _cautions(wall: _Wall) -> tuple[str, ...]:
    if wall.duct is not None and not wall.duct.conductive:
        return cautions("estimates", "nonconductive-duct")
    return cautions("estimates")


def _not_computable(path: str, code: str, detail: str) -> Refusal:
    return Refusal("not-computable", [Fault(path=path, code=code, detail=detail)])
