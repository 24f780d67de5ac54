"""How much room a piece takes, where geometry or a usual collar tells."""

from __future__ import annotations

from airbough_service.catalogue.fitter_rules import room
from airbough_service.core.laws.fitting_room import Room, of_branch, of_elbow, straight_way
from airbough_service.questions.parts_list.parts import Need

_BRANCHED = ("wye", "tee", "double-wye", "symmetrical-wye")
_ALONG = 180.0 - 1.0e-6


def room_of(need: Need) -> tuple[Room | None, float | None]:
    """Return the room of an elbow or of the widest branch, and the length along the straight way; None: not told."""
    angle = need.angle
    if angle is None or not 0.0 < angle < _ALONG:
        return None, None
    if need.type == "elbow":
        known = need.radius_ratio is not None
        return (of_elbow(need.bores[0], angle, need.radius_ratio or 0.0) if known else None), None
    if need.type not in _BRANCHED:
        return None, None
    collar = room("collar").value
    main, branch = need.bores[-1], need.bores[0 if need.type == "symmetrical-wye" else 1]
    along = None if need.type == "symmetrical-wye" else straight_way(branch, angle, collar)
    return of_branch(main, branch, angle, collar), along
