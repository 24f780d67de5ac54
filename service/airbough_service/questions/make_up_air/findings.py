"""What speaks against a room's air: backdraught, too little make-up air, dust led back."""

from __future__ import annotations

import math
from typing import Final

from airbough.wire.answer import (
    Change,
    Finding,
    Suggestion,
)
from airbough.wire.make_up_air import (
    MakeUpAir,
    MakeUpAirRequest,
)
from airbough_service.catalogue.rooms import (
    Appliance,
    appliance,
    room_rules,
)
from airbough_service.core.laws import make_up_air as laws
from airbough_service.core.limits import above
from airbough_service.questions.make_up_air.envelope import envelope
from airbough_service.terms import units
from airbough_service.terms.finding import (
    finding,
    show,
    show_apart,
    show_limit,
)

DIGITS: Final = 3  # a suggested area is rounded up to these


def of_room(request: MakeUpAirRequest, told: MakeUpAir, density: float) -> list[Finding]:
    """Return every finding of the room."""
    found = []
    if told.returned_share > 0.0 and told.exhaust_flow > 0.0:
        found.append(_returned(request, told))
    return [
        *found,
        *_no_way_back(request, told),
        *_appliances(request, told, density),
        *_short(request, told, density),
        *_falls(request, told),
    ]


def _returned(request: MakeUpAirRequest, told: MakeUpAir) -> Finding:
    """Return the warning that air comes back with what the filter lets through."""
    return finding(
        request.units,
        "fine-dust-returned-to-room",
        "air comes back into the room with the fine dust that the filter lets through",
        at=_way_back(request),
        quantity="returned_share",
        value=told.returned_share,
        maximum=0.0,
        suggestion=Suggestion(
            text="lead the air outdoors and give make-up air, or have the filter chosen for fine dust"
        ),
    )


def _way_back(request: MakeUpAirRequest) -> str:
    """Return the path of what says that air comes back."""
    if request.return_path_area is not None:
        return "return_path_area"
    return "returned_share" if request.returned_share is not None else "collector_stands"


def _no_way_back(request: MakeUpAirRequest, told: MakeUpAir) -> list[Finding]:
    """Return the note that of a collector in another room no way back was given."""
    stated = request.return_path_area is not None or request.returned_share is not None
    if request.collector_stands != "another-room" or stated or told.exhaust_flow <= 0.0:
        return []
    return [
        finding(
            request.units,
            "return-path-not-given",
            "the collector stands in another room and no way back from there is given: all of its air is taken to come "
            "from outdoors",
            at="collector_stands",
            suggestion=Suggestion(
                text="give the free area of the door or grille between the rooms: "
                f"{show(request.units, 'area', told.grille_free_area)} would let all of it back within the limit used "
                "here, once it has been through a fine filter"
            ),
            source=room_rules().opening.source,
        )
    ]


def _falls(request: MakeUpAirRequest, told: MakeUpAir) -> list[Finding]:
    """Return by how much the exhaust would fall as the fan works against the depressurisation."""
    flow, drawn = told.settled_exhaust_flow, told.settled_depressurization
    if flow is None or drawn is None or told.exhaust_flow - flow < room_rules().least_fall * told.exhaust_flow:
        return []
    preset = request.units
    was, falls = show_apart(preset, "flow", told.exhaust_flow, flow)
    return [
        finding(
            preset,
            "exhaust-falls",
            f"the fan works against the room as well: the exhaust would fall from {was} to {falls}, with the room "
            f"{show(preset, 'pressure', drawn)} below outdoors; runs and hoods are told without that",
            at="room",
            quantity="exhaust_flow",
            kind="flow",
            value=flow,
            minimum=told.exhaust_flow,
            suggestion=Suggestion(text="let more air in, so that the hoods get what is told"),
        )
    ]


def _appliances(request: MakeUpAirRequest, told: MakeUpAir, density: float) -> list[Finding]:
    """Return the danger of each appliance whose limit the room passes, or that nothing is known."""
    words = request.room.combustion_appliances
    if not words or told.make_up_flow <= 0.0:
        return []
    if told.depressurization is None:
        message = "the openings of the room are not given: the draught of the combustion appliance is not judged"
        return [finding(request.units, "depressurization-not-known", message, at="room.combustion_appliances")]
    drawn = told.depressurization
    return [
        _backdraft(request, told, index, kind, density)
        for index, kind in enumerate(map(appliance, words))
        if above(drawn, kind.limit)
    ]


def _backdraft(request: MakeUpAirRequest, told: MakeUpAir, index: int, kind: Appliance, density: float) -> Finding:
    """Return the danger of one appliance."""
    assert told.depressurization is not None
    return finding(
        request.units,
        "combustion-appliance-backdraft",
        f"the room is drawn {show(request.units, 'pressure', told.depressurization)} below outdoors; "
        f"{kind.title.lower()}: the limit used here is {show_limit(request.units, 'pressure', kind.limit)}, "
        "fumes may enter",
        at=f"room.combustion_appliances[{index}]",
        quantity="depressurization",
        kind="pressure",
        value=told.depressurization,
        maximum=kind.limit,
        suggestion=_wider(request, told, density),
        source=kind.passport.source,
    )


def _short(request: MakeUpAirRequest, told: MakeUpAir, density: float) -> list[Finding]:
    """Return the warning that the openings given are too small for the depressurisation allowed."""
    drawn = told.depressurization
    if drawn is None or not above(drawn, told.allowed_depressurization):
        return []
    ways = "" if request.return_path_area is None else ", from outdoors and by the way back together"
    message = (
        f"{show(request.units, 'flow', _leaving(request, told))} must come in{ways}; the openings given draw the room "
        f"{show(request.units, 'pressure', drawn)} below outdoors"
    )
    return [
        finding(
            request.units,
            "make-up-air-short",
            message,
            at="room.openings_area" if request.room.openings_area is not None else "room.tightness",
            quantity="depressurization",
            kind="pressure",
            value=drawn,
            maximum=told.allowed_depressurization,
            suggestion=_wider(request, told, density),
        )
    ]


def _leaving(request: MakeUpAirRequest, told: MakeUpAir) -> float:
    """Return what the room must get back through its openings and the way from another room, m3/s."""
    return told.make_up_flow if request.return_path_area is None else told.exhaust_flow


def _wider(request: MakeUpAirRequest, told: MakeUpAir, density: float) -> Suggestion:
    """Return the openings that hold the depressurisation allowed, tried: what is left with them."""
    preset, room = request.units, request.room
    assert told.further_free_area is not None
    area = told.further_free_area + (0.0 if room.openings_area is None else float(room.openings_area))
    exact = units.value("area", area, preset)
    step = 10.0 ** (math.floor(math.log10(exact)) + 1 - DIGITS)
    value = round(math.ceil(exact / step) * step, 12)
    wider = envelope(request, area * value / exact)
    assert wider is not None
    drawn = laws.depressurisation(wider, _leaving(request, told), density)
    return Suggestion(
        text=f"openings of {show(preset, 'area', area * value / exact)} free area in all would keep the room within "
        "the limit used here",
        changes=(Change(path="room.openings_area", value=value),),
        gain={"depressurization": units.value("pressure", drawn, preset)},
    )
