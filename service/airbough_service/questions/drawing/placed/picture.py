"""What there is to draw to scale, in SI."""

from __future__ import annotations

from dataclasses import dataclass

from airbough_service.core.laws.polyline import Point
from airbough_service.questions.drawing.picture import Remark

FloorPoint = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlacedRun:
    """One run with its centreline.

    Attributes:
        line: from its downstream end up, m; empty where it has no path.
        hanging: the same as a hose is drawn that sags; empty for others.
        start, end: bores at its upstream and downstream end, m.
        turns: angles of its corners, deg, in the direction of flow.
        machine: what stands at its upstream end; empty where another run does.
        has_hood: whether it ends at a machine, named or not.
        opening: what its gate passes, 0..1; None where it has no gate.
        machine_id: ties the ports of one machine; None where nobody gave it.
    """

    id: str
    line: tuple[Point, ...]
    start: float
    end: float
    length: float
    turns: tuple[float, ...] = ()
    machine: str = ""
    has_hood: bool = False
    hose: bool = False
    opening: float | None = None
    hanging: tuple[Point, ...] = ()
    machine_id: str | None = None

    @property
    def course(self) -> tuple[Point, ...]:
        """The line in which it is drawn."""
        return self.hanging or self.line


@dataclass(frozen=True, slots=True)
class Wye:
    """A junction where a branch enters.

    Attributes:
        place: m.
        outlet: bore of the run that leaves, m.
        straight: bore that arrives straight; None where two branches meet.
        branches: bore and angle of each branch.
    """

    number: int
    place: Point
    outlet: float
    straight: float | None
    branches: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Hole:
    """Where a run goes through a wall.

    Attributes:
        run: its id.
        place: of the centreline in the wall, m.
        diameter: of the hole, m.
        clear: width left all round the duct, m.
        wall: number of the wall.
    """

    run: str
    place: Point
    diameter: float
    clear: float
    wall: int


@dataclass(frozen=True, slots=True)
class PlacedPicture:
    """A shop to draw to scale.

    Attributes:
        lines: what stands under the title.
        inlets: where runs end at the collector.
        walls: corners of the room; empty where they are not known.
        ceiling: its height, m.
        holes: where runs go through the walls.
        unplaced: runs without a path, which are not drawn.
        boxes: two opposite corners of each place that is kept free of ducts.
        corridors: the same of each place in which ducts may run; empty where they may anywhere.
    """

    title: str
    lines: tuple[str, ...]
    preset: str
    runs: tuple[PlacedRun, ...]
    wyes: tuple[Wye, ...]
    inlets: tuple[Point, ...]
    walls: tuple[FloorPoint, ...] = ()
    ceiling: float | None = None
    holes: tuple[Hole, ...] = ()
    remarks: tuple[Remark, ...] = ()
    unplaced: tuple[str, ...] = ()
    boxes: tuple[tuple[FloorPoint, FloorPoint], ...] = ()
    corridors: tuple[tuple[FloorPoint, FloorPoint], ...] = ()
