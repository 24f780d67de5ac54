"""What a room must hold to be answered."""

from __future__ import annotations

from airbough.wire.problem import Fault
from airbough.wire.room_air import RoomAirRequest
from airbough_service.catalogue import UnknownWordError
from airbough_service.catalogue.rooms import appliance
from airbough_service.edge.pieces import nearest_fault
from airbough_service.edge.refusal import Refusal


def check(request: RoomAirRequest) -> None:
    """Refuse a room without volume, limits that are none, and unknown appliances.

    Raises:
        Refusal: with every fault.
    """
    room = request.room
    faults = []
    if float(room.volume) <= 0.0:
        faults.append(Fault(path="room.volume", code="outside-range", detail="above 0"))
    if room.allowed_depressurization is not None and float(room.allowed_depressurization) <= 0.0:
        faults.append(Fault(path="room.allowed_depressurization", code="outside-range", detail="above 0"))
    if room.tightness is not None and float(room.tightness.pressure) <= 0.0:
        faults.append(Fault(path="room.tightness.pressure", code="outside-range", detail="above 0"))
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
