"""What a room must hold to be answered."""

from __future__ import annotations

from typing import Final

from airbough.wire.make_up_air import (
    MakeUpAirRequest,
    Room,
)
from airbough.wire.problem import Fault
from airbough_service.catalogue import UnknownWordError
from airbough_service.catalogue.rooms import appliance
from airbough_service.shop.pieces import nearest_fault
from airbough_service.terms.finding import show
from airbough_service.terms.refusal import Refusal

LEAST_VOLUME: Final = 1.0  # m3
LEAST_PRESSURE: Final = 0.1  # Pa
LEAST_AREA: Final = 1.0e-4  # m2


def _lows(room: Room) -> tuple[tuple[str, str, float | str | None, float], ...]:
    """Return path, kind, value and least of what must not be next to nothing; no opening at all is 0."""
    area = room.openings_area if room.openings_area else None
    return (
        ("volume", "volume", room.volume, LEAST_VOLUME),
        ("openings_area", "area", area, LEAST_AREA),
        ("allowed_depressurization", "pressure", room.allowed_depressurization, LEAST_PRESSURE),
        ("tightness.pressure", "pressure", room.tightness.pressure if room.tightness else None, LEAST_PRESSURE),
    )


def check(request: MakeUpAirRequest) -> None:
    """Refuse a room of next to no volume, openings or limits of next to nothing, and unknown appliances.

    Raises:
        Refusal: with every fault.
    """
    room = request.room
    faults = []
    for path, kind, given, least in _lows(room):
        if given is not None and float(given) < least:
            detail = f"at least {show(request.units, kind, least)}"
            faults.append(Fault(path=f"room.{path}", code="outside-range", detail=detail))
    if (room.indoor_temperature is None) != (room.outdoor_temperature is None):
        missing = "indoor_temperature" if room.indoor_temperature is None else "outdoor_temperature"
        faults.append(Fault(path=f"room.{missing}", code="parameter-missing", detail="give both temperatures or none"))
    if room.hours is not None and room.indoor_temperature is None and room.outdoor_temperature is None:
        faults.append(Fault(path="room.hours", code="parameter-missing", detail="hours go with both temperatures"))
    for index, word in enumerate(room.combustion_appliances):
        try:
            appliance(word)
        except UnknownWordError as error:
            faults.append(nearest_fault(f"room.combustion_appliances[{index}]", error))
    if faults:
        words_only = all(fault.code == "unknown-word" for fault in faults)
        raise Refusal("unknown-word" if words_only else "not-computable", faults)
