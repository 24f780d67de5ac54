"""The lattice of a room: where ducts may run, and where machines and inlet are on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.layout import LayoutRequest
from airbough.wire.problem import Fault
from airbough_service.catalogue.checks import check
from airbough_service.combined.layout.faults import box, corners_of
from airbough_service.core.choosing.placing.lattice import APART, Lattice, inside, lattice, wall_line
from airbough_service.core.choosing.placing.program import Inlet
from airbough_service.terms.refusal import Refusal

MOST_POINTS: Final = 1500
_FACING: Final = {"-x": 0, "-y": 1, "+x": 2, "+y": 3}
"""The heading of the air that enters an inlet facing so, in quarter turns."""
RIGHT: Final = 90


@dataclass(frozen=True, slots=True)
class Places:
    """Where things are.

    Attributes:
        lattice: where ducts may run.
        machines: shape (machines,), the point of each riser.
        inlet: the collector's.
        height: of the ducts over the inlet, m; 0 where they meet it level.
    """

    lattice: Lattice
    machines: NDArray[np.int64]
    inlet: Inlet
    height: float


def places(request: LayoutRequest) -> Places:
    """Return where things are.

    Raises:
        Refusal: with every place to which no duct may run, and where there are too many points.
    """
    room = request.room
    spots = [(float(machine.place[0]), float(machine.place[1])) for machine in request.machines]
    inlet = request.collector.inlet
    x, y, z = (float(number) for number in inlet.place)
    found = lattice(
        corners_of(request),
        [(x, y), *spots],
        [box(item.corner, item.opposite) for item in room.forbidden],
        [box(item.corner, item.opposite) for item in room.corridors],
        clearance(request),
        diagonal=request.headings < RIGHT,
    )
    faults, points = list[Fault](), list[int]()
    named = [("collector.inlet.place", (x, y))]
    named += [(f"machines[{number}].place", spot) for number, spot in enumerate(spots)]
    for path, spot in named:
        try:
            points.append(found.at(*spot))
        except LookupError:
            detail = "no duct may run here: walls, forbidden boxes or corridors leave no way"
            faults.append(Fault(path=path, code="no-way", detail=detail))
    if found.x.size > MOST_POINTS:
        detail = f"the lines make {found.x.size} places, more than {MOST_POINTS}; give fewer corners, boxes or machines"
        faults.append(Fault(path="room", code="too-many-places", detail=detail))
    if faults:
        raise Refusal("not-computable", faults)
    heading = _FACING.get(inlet.direction, -1) * (len(found.to) // 4 if inlet.direction in _FACING else 1)
    height = float(room.duct_height) - z if heading < 0 else 0.0
    return Places(found, np.array(points[1:]), Inlet(points[0], heading), height)


def clearance(request: LayoutRequest) -> float:
    """Return how far from a wall a duct along it runs, m."""
    given = request.room.clearance
    return check("wall-clearance").value if given is None else float(given)


def corridors(request: LayoutRequest, where: Lattice) -> list[tuple[str, NDArray[np.bool_]]]:
    """Return each wall and corridor by name, and which ways run along it, shape (headings, n), by where they begin."""
    corners = corners_of(request)
    out = []
    for number in range(len(corners)):
        axis, at = wall_line(corners, number, clearance(request))
        if axis < 0:
            continue
        ends = sorted(corner[1 - axis] for corner in (corners[number], corners[(number + 1) % len(corners)]))
        along = np.zeros(where.to.shape, np.bool_)
        across, place = (where.x, where.y) if axis == 0 else (where.y, where.x)
        on_line = (abs(across - at) < 2.0 * APART) & (place > ends[0] - APART) & (place < ends[1] + APART)
        for heading, step in enumerate(where.headings):
            if step[axis] != 0:
                continue
            along[heading] = on_line & (where.to[heading] >= 0) & on_line[where.to[heading]]
        out.append((f"wall {number + 1}", along))
    for number, item in enumerate(request.room.corridors):
        lines = box(item.corner, item.opposite)
        along = np.zeros(where.to.shape, np.bool_)
        for heading, (dx, dy) in enumerate(where.headings):
            half = where.length[heading] / math.hypot(dx, dy) / 2.0
            x, y = where.x + dx * half, where.y + dy * half
            inner = (x > lines.left - APART) & (x < lines.right + APART)
            inner &= (y > lines.low - APART) & (y < lines.high + APART)
            along[heading] = inner & (where.to[heading] >= 0)
        out.append((item.name or f"corridor {number + 1}", along))
    return out


def free(request: LayoutRequest, x: float, y: float) -> bool:
    """Return whether a duct may lie at a place, m."""
    boxes = [box(item.corner, item.opposite) for item in request.room.forbidden]
    shut = any(b.left + APART < x < b.right - APART and b.low + APART < y < b.high - APART for b in boxes)
    return inside(x, y, corners_of(request)) and not shut
