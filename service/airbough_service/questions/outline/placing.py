"""Lays out the lines and the ways to the machines, from distances or from places."""

from __future__ import annotations

import math
from typing import Final

from airbough.wire.outline import OutlineLine, OutlineMachine, OutlineRequest
from airbough.wire.quantity import Point
from airbough_service.questions.outline.geometry import (
    ALIKE,
    EAST,
    Corner,
    Course,
    Heading,
    Leg,
    Vector,
    along,
    laid,
    left_of,
    level,
    plus,
)
from airbough_service.questions.outline.ways import Ledger, Spout, Way
from airbough_service.shop.filling import Filled
from airbough_service.terms.finding import show

_ASIDE: Final = 45.0  # deg: by which a hose is drawn beside another
_BESIDE: Final = 0.05  # m: a line that begins no farther from the one that it joins begins on it
_NOWHERE: Final = "goes where the line goes already, or straight back"


def place(request: OutlineRequest, ways: list[Way], ledger: Ledger) -> None:
    """Give every way its place on its host and its course; a way that cannot be laid keeps none, and is told.

    Args:
        request: in SI.
        ways: each after what it joins.
        ledger: is told faults and assumptions.
    """
    origin = next((_vector(line.path[0]) for line in request.lines if line.path and line.into is None), (0.0, 0.0, 0.0))
    for way in ways:
        if way.host is not None and way.joined is None:
            continue
        own = isinstance(way.row, OutlineLine) and way.row.path is not None
        way.placed = own or (way.host is not None and way.host.placed)
        if isinstance(way.row, OutlineLine):
            _line(way, way.row, origin, ledger)
        else:
            _machine(way, way.row, ledger)
        if way.course is not None:
            for guest in way.guests:
                guest.joined = _joined(guest, way, ledger)
    _tell_layout(ways, ledger)


def _joined(way: Way, host: Way, ledger: Ledger) -> float | None:
    """Return how far along its host a way joins; None where it does not say, or not rightly."""
    row, end = way.row, host.run.length
    place = row.place if isinstance(row, OutlineMachine) else (row.path[0] if row.path else None)
    if place is not None and not host.placed:
        detail = f"{host.id} has no `path`: give distances, or that line its places"
        ledger.fault(way, "place" if not way.line else "path", "line-without-places", detail)
        return None
    if row.at is not None:
        if float(row.at) <= end + ALIKE:
            return min(float(row.at), end)
        long = show(ledger.preset, "length", end)
        ledger.fault(way, "at", "beyond-line", f"lies beyond the end of {host.id}, which is {long} long")
        return None
    if place is not None:
        return host.run.nearest(_vector(place))
    if not host.line:
        reason = f"at the foot of the drop of {host.id}"
        ledger.assumed.append(Filled(f"{way.path}.at", end, "length", reason, None))
        return end
    return None


def _tell_layout(ways: list[Way], ledger: Ledger) -> None:
    """Say once that places follow from distances."""
    drawn = [way for way in ways if _by_distance(way)]
    if drawn:
        reason = (
            "lines were laid out straight from the collector with their turns, lefts where nothing was said, to be "
        )
        reason += "drawn; give `path` and `place` to have the room's own places"
        ledger.assumed.append(Filled("lines", "laid out from distances", None, reason, None))


def _by_distance(way: Way) -> bool:
    row = way.row
    return row.path is None if isinstance(row, OutlineLine) else row.place is None


def _vector(point: Point) -> Vector:
    x, y, z = (float(number) for number in point)
    return x, y, z


def _line(way: Way, row: OutlineLine, origin: Vector, ledger: Ledger) -> None:
    """Lay out a line."""
    if way.host is None and row.at is not None:
        ledger.fault(way, "at", "no-line-to-join", "flows into the collector, so leave `at` out, or give `into`")
    if row.path is not None:
        _through_places(way, row, ledger)
        return
    length, heading = _length(way, row, ledger), _first(way, row, ledger)
    if length is None or heading is None:
        return
    for number, turn in enumerate(row.turns):
        if float(turn.at) > length + ALIKE:
            detail = f"lies beyond the line's length, {show(ledger.preset, 'length', length)}"
            ledger.fault(way, f"turns[{number}].at", "beyond-line", detail)
    numbers = sorted(range(len(row.turns)), key=lambda number: float(row.turns[number].at))
    turns = [
        (float(row.turns[number].at), float(row.turns[number].angle), row.turns[number].to or "left")
        for number in numbers
    ]
    course = laid(origin if way.host is None else way.host.run.point(way.at), heading, length, turns)
    if isinstance(course, int):
        ledger.fault(way, f"turns[{numbers[course]}].to", "turn-goes-nowhere", _NOWHERE)
        return
    corners = tuple(Corner(one.at, one.angle, numbers[one.number or 0]) for one in course.corners)
    way.course = Course(course.legs, corners, course.length)


def _length(way: Way, row: OutlineLine, ledger: Ledger) -> float | None:
    """Return a line's length: as given, else as far as the last that joins it."""
    if row.length is not None:
        return float(row.length)
    last = [float(guest.row.at) for guest in way.guests if guest.row.at is not None]
    if not last:
        ledger.fault(way, "length", "length-missing", "a line needs `length`, or `path`")
        return None
    ledger.assumed.append(Filled(f"{way.path}.length", max(last), "length", "as far as the last that joins it", None))
    return max(last)


def _first(way: Way, row: OutlineLine, ledger: Ledger) -> Heading | None:
    """Return the first heading of a line: straight on from the end of another, else at a right angle to it."""
    base = Heading(EAST, EAST) if way.host is None else way.host.run.heading(way.at)
    straight = way.host is None or (way.host.at_end(way.at) and len(_beside(way)) == 1)
    if row.start is None and row.leaves is None and straight:
        return base
    toward = row.start or ("left" if straight or _beside(way)[0] is way else "right")
    if toward == "ahead" and row.leaves is None and level(base.direction) is not None:
        return base
    angle = 90.0 if row.leaves is None else float(row.leaves)
    found = base.turned(toward, angle) if angle > 0.0 else base
    if found is None:
        ledger.fault(way, "start", "turn-goes-nowhere", _NOWHERE)
    elif row.leaves is None and row.start is None:
        reason = f"a line that joins another on its way leaves it at a right angle, here to the {toward}"
        ledger.assumed.append(Filled(f"{way.path}.leaves", angle, "angle", reason, None))
    return found


def _beside(way: Way) -> list[Way]:
    """Return the lines that join the same line at the same place, in document order."""
    assert way.host is not None
    return [one for one in way.host.guests if one.line and one.joined is not None and abs(one.at - way.at) < ALIKE]


def _through_places(way: Way, row: OutlineLine, ledger: Ledger) -> None:
    """Lay a line through its places."""
    assert row.path is not None
    both = [name for name in ("length", "start", "leaves") if getattr(row, name) is not None]
    both += ["turns"] if row.turns else []
    for name in both:
        ledger.fault(way, name, "places-and-distances", "follows from `path`; give one of both")
    points = [_vector(point) for point in row.path]
    for number in range(1, len(points)):
        if math.dist(points[number - 1], points[number]) < ALIKE:
            ledger.fault(way, f"path[{number}]", "path-stands-still", "this place is the one before it")
            return
    if way.host is not None:
        foot = way.host.run.point(way.at)
        if math.dist(foot, points[0]) > _BESIDE:
            detail = f"begins beside {way.host.id}: its first place is not on that line"
            ledger.fault(way, "path[0]", "beside-line", detail)
        points[0] = foot
    way.course = along(points)


def _machine(way: Way, row: OutlineMachine, ledger: Ledger) -> None:
    """Lay the stiff duct of a machine."""
    assert way.host is not None
    host = way.host.run
    if row.place is not None:
        _to_place(way, row, host, ledger)
        return
    if row.drop is None:
        return
    off = 0.0 if row.off is None else float(row.off)
    if row.off is None:
        ledger.assumed.append(Filled(f"{way.path}.off", 0.0, "length", "no distance off the line was given", None))
    side = left_of(host.heading(way.at).level)
    aside = side if row.side != "right" else (-side[0], -side[1], 0.0)
    way.course = _metal(host.point(way.at), aside, off, float(row.drop))


def _metal(foot: Vector, aside: Vector, off: float, drop: float) -> Course:
    """Return the stiff duct: level off the line, then down (or up, where the drop is negative)."""
    legs, corners = list[Leg](), list[Corner]()
    upright: Vector = (0.0, 0.0, -1.0 if drop >= 0.0 else 1.0)
    if off > ALIKE or abs(drop) <= ALIKE:
        legs.append(Leg(0.0, foot, Heading(aside, aside)))
    if abs(drop) > ALIKE:
        if legs:
            corners.append(Corner(off, 90.0))
        begin = off if legs else 0.0
        legs.append(Leg(begin, plus(foot, aside, begin), Heading(upright, aside)))
    return Course(tuple(legs), tuple(corners), off + abs(drop))


def _to_place(way: Way, row: OutlineMachine, host: Course, ledger: Ledger) -> None:
    """Lay the stiff duct toward a machine's port; its shortest hose bridges the last stretch, level and straight."""
    for name in ("at", "off", "drop", "side"):
        if getattr(row, name) is not None:
            ledger.fault(way, name, "places-and-distances", "follows from `place`; give one of both")
    assert row.place is not None
    port = _vector(row.place)
    foot = host.point(way.at)
    across = plus(port, foot, -1.0)
    away = math.hypot(across[0], across[1])
    shortest = min(way.spouts, key=lambda spout: spout.hose)
    bridged = math.sqrt(max(shortest.hose**2 - shortest.rise**2, 0.0))
    off = max(away - bridged, 0.0)
    drop = foot[2] - port[2] - shortest.rise
    aside = level(across) or left_of(host.heading(way.at).level)
    way.course = _metal(foot, aside, off, drop)
    for name, value in (("at", way.at), ("off", off), ("drop", drop)):
        reason = "follows from its place and the line's"
        if name == "off" and bridged > 0.0:
            reason += ", its hose taken straight and bridging the last of the way"
        ledger.assumed.append(Filled(f"{way.path}.{name}", value, "length", reason, None))


def hose_points(way: Way, spout: Spout, branch: int | None) -> tuple[Vector, ...]:
    """Return the two ends of a hose taken straight; none where it is longer than its way, or there is none.

    Args:
        way: the machine's stiff duct.
        spout: the port.
        branch: the port's number where the hose branches off, so that it is drawn beside the others.
    """
    begin, row = way.run.point(way.run.length), way.row
    if spout.hose <= ALIKE:
        return ()
    if isinstance(row, OutlineMachine) and row.place is not None:
        port = _vector(row.place)
        return (begin, port) if abs(math.dist(begin, port) - spout.hose) < _BESIDE else ()
    return begin, plus(begin, hose_direction(way, spout, branch), spout.hose)


def hose_direction(way: Way, spout: Spout, branch: int | None = None) -> Vector:
    """Return the direction of a hose from the stiff duct to its port: away from the line, as level as its rise lets."""
    aside = way.run.legs[-1].heading.level
    if branch is not None:
        left, bend = left_of(aside), math.radians(_ASIDE if branch % 2 else -_ASIDE)
        aside = plus(plus((0.0, 0.0, 0.0), aside, math.cos(bend)), left, math.sin(bend))
    falls = min(max(spout.rise / spout.hose, -1.0), 1.0)
    return plus(plus((0.0, 0.0, 0.0), aside, math.sqrt(1.0 - falls * falls)), (0.0, 0.0, -1.0), falls)
