"""What lets air into the room, as the caller gives it."""

from __future__ import annotations

from airbough.wire.make_up_air import Room
from airbough_service.catalogue.rooms import room_rules
from airbough_service.core.laws import make_up_air as laws


def discharge_coefficient(room: Room) -> float:
    """Return the openings' discharge coefficient, the caller's or the catalogue's."""
    return room.discharge_coefficient or room_rules().discharge_coefficient


def envelope(room: Room) -> laws.Envelope | None:
    """Return what lets air into the room, or None where nothing is known of it."""
    area = 0.0 if room.openings_area is None else float(room.openings_area)
    leak, exponent = 0.0, room_rules().crack_exponent
    if room.tightness is not None:
        exponent = room.tightness.exponent or room_rules().crack_exponent
        leak = float(room.tightness.flow) / float(room.tightness.pressure) ** exponent
    if area <= 0.0 and leak <= 0.0:
        return None
    return laws.Envelope(area, discharge_coefficient(room), leak, exponent)
