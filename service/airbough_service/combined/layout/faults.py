"""What is wrong with a room and what stands in it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from airbough.wire.layout import LayoutMachine, LayoutRequest
from airbough.wire.problem import Fault
from airbough_service.core.choosing.placing.lattice import Box, inside
from airbough_service.terms.money import amount
from airbough_service.terms.refusal import nearest_or_some

APART: Final = 1.0e-3  # m: what is nearer is at one place


def corners_of(request: LayoutRequest) -> list[tuple[float, float]]:
    """Return the room's corners, m."""
    return [(float(x), float(y)) for x, y in request.room.corners]


def box(of: tuple[object, ...], to: tuple[object, ...]) -> Box:
    """Return the rectangle between two corners, m."""
    (x1, y1), (x2, y2) = ((float(x), float(y)) for x, y in (of, to))  # type: ignore[arg-type]  # numbers, in SI
    return Box(min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2))


def rise_of(machine: LayoutMachine) -> float:
    """Return the height from a machine's (first) port up to the end of the stiff duct, m."""
    first = machine.ports[0].hose_rise if machine.ports else None
    rise = machine.hose_rise if first is None else first
    return 0.0 if rise is None else float(rise)


def faults_of(request: LayoutRequest) -> Iterator[Fault]:
    """Yield the faults of room, inlet, places and states; quantities in SI."""
    corners = corners_of(request)
    for number, corner in enumerate(corners):
        if math.dist(corner, corners[number - 1]) < APART:
            yield Fault(path=f"room.corners[{number}]", code="path-stands-still", detail="is the corner before it")
    if not any(math.dist(one, two) > APART for one in corners for two in corners):
        return
    yield from _boxes(request)
    yield from _inlet(request, corners)
    yield from _machines(request, corners)
    yield from _states(request)
    yield from _unpriced(request)


def _boxes(request: LayoutRequest) -> Iterator[Fault]:
    for name in ("forbidden", "corridors"):
        for number, item in enumerate(getattr(request.room, name)):
            found = box(item.corner, item.opposite)
            if found.right - found.left < APART and found.high - found.low < APART:
                detail = "both corners are one place"
                yield Fault(path=f"room.{name}[{number}].opposite", code="path-stands-still", detail=detail)


def _inlet(request: LayoutRequest, corners: list[tuple[float, float]]) -> Iterator[Fault]:
    inlet, height = request.collector.inlet, float(request.room.duct_height)
    x, y, z = (float(number) for number in inlet.place)
    if not inside(x, y, corners):
        yield Fault(path="collector.inlet.place", code="outside-room", detail="lies outside the room's corners")
    level = abs(z - height) < APART
    if inlet.direction == "+z" and z > height - APART:
        detail = "an inlet that faces up lies below the ducts"
        yield Fault(path="collector.inlet.place", code="not-at-duct-height", detail=detail)
    elif inlet.direction == "-z" and z < height + APART:
        detail = "an inlet that faces down lies above the ducts"
        yield Fault(path="collector.inlet.place", code="not-at-duct-height", detail=detail)
    elif inlet.direction[1] != "z" and not level:
        detail = "an inlet that faces level lies at the duct height; of another it faces +z or -z"
        yield Fault(path="collector.inlet.place", code="not-at-duct-height", detail=detail)


def _machines(request: LayoutRequest, corners: list[tuple[float, float]]) -> Iterator[Fault]:
    boxes = [box(item.corner, item.opposite) for item in request.room.forbidden]
    seen: list[tuple[str, float, float]] = [
        ("the inlet", float(request.collector.inlet.place[0]), float(request.collector.inlet.place[1]))
    ]
    for number, machine in enumerate(request.machines):
        path = f"machines[{number}].place"
        x, y, z = (float(one) for one in machine.place)
        if not inside(x, y, corners):
            yield Fault(path=path, code="outside-room", detail="lies outside the room's corners")
        if any(b.left + APART < x < b.right - APART and b.low + APART < y < b.high - APART for b in boxes):
            yield Fault(path=path, code="in-forbidden-place", detail="lies where no duct may run")
        if z + rise_of(machine) > float(request.room.duct_height) - APART:
            yield Fault(path=path, code="above-ducts", detail="port and hose must lie below the duct height")
        for name, other_x, other_y in seen:
            if math.hypot(x - other_x, y - other_y) < APART:
                yield Fault(path=path, code="same-place", detail=f"seen from above it lies where {name} is")
        seen.append((machine.id, x, y))


def _states(request: LayoutRequest) -> Iterator[Fault]:
    ids, names = [machine.id for machine in request.machines], set[str]()
    for number, state in enumerate(request.states):
        if state.name in names:
            yield Fault(path=f"states[{number}].name", code="duplicate-name", detail="stands before already")
        names.add(state.name)
        for place, word in enumerate(state.open):
            if word not in ids:
                detail = f"no machine has the id {word!r}{nearest_or_some(word, ids)}"
                yield Fault(path=f"states[{number}].open[{place}]", code="unknown-machine", detail=detail)


def _unpriced(request: LayoutRequest) -> Iterator[Fault]:
    """Yield what is listed without a price, or for nothing where it is sold by length."""
    stock = request.stock
    for number, duct in enumerate(stock.ducts):
        per_length = duct.price_per_length is not None
        price = amount(duct.price_per_length if per_length else duct.price)
        if not price:
            detail = "layouts are ranked by price: say what this duct costs"
            name = "price_per_length" if per_length or duct.price is None else "price"
            yield Fault(path=f"stock.ducts[{number}].{name}", code="without-price", detail=detail)
    for name, entries in (("fittings", stock.fittings), ("gates", stock.gates)):
        for number, entry in enumerate(entries):
            if entry.price is None:
                detail = "layouts are ranked by price: say what this costs, or leave the whole list out"
                yield Fault(path=f"stock.{name}[{number}].price", code="without-price", detail=detail)
