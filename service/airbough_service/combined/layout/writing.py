"""A traced tree as an outline: a line from each machine as far as it goes straight on, the machine at its end."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from airbough.wire.outline import OutlineLine, OutlineMachine, OutlineRequest
from airbough_service.catalogue.checks import check
from airbough_service.combined.layout.asked import Asked, line_name, machine_row, outline_of
from airbough_service.combined.layout.places import Places, free
from airbough_service.core.choosing.placing.lattice import APART
from airbough_service.core.choosing.placing.trace import Stretch

Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Written:
    """An outline, and which of its rows each run of the traced tree is of, by the run's identity."""

    outline: OutlineRequest
    rows: dict[int, str]


def written(asked: Asked, where: Places, root: Stretch) -> Written:
    """Return the outline of a traced tree, in SI."""
    writer = _Writer(asked, where, [], {}, {})
    writer.line(root, None, 0.0)
    order = {machine.id: number for number, machine in enumerate(asked.request.machines)}
    machines = sorted(writer.machines.values(), key=lambda row: order[row.id])
    return Written(outline_of(asked.request, writer.lines, machines), writer.rows)


@dataclass(slots=True)
class _Writer:
    asked: Asked
    where: Places
    lines: list[OutlineLine]
    machines: dict[int, OutlineMachine]
    rows: dict[int, str]

    def line(self, root: Stretch, into: str | None, at: float) -> None:
        """Write the line that ends with a run, and all that joins it.

        Args:
            root: its most downstream run.
            into: the line that it joins; None for the collector.
            at: how far along that.
        """
        request, lattice = self.asked.request, self.where.lattice
        name, height = line_name(request, len(self.lines)), float(request.room.duct_height)
        path: list[Place] = []
        if into is None and self.where.height != 0.0:
            point = self.where.inlet.point
            path.append((float(lattice.x[point]), float(lattice.y[point]), height - self.where.height))
        guests: list[tuple[Stretch, float, Stretch]] = []
        run: Stretch | None = root
        while run is not None:
            self.rows[id(run)] = name
            for point in reversed(run.points):
                _go(path, (float(lattice.x[point]), float(lattice.y[point]), height))
            if run.branch is not None:
                guests.append((run.branch, _length(path), run))
            last, run = run, run.straight
        self.lines.append(
            OutlineLine(
                id=name,
                into=into,
                at=None if into is None else at,
                path=tuple(_corners(path)),
                duct=request.duct,
            )
        )
        self._machine(last.machines, line=name, at=_length(path), off=0.0)
        for branch, joins, outlet in guests:
            if len(branch.points) == 1:
                self.rows[id(branch)] = self._aside(branch, name, joins, outlet)
            else:
                self.line(branch, name, joins)

    def _machine(self, group: int, **there: object) -> str:
        machine = group.bit_length() - 1
        row = machine_row(self.asked.request, self.asked.request.machines[machine], **there)
        self.machines[machine] = row
        return row.id

    def _aside(self, branch: Stretch, line: str, at: float, outlet: Stretch) -> str:
        """Write a machine whose riser enters the run above it."""
        if self.asked.request.from_below:
            return self._machine(branch.machines, line=line, at=at, off=0.0)
        lattice, aside = self.where.lattice, check("riser-aside").value
        here, there = outlet.points[0], outlet.points[1]
        x, y = float(lattice.x[here]), float(lattice.y[here])
        dx, dy = float(lattice.x[there]) - x, float(lattice.y[there]) - y
        size = math.hypot(dx, dy)
        left = (dy / size, -dx / size)  # of somebody who looks up the line, against the air
        side = "left" if free(self.asked.request, x + aside * left[0], y + aside * left[1]) else "right"
        return self._machine(branch.machines, line=line, at=at, off=aside, side=side)


def _go(path: list[Place], place: Place) -> None:
    if not path or math.dist(path[-1], place) > 0.0:
        path.append(place)


def _length(path: list[Place]) -> float:
    return sum(math.dist(one, other) for one, other in pairwise(path))


def _corners(path: list[Place]) -> list[Place]:
    """Leave out the places at which a path goes straight on."""
    out = [path[0]]
    for before, here, after in zip(path, path[1:], path[2:], strict=False):
        if not _straight(before, here, after):
            out.append(here)
    return [*out, path[-1]]


def _straight(before: Place, here: Place, after: Place) -> bool:
    """Return whether three places lie on one line."""
    (ax, ay, az), (bx, by, bz) = (
        (two - one for one, two in zip(*ends, strict=True)) for ends in ((before, here), (here, after))
    )
    across = math.hypot(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    return across < APART * math.dist(before, here) * math.dist(here, after)
