"""What speaks against a room's air: backdraught, too little make-up air, dust led back."""

from __future__ import annotations

import math
from typing import Final

from msgspec import structs

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
)
from airbough_service.core.laws import make_up_air as laws
from airbough_service.questions.make_up_air.envelope import envelope
from airbough_service.terms import units
from airbough_service.terms.finding import (
    HOLDS,
    finding,
    show,
    show_limit,
)

DIGITS: Final = 3  # a suggested area is rounded up to these


def of_room(request: MakeUpAirRequest, told: MakeUpAir, density: float) -> list[Finding]:
    """Return every finding of the room."""
    found = []
    if told.returned_share > 0.0 and told.exhaust_flow > 0.0:
        found.append(_returned(request, told))
    return [*found, *_appliances(request, told, density), *_short(request, told, density)]


def _returned(request: MakeUpAirRequest, told: MakeUpAir) -> Finding:
    """Return the warning that air comes back with what the filter lets through."""
    return finding(
        request.units,
        "fine-dust-returned-to-room",
        "air comes back into the room with the fine dust that the filter lets through",
        at="returned_share" if request.returned_share is not None else "collector_stands",
        quantity="returned_share",
        value=told.returned_share,
        maximum=0.0,
        suggestion=Suggestion(
            text="lead the air outdoors and give make-up air, or have the filter chosen for fine dust"
        ),
    )


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
        if drawn > kind.limit * (1.0 + HOLDS)
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
    if drawn is None or drawn <= told.allowed_depressurization * (1.0 + HOLDS):
        return []
    message = (
        f"{show(request.units, 'flow', told.make_up_flow)} must come in; the openings given draw the room "
        f"{show(request.units, 'pressure', drawn)} below outdoors, and the fan gets less air than computed"
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


def _wider(request: MakeUpAirRequest, told: MakeUpAir, density: float) -> Suggestion:
    """Return the openings that hold the depressurisation allowed, tried: what is left with them."""
    preset, room = request.units, request.room
    assert told.further_free_area is not None
    area = told.further_free_area + (0.0 if room.openings_area is None else float(room.openings_area))
    exact = units.value("area", area, preset)
    step = 10.0 ** (math.floor(math.log10(exact)) + 1 - DIGITS)
    value = round(math.ceil(exact / step) * step, 12)
    wider = envelope(structs.replace(room, openings_area=area * value / exact))
    assert wider is not None
    drawn = laws.depressurisation(wider, told.make_up_flow, density)
    return Suggestion(
        text=f"openings of {show(preset, 'area', area * value / exact)} free area in all would keep the room within "
        "the limit used here",
        changes=(Change(path="room.openings_area", value=value),),
        gain={"depressurization": units.value("pressure", drawn, preset)},
    )
