"""How much room fittings of round duct take; elementary geometry, lengths in m, angles in degrees."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Room:
    """What a fitting takes of the room.

    Attributes:
        corner_to_end: from where its centrelines meet to its end, or to a branch's.
        reach: from the centreline of the straight way to the farthest edge of that end.
    """

    corner_to_end: float
    reach: float


def of_elbow(bore: float, angle: float, radius_ratio: float) -> Room:
    """Return the room of an elbow; at 180 degrees its centrelines never meet, so below that."""
    half = math.radians(angle) / 2.0
    corner = radius_ratio * bore * math.tan(half)
    return Room(corner, _reach(corner, bore, angle))


def of_branch(main: float, branch: float, angle: float, collar: float) -> Room:
    """Return the room of a wye's or tee's branch: its throat clears the main's wall, then comes a straight collar."""
    turn = math.radians(angle)
    clear = 0.5 * main / math.sin(turn) + 0.5 * branch * abs(math.cos(turn)) / math.sin(turn)
    return Room(clear + collar, _reach(clear + collar, branch, angle))


def straight_way(branch: float, angle: float, collar: float) -> float:
    """Return how long a wye or tee is along its straight way: the mouth that the branch cuts, and two collars."""
    return branch / math.sin(math.radians(angle)) + 2.0 * collar


def _reach(corner: float, bore: float, angle: float) -> float:
    turn = math.radians(angle)
    return corner * math.sin(turn) + 0.5 * bore * abs(math.cos(turn))
