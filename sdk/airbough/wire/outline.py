"""POST /v1/outlines/tree: what a person can write down in the shop, and the tree document made of it.

One row a line, one a machine. Distances along a line count from its downstream end: the collector, or the line that it
flows into. `left` and `right` are those of somebody who looks up the line from there.
"""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.air import Air
from airbough.wire.answer import Assumed, Engine, Finding, Source
from airbough.wire.base import (
    Asked,
    Id,
    Name,
    Ratio,
    Told,
    Word,
)
from airbough.wire.collector import Collector
from airbough.wire.entry import Entry
from airbough.wire.quantity import (
    Angle,
    Diameter,
    FlowAboveZero,
    Length,
    MachineExtent,
    Point,
    Preset,
    Rise,
    Share,
    StretchShare,
)
from airbough.wire.tree import Model, Resistance, Tree

Toward: TypeAlias = Literal["ahead", "back", "left", "right", "up", "down"]
TurnsMade: TypeAlias = Annotated[
    Literal["elbow", "two-45"],
    Meta(
        description="How a right angle is turned: by one elbow, or by two of 45 deg one after the other. A sharper "
        "turn is made by two of half its angle, but where the turn itself says `elbow`."
    ),
]
Along: TypeAlias = Annotated[
    Length | None, Meta(description="Distance along the line from its downstream end; its whole length is its end.")
]
Bore: TypeAlias = Annotated[
    Diameter | None,
    Meta(description="Left out: from ports and design flows."),
]
Duct: TypeAlias = Annotated[Word | None, Meta(description="A construction of the catalogue. Left out: the usual one.")]
Wye: TypeAlias = Annotated[
    Angle | None, Meta(description="Angle of the wye by which it joins, 5 to 90 deg. Left out: the usual 45.")
]


class OutlineTurn(Asked, kw_only=True):
    """A turn of a line."""

    at: Annotated[Length, Meta(description="Distance along the line from its downstream end.")]
    angle: Angle = 90.0
    to: Annotated[
        Toward | None,
        Meta(description="Where it goes on, looking up the line; `ahead` and `back` after a rise. Left out: `left`."),
    ] = None
    made: TurnsMade | None = None
    radius_ratio: Annotated[Ratio | None, Meta(description="Centreline radius over diameter. Left out: 1.5.")] = None
    construction: Annotated[Word | None, Meta(description="How it is made, a word of the catalogue.")] = None


class OutlineLine(Asked, kw_only=True):
    """A main line: where it starts, and either its length with its turns or the places that it passes."""

    id: Id
    into: Annotated[Id | None, Meta(description="The line that it flows into. Left out: the collector.")] = None
    at: Annotated[
        Length | None,
        Meta(description="How far along that line it joins. Left out: at its first place, of a line with a `path`."),
    ] = None
    length: Annotated[Length | None, Meta(description="Left out: as far as the last that joins it.")] = None
    turns: Annotated[tuple[OutlineTurn, ...], Meta(max_length=40)] = ()
    path: Annotated[
        Annotated[tuple[Point, ...], Meta(min_length=2, max_length=100)] | None,
        Meta(description="In place of length and turns: places from its downstream end up."),
    ] = None
    start: Annotated[
        Toward | None,
        Meta(description="Its first direction, looking up what it joins. Left out: `ahead` at an end, else `left`."),
    ] = None
    leaves: Annotated[
        Angle | None,
        Meta(description="Angle between it and the line that it joins. Left out: 0 straight ahead, else 90."),
    ] = None
    diameter: Bore = None
    duct: Duct = None
    wye: Wye = None


class OutlinePort(Asked, kw_only=True):
    """One of several ports of a machine, with its hose. What it leaves out is as in its machine's row."""

    port: Diameter
    hose: Length | None = None
    hose_rise: Rise | None = None
    hose_bend: Angle | None = None
    hose_diameter: Diameter | None = None
    hose_duct: Word | None = None
    stretch: StretchShare | None = None
    flow: Annotated[FlowAboveZero | None, Meta(description="Left out: its share of the rest, by its area.")] = None
    entry: Entry | None = None
    resistance: Resistance | None = None
    dust: Word | None = None


class OutlineMachine(Asked, kw_only=True):
    """A machine: what it is, where it joins, and the way to it: off the line, down the drop, by hose to the port."""

    id: Id
    line: Annotated[Id, Meta(description="The line that it joins, or the machine whose drop it shares.")]
    machine: Annotated[Word | None, Meta(description="A word of the catalogue.")] = None
    size: Annotated[
        MachineExtent | None,
        Meta(description="In what the machine's sizes go by: a 10 in saw, a 254 mm one. Left out: the smallest."),
    ] = None
    at: Along = None
    off: Annotated[Length | None, Meta(description="Level distance from the line. Left out: none.")] = None
    drop: Annotated[Rise | None, Meta(description="Height from the line down to the end of the stiff duct.")] = None
    place: Annotated[Point | None, Meta(description="Of the machine's port, in place of `at`, `off` and `drop`.")] = (
        None
    )
    side: Annotated[
        Literal["left", "right"] | None, Meta(description="Of the line, looking up it. Left out: `left`.")
    ] = None
    port: Annotated[Diameter | None, Meta(description="Left out: the catalogue's whole connection.")] = None
    ports: Annotated[
        tuple[OutlinePort, ...], Meta(max_length=8, description="In place of `port` and `hose`, where it has several.")
    ] = ()
    hose: Annotated[Length | None, Meta(description="From the stiff duct to the port. Left out: none.")] = None
    hose_rise: Annotated[
        Rise | None, Meta(description="Height from the port up to the end of the stiff duct. Left out: none.")
    ] = None
    hose_bend: Annotated[
        Angle | None, Meta(description="By how much it bends in all. Left out: as it leads level from the stiff duct.")
    ] = None
    hose_diameter: Annotated[Diameter | None, Meta(description="Left out: the port's.")] = None
    hose_duct: Annotated[Word | None, Meta(description="A hose of the catalogue. Left out: the usual one.")] = None
    stretch: Annotated[
        StretchShare | None, Meta(description="Share of the hose's full extension. Left out: its typical one.")
    ] = None
    flow: Annotated[
        FlowAboveZero | None, Meta(description="Design flow of the whole machine. Left out: the catalogue's.")
    ] = None
    entry: Annotated[Entry | None, Meta(description="Left out: the machine's usual one.")] = None
    dust: Annotated[Word | None, Meta(description="Left out: the outline's, else the machine's usual one.")] = None
    resistance: Annotated[Resistance | None, Meta(description="A loss inside the machine, where it is known.")] = None
    diameter: Bore = None
    duct: Duct = None
    wye: Wye = None
    turns: Annotated[TurnsMade | None, Meta(description="Left out: as the outline says.")] = None
    radius_ratio: Annotated[Ratio | None, Meta(description="Of its elbows. Left out: 1.5.")] = None
    construction: Annotated[Word | None, Meta(description="How its elbows are made, a word of the catalogue.")] = None
    gate: Annotated[
        Literal["drop", "port", "none"] | None,
        Meta(description="At the foot of the stiff duct, at each port, or none. Left out: `drop`."),
    ] = None
    opening: Annotated[Share | None, Meta(description="Of its gates. Left out: fully open.")] = None
    leakage: Annotated[Share | None, Meta(description="The share that stays open when shut. Left out: none.")] = None


class OutlineRequest(Asked, kw_only=True):
    """A shop as a person can measure it: main lines and machines."""

    units: Preset
    lines: Annotated[tuple[OutlineLine, ...], Meta(min_length=1, max_length=500)]
    machines: Annotated[tuple[OutlineMachine, ...], Meta(min_length=1, max_length=2000)]
    name: Name | None = None
    air: Air | None = None
    dust: Word | None = None
    collector: Collector | None = None
    turns: Annotated[TurnsMade | None, Meta(description="Left out: `elbow`.")] = None
    model: Model = Model()


class OutlineAnswer(Told, kw_only=True):
    """The tree document of an outline, and everything that was assumed on the way."""

    engine: Engine
    preset: Preset
    tree: Annotated[Tree, Meta(description="Every other question takes it as it is.")]
    rows: Annotated[dict[str, str], Meta(description="Run id -> the id of the line or machine that it is of.")]
    assumed: tuple[Assumed, ...]
    findings: tuple[Finding, ...]
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    name: str | None = None


class OutlineTemplateRequest(Asked, kw_only=True):
    """GET /v1/outlines/template: headings in a preset's units."""

    units: Preset


class OutlineHeading(Told, kw_only=True):
    """A heading of an outline's table, or the name of a setting above it."""

    name: str
    heading: Annotated[str, Meta(description="As it stands in the table, with its unit.")]
    rows: Annotated[
        tuple[Literal["setting", "line", "machine", "port"], ...], Meta(description="Which rows have such a cell.")
    ]
    meaning: str


class OutlineTemplateAnswer(Told, kw_only=True):
    """The table of an outline to fill in: headings with their meanings, and an invented shop under them."""

    preset: Preset
    headings: tuple[OutlineHeading, ...]
    csv: Annotated[str, Meta(description="The table; with `format=csv` or `Accept: text/csv` this alone.")]
    outline: Annotated[OutlineRequest, Meta(description="The same shop as a document.")]
