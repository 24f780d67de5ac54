"""What a room must hold to be answered."""

from __future__ import annotations

from collections.abc import Iterator
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


def _way_back(request: MakeUpAirRequest) -> Iterator[Fault]:
    """Yield what is wrong with the way back from another room."""
    if request.return_path_area is None:
        return
    if request.collector_stands != "another-room":
        detail = "a way back goes with a collector in another room"
        yield Fault(path="return_path_area", code="parameter-unused", detail=detail)
    if request.returned_share is not None:
        yield Fault(path="return_path_area", code="given-twice", detail="`returned_share` is given already")
    if 0.0 < float(request.return_path_area) < LEAST_AREA:
        detail = f"0, or at least {show(request.units, 'area', LEAST_AREA)}"
        yield Fault(path="return_path_area", code="outside-range", detail=detail)


def check(request: MakeUpAirRequest) -> None:
    """Refuse a room of next to no volume, openings or limits of next to nothing, and unknown appliances.

    Raises:
        Refusal: with every fault.
    """
    room = request.room
    faults = list(_way_back(request))
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
