"""How far a hood reaches: velocity in front of openings and slots, flow of canopies; SI units."""

from __future__ import annotations


def opening_velocity(flow: float, distance: float, area: float, factor: float, reach: float) -> float:
    """Velocity on the centreline before an opening: Q / (factor (reach X^2 + A)) [m/s].

    Args:
        flow: [m3/s].
        distance: X, from the opening [m].
        area: of the opening [m2].
        factor: 1 for a plain opening, less with a flange.
        reach: of the square of the distance.

    References:
        DallaValle's equation as the trade's manual prints it; constants in the catalogue.
    """
    return flow / (factor * (reach * distance * distance + area))


def slot_velocity(flow: float, distance: float, length: float, factor: float) -> float:
    """Velocity before a slot: Q / (factor L X) [m/s]; flow in m3/s, distance and length in m."""
    return flow / (factor * length * distance)


def canopy_flow(perimeter: float, height: float, velocity: float, factor: float) -> float:
    """Flow of a canopy over a work: factor P X V [m3/s]; perimeter and height in m, velocity in m/s."""
    return factor * perimeter * height * velocity


def face_flow(area: float, velocity: float) -> float:
    """Flow of a booth: face area times velocity [m3/s]."""
    return area * velocity


def widened_flow(flow: float, width: float, wanted: float) -> float:
    """Exhaust flow of a wheel or belt wider than the table's: in proportion to the width [m3/s]."""
    return flow * wanted / width
