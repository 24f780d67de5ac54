"""What lets air into the room, as the caller gives it."""

from __future__ import annotations

from airbough.wire.make_up_air import MakeUpAirRequest, Room
from airbough_service.catalogue.rooms import room_rules
from airbough_service.core.laws import make_up_air as laws


def discharge_coefficient(room: Room) -> float:
    """Return the openings' discharge coefficient, the caller's or the catalogue's."""
    return room.discharge_coefficient or room_rules().discharge_coefficient


def return_path(request: MakeUpAirRequest) -> float:
    """Return the free area of the way back from another room, m2; 0 where none is given."""
    return 0.0 if request.return_path_area is None else float(request.return_path_area)


def returned(request: MakeUpAirRequest, pressure: float, density: float) -> float:
    """Return what comes back from another room at this depressurisation, m3/s; that room is as outdoors."""
    return laws.opening_flow(return_path(request), discharge_coefficient(request.room), pressure, density)


def envelope(request: MakeUpAirRequest, openings: float | None = None) -> laws.Envelope | None:
    """Return what lets air into the room, a way back from another room too, or None where nothing is known of it.

    Args:
        request: the room and its collector.
        openings: free area of the openings to outdoors in place of the request's, m2.
    """
    room = request.room
    outdoors = room.openings_area if openings is None else openings
    area = return_path(request) + (0.0 if outdoors is None else float(outdoors))
    leak, exponent = 0.0, room_rules().crack_exponent
    if room.tightness is not None:
        exponent = room.tightness.exponent or room_rules().crack_exponent
        leak = float(room.tightness.flow) / float(room.tightness.pressure) ** exponent
    if area <= 0.0 and leak <= 0.0:
        return None
    return laws.Envelope(area, discharge_coefficient(room), leak, exponent)
