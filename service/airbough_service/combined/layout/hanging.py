"""Where hoses hang: from the foot of a riser to the machine's port; what they are longer than that sags."""

from __future__ import annotations

import math
from typing import Final

from msgspec import structs

from airbough.wire.outline import OutlineAnswer
from airbough.wire.tree import Run
from airbough_service.combined.layout.asked import Asked
from airbough_service.terms import units

Place = tuple[float, float, float]
BESIDE: Final = 0.6  # m, at which further ports are drawn beside the first, whose place alone is known
LOOP: Final = 0.1  # m, at which a hose is drawn to end that hangs under its riser
LEAST: Final = 1.0e-3  # m: of a path shorter than that there is none


def hung(asked: Asked, told: OutlineAnswer) -> OutlineAnswer:
    """Return an outline's answer with the hoses' paths ending at the ports of the request.

    Those stated to be without a bend keep their straight ones: a corner in a path would be a bend.
    """
    tree = units.to_si(told.tree)
    places = {machine.id: tuple(map(float, machine.place)) for machine in asked.request.machines}
    foot = {run.id: run.path[-1] for run in tree.runs if run.path}
    seen: dict[str, int] = {}
    runs = []
    for run in tree.runs:
        row = told.rows[run.id]
        if run.hood is not None and run.id != row and run.path and run.fittings and run.into in foot:
            number = seen[row] = seen.get(row, -1) + 1
            run = structs.replace(run, path=_path(run, places[row], foot[run.into], number))
        runs.append(run)
    return structs.replace(told, tree=units.document(structs.replace(tree, runs=tuple(runs)), told.preset))


def _path(run: Run, port: tuple[float, ...], foot: tuple[object, ...], number: int) -> tuple[Place, ...] | None:
    """Return the path of a hose from the foot of a riser to a machine's port of a number, straight."""
    x, y, z = (float(one) for one in foot)  # type: ignore[arg-type]  # numbers, in SI
    length, falls = float(run.length or 0.0), float(run.rise or 0.0)
    to_x, to_y = port[0], port[1]
    shift = BESIDE if number > 0 else LOOP if math.hypot(to_x - x, to_y - y) < LOOP else 0.0
    if shift > 0.0:
        aside_x, aside_y = _aside(run)
        to_x, to_y = to_x + shift * aside_x, to_y + shift * aside_y
    level = math.hypot(to_x - x, to_y - y)
    most = math.sqrt(max(length**2 - falls**2, 0.0))
    share = most / level if level > most else 1.0  # a short one hangs toward the port
    end = (x + share * (to_x - x), y + share * (to_y - y), z - falls)
    return ((x, y, z), end) if math.dist((x, y, z), end) > LEAST else None


def _aside(run: Run) -> tuple[float, float]:
    """Return the level direction in which the outline leads a hose."""
    assert run.path is not None
    (x, y, _), (to_x, to_y, _) = ([float(one) for one in run.path[end]] for end in (0, -1))
    away = math.hypot(to_x - x, to_y - y)
    return ((to_x - x) / away, (to_y - y) / away) if away > LEAST else (1.0, 0.0)
