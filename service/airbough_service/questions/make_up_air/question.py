"""POST /v1/trees/make-up-air: what leaves the room must come back."""

from __future__ import annotations

from dataclasses import dataclass

from airbough.wire.answer import Finding
from airbough.wire.make_up_air import (
    MakeUpAir,
    MakeUpAirAnswer,
    MakeUpAirRequest,
    Room,
)
from airbough_service.catalogue import Passport
from airbough_service.catalogue.rooms import (
    appliance,
    room_rules,
)
from airbough_service.core.laws import make_up_air as laws
from airbough_service.questions.make_up_air import findings
from airbough_service.questions.make_up_air.checks import check
from airbough_service.questions.make_up_air.envelope import (
    discharge_coefficient,
    envelope,
    returned,
)
from airbough_service.questions.make_up_air.exhaust import (
    Exhaust,
    exhaust,
    settled,
)
from airbough_service.shop.shop import build
from airbough_service.solving import tree_answer
from airbough_service.solving.told_state import Answered, of_point
from airbough_service.terms import sources
from airbough_service.terms.finding import ordered

SECONDS_PER_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class _Allowed:
    """The depressurisation allowed [Pa], who says so, and where the number comes from."""

    pressure: float
    by: str
    passport: Passport | None


def answer(request: MakeUpAirRequest) -> MakeUpAirAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(request: MakeUpAirRequest) -> Answered[MakeUpAirAnswer]:
    """Answer make-up air, depressurisation and heat, in SI.

    Raises:
        Refusal: with every fault of tree, fan and room; no fan and no design flows; a fan beyond its curve.
    """
    shop = build(request)
    check(request)
    out = exhaust(shop, request)
    allowed = _allowed(request.room)
    room = _room(request, out, allowed, shop.density)
    found: list[Finding] = [*out.findings, *findings.of_room(request, room, shop.density)]
    told = MakeUpAirAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=out.runs,
        system=tree_answer.whole(shop, out.runs),
        hoods=out.hoods,
        findings=ordered(found),
        sources=sources.told(tree_answer.origins(shop) | sources.origins(*_passports(request, allowed))),
        cautions=tree_answer.cautions(shop, found, _cautions(request, room)),
        assumed=shop.assumed,
        room=room,
    )
    return Answered(told, None if out.solved is None else of_point(out.solved))


def returned_share(request: MakeUpAirRequest) -> float:
    """Return the share of the exhaust that comes back into this room, that through a way from another room left out."""
    if request.returned_share is not None:
        return float(request.returned_share)
    return 1.0 if request.collector_stands == "same-room" else 0.0


def _allowed(room: Room) -> _Allowed:
    """Return the caller's limit or that of the weakest appliance, whichever is less; else the catalogue's."""
    limits = sorted((appliance(word) for word in room.combustion_appliances), key=lambda one: one.limit)
    own = None if room.allowed_depressurization is None else float(room.allowed_depressurization)
    if limits and (own is None or limits[0].limit < own):
        return _Allowed(limits[0].limit, "combustion-appliance", limits[0].passport)
    if own is not None:
        return _Allowed(own, "caller", None)
    return _Allowed(room_rules().allowed, "catalogue", room_rules().allowance)


def _room(request: MakeUpAirRequest, out: Exhaust, allowed: _Allowed, density: float) -> MakeUpAir:
    """Return what the exhaust does to the room."""
    room, share = request.room, returned_share(request)
    leaving = out.flow * (1.0 - share)
    known = envelope(request)
    drawn = None if known is None else laws.depressurisation(known, leaving, density)
    back = 0.0 if drawn is None else min(returned(request, drawn, density), leaving)
    flow = leaving - back
    coefficient = discharge_coefficient(room)
    let_in = 0.0 if known is None else laws.inflow(known, allowed.pressure, density)
    wanted = max(leaving - returned(request, allowed.pressure, density), 0.0)
    heat = _heat(room, flow, density)
    met = settled(out.solved, known, share) if out.solved is not None and known is not None and leaving > 0.0 else None
    return MakeUpAir(
        exhaust_flow=out.flow,
        flow_from=out.flow_from,
        returned_share=share if back <= 0.0 else share + back / out.flow,
        make_up_flow=flow,
        air_changes=laws.air_changes(flow, float(room.volume)),
        air_turnover=laws.air_changes(out.flow, float(room.volume)),
        allowed_depressurization=allowed.pressure,
        allowed_by=allowed.by,  # type: ignore[arg-type]  # one of the three words
        grille_free_area=laws.opening_area(wanted, coefficient, allowed.pressure, density),
        depressurization=drawn,
        settled_exhaust_flow=None if met is None else met.flow,
        settled_depressurization=None if met is None else met.depressurization,
        further_free_area=None
        if known is None
        else laws.opening_area(max(leaving - let_in, 0.0), coefficient, allowed.pressure, density),
        heat_lost=heat,
        heat_energy=None if heat is None or room.hours is None else heat * room.hours * SECONDS_PER_HOUR,
    )


def _heat(room: Room, flow: float, density: float) -> float | None:
    """Return the heat that leaves with the air [W], where both temperatures are given."""
    if room.indoor_temperature is None or room.outdoor_temperature is None:
        return None
    warmer = float(room.indoor_temperature) - float(room.outdoor_temperature)
    return laws.heat_rate(flow, density, room_rules().specific_heat, warmer)


def _passports(request: MakeUpAirRequest, allowed: _Allowed) -> list[Passport]:
    """Return where the numbers of the room come from."""
    rules, room = room_rules(), request.room
    found = [] if allowed.passport is None else [allowed.passport]
    found += [appliance(word).passport for word in room.combustion_appliances]
    if room.discharge_coefficient is None:
        found.append(rules.opening)
    if room.tightness is not None and room.tightness.exponent is None:
        found.append(rules.cracks)
    if room.indoor_temperature is not None and room.outdoor_temperature is not None:
        found.append(rules.heat)
    return found


def _cautions(request: MakeUpAirRequest, room: MakeUpAir) -> list[str]:
    """Return the cautions that go with this room."""
    words = ["combustion-appliance-backdraft"] if room.make_up_flow > 0.0 else []
    if room.returned_share > 0.0:
        words.append("fine-dust-returned-to-room")
    if request.collector_stands != "outdoors":
        words.append("explosion-protection")
    return words
