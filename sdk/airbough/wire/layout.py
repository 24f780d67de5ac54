"""POST /v1/outlines/layout: from places, walls and a price list to the cheapest layouts, with what is proven."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, field

from airbough.wire.air import Air
from airbough.wire.answer import Assumed, Engine, Finding, MostStarvedHood, Source
from airbough.wire.base import Asked, Id, Name, Told, Word, no, nothing
from airbough.wire.collector import Collector
from airbough.wire.entry import Entry
from airbough.wire.outline import OutlinePort, OutlineRequest
from airbough.wire.quantity import (
    Angle,
    Diameter,
    DiameterResult,
    FloorPoint,
    FlowAboveZero,
    FlowResult,
    Length,
    LengthResult,
    MachineExtent,
    Point,
    Preset,
    PressureResult,
    Rise,
    Share,
    StretchShare,
)
from airbough.wire.sizing import BrokenRule, RuleLimits
from airbough.wire.stock import MoneyResult, Stock
from airbough.wire.tree import Model, Resistance, Tree


class LayoutBox(Asked, kw_only=True):
    """A rectangle seen from above, between two opposite corners."""

    corner: FloorPoint
    opposite: FloorPoint


class LayoutCorridor(LayoutBox, kw_only=True):
    """A rectangle in which ducts may run."""

    name: Name | None = None


class LayoutRoom(Asked, kw_only=True):
    """The room seen from above."""

    corners: Annotated[tuple[FloorPoint, ...], Meta(min_length=3, max_length=40, description="In turn.")]
    duct_height: Annotated[Length, Meta(description="Of the centrelines of all level ducts over the floor.")]
    clearance: Annotated[
        Length | None,
        Meta(description="From a wall to the centreline of a duct along it. Left out: what is usual."),
    ] = None
    forbidden: Annotated[
        tuple[LayoutBox, ...],
        Meta(max_length=20, description="Where no centreline may run; along the edge one may."),
    ] = ()
    corridors: Annotated[
        tuple[LayoutCorridor, ...],
        Meta(max_length=20, description="Outside of which no duct may run. Left out: anywhere in the room."),
    ] = ()


class LayoutInlet(Asked, kw_only=True):
    """The collector's inlet."""

    place: Point
    direction: Annotated[
        Literal["+x", "-x", "+y", "-y", "+z", "-z"],
        Meta(description="The way it faces: the duct leads away from it so. Level ones lie at the duct height."),
    ]


class LayoutCollector(Collector, kw_only=True):
    """The collector, and where its inlet is."""

    inlet: LayoutInlet


class LayoutMachine(Asked, kw_only=True):
    """A machine; its riser stands above its port, and what it leaves out is as in an outline's row."""

    id: Id
    place: Annotated[Point, Meta(description="Of the port; of several, of the first.")]
    machine: Annotated[Word | None, Meta(description="A word of the catalogue.")] = None
    size: MachineExtent | None = None
    port: Diameter | None = None
    ports: Annotated[
        tuple[OutlinePort, ...],
        Meta(
            max_length=3,
            description="In place of `port` and `hose`, where it has several: their hoses meet at the riser's foot.",
        ),
    ] = ()
    hose: Length | None = None
    hose_rise: Rise | None = None
    hose_bend: Angle | None = None
    hose_diameter: Diameter | None = None
    hose_duct: Word | None = None
    stretch: StretchShare | None = None
    flow: FlowAboveZero | None = None
    entry: Entry | None = None
    dust: Word | None = None
    resistance: Resistance | None = None
    gate: Literal["drop", "port", "none"] | None = None
    leakage: Share | None = None


class LayoutState(Asked, kw_only=True):
    """Machines that run at once."""

    name: Name
    open: Annotated[tuple[Id, ...], Meta(min_length=1, max_length=12, description="Ids of machines.")]


class LayoutRules(Asked, kw_only=True):
    """What every layout keeps beside transport velocity."""

    upper_velocity: Annotated[
        Literal["must", "off"] | None,
        Meta(description="Left out: kept wherever some diameter does; else missed by as little as may be, and told."),
    ] = None
    no_narrowing: Literal["must", "off"] = "must"


class LayoutRequest(Asked, kw_only=True):
    """A room, the machines in it, and what ducts cost."""

    units: Preset
    room: LayoutRoom
    collector: LayoutCollector
    machines: Annotated[tuple[LayoutMachine, ...], Meta(min_length=1, max_length=12)]
    stock: Stock
    states: Annotated[
        tuple[LayoutState, ...], Meta(max_length=20, description="Left out: each machine alone. Pairs are named.")
    ] = ()
    headings: Annotated[
        Literal[45, 90],
        Meta(
            description="Between two headings of level ducts, deg. 45: on diagonals through machines and inlet too, by "
            "elbows of 45, and into a wye without one; for some ten machines."
        ),
    ] = 90
    alternatives: Annotated[int, Meta(ge=1, le=10, description="How many layouts are answered, at most.")] = 3
    from_below: Annotated[
        bool, Meta(description="Whether a riser may enter the run above it from below; else it does from the side.")
    ] = False
    allowance: Annotated[
        Share | None,
        Meta(
            description="Sized for the pressure of so much more air than the design flows. Left out: none, and with a "
            "fan as much as keeps open hoods at theirs while shut gates leak."
        ),
    ] = None
    rules: LayoutRules = LayoutRules()
    limits: RuleLimits = RuleLimits()
    drawings: Annotated[
        tuple[Literal["plan"], ...], Meta(max_length=1, description="Of each layout, and all beside one another.")
    ] = ()
    effort: Annotated[
        int,
        Meta(
            ge=1,
            le=50,
            description="Times the usual work after which the search stops and tells its gap. The usual is some 8 s at "
            "most on two cores and the same everywhere; up to 3 fits a line of a batch, more the command by itself.",
        ),
    ] = 1
    name: Name | None = None
    air: Air | None = None
    dust: Word | None = None
    duct: Annotated[Word | None, Meta(description="The stiff duct's construction. Left out: the usual one.")] = None
    model: Model = Model()


class LayoutStateResult(Told, kw_only=True):
    """A layout in one state: solved at what the fan moves, without a fan at the flows that were sized for."""

    name: str
    open: tuple[str, ...]
    flow: Annotated[FlowResult | None, Meta(description="Left out beyond the fan's curve.")] = None
    fan_static_pressure: Annotated[
        PressureResult | None, Meta(description="What the fan gives; without a fan what it must.")
    ] = None
    outcome: Annotated[str | None, Meta(description="Of the operating point, where there is a fan.")] = None
    holds: Annotated[
        bool | None, Meta(description="With a fan: air flows, all dust is carried, no open hood is starved.")
    ] = None
    share_of_design: Annotated[float | None, Meta(description="The least among open hoods.")] = None
    most_starved_hood: MostStarvedHood = None
    transport_margin: Annotated[
        float | None, Meta(description="Least velocity over transport velocity; below 1 dust settles.")
    ] = None


class LayoutOverlap(Told, kw_only=True):
    """A place at which runs cross or lie side by side without joining."""

    place: Annotated[tuple[LengthResult, ...], Meta(description="`[x, y]`.")]
    runs: Annotated[tuple[str, ...], Meta(description="Ids of lines or machines of the outline.")]


class LayoutOnTop(Told, kw_only=True):
    """Something to be bought for a layout of which its price knows nothing."""

    what: str
    quantity: int | None = None
    length: Annotated[LengthResult | None, Meta(description="Of wire, tape and the like.")] = None
    price: Annotated[MoneyResult | None, Meta(description="Left out: the stock has no price for it.")] = None


class Layout(Told, kw_only=True):
    """One layout."""

    price: Annotated[
        MoneyResult,
        Meta(
            description="Of duct by the length that is laid, hoses, elbows, wyes, tapers and gates: what "
            "layouts differ by, and what the proof is about."
        ),
    ]
    bought: Annotated[
        MoneyResult | None,
        Meta(
            description="Of everything that the parts list of this tree buys in this stock, whole lengths and packages "
            "included. Left out: the stock does not name it."
        ),
    ] = None
    bought_complete: Annotated[
        bool, Meta(description="Whether the stock has a price for every piece of the parts list.")
    ] = field(default_factory=no)
    on_top: Annotated[
        tuple[LayoutOnTop, ...],
        Meta(description="What is bought besides and is not in `price`: adapters at ports, screws, hangers, sealant."),
    ] = field(default_factory=nothing)
    price_in_words: Annotated[str, Meta(description="What the price holds, and what comes on top, and how much.")] = ""
    allowance: Annotated[float, Meta(description="Share of more air for whose pressure it is sized.")]
    price_complete: Annotated[bool, Meta(description="False: the stock names no price for some piece.")]
    outline: Annotated[OutlineRequest, Meta(description="As the question of the outline's tree takes it.")]
    tree: Annotated[Tree, Meta(description="With its diameters; every other question takes it as it is.")]
    duct_length: Annotated[LengthResult, Meta(description="Of stiff duct.")]
    elsewhere: Annotated[
        float | None,
        Meta(description="Share of its shared ducts that lies elsewhere than those of the layouts before it."),
    ] = None
    states: tuple[LayoutStateResult, ...]
    broken: Annotated[tuple[BrokenRule, ...], Meta(description="Rules that do not hold at the flows sized for.")]
    overlaps: tuple[LayoutOverlap, ...]
    holds: Annotated[
        bool,
        Meta(description="No rule but an upper velocity left out is broken, nothing overlaps, all states hold."),
    ]
    drawings: dict[str, str] = field(default_factory=dict)


class CorridorPrice(Told, kw_only=True):
    """What the cheapest arrangement costs in which some duct runs along a wall or corridor, pressure not asked."""

    along: Annotated[str, Meta(description="`wall 1` from the first corner to the second; a corridor by its name.")]
    price: Annotated[MoneyResult | None, Meta(description="Left out: none has a duct there.")] = None
    more: Annotated[MoneyResult | None, Meta(description="Than without this wish.")] = None
    at_least: Annotated[
        bool, Meta(description="Nothing so dear was looked at: it costs this or more, or none has a duct there.")
    ] = field(default_factory=no)


class LayoutClash(Told, kw_only=True):
    """Two states that leave machines without any diameter in which they could share a duct."""

    machines: tuple[str, ...]
    states: Annotated[tuple[str, ...], Meta(description="Slowest in a duct of theirs, then fastest, where asked.")]
    alone: Annotated[bool, Meta(description="The machine's own duct has none: no layout can hold.")] = field(
        default_factory=no
    )
    at_least: Annotated[
        DiameterResult | None, Meta(description="Narrower, air is too fast in the second state. Left out: not asked.")
    ] = None
    at_most: Annotated[
        DiameterResult | None,
        Meta(description="Wider, dust settles in the first state, here or in what all flow into. Left out: not asked."),
    ] = None


class LayoutUnjoined(Told, kw_only=True):
    """Machines whose ducts no pieces of the stock bring together, or to the inlet, along these lines."""

    machines: tuple[str, ...]
    diameters: Annotated[
        tuple[DiameterResult, ...], Meta(description="Those that keep the dust of all moving, and so were looked at.")
    ]
    port: Annotated[
        DiameterResult | None, Meta(description="Of a machine alone: its widest port or hose, wider than all of these.")
    ] = None
    state: Annotated[str | None, Meta(description="With `port`: in which the main duct may be no wider.")] = None
    to_inlet: Annotated[
        bool, Meta(description="They come together, but no pieces bring them into the inlet in its direction.")
    ] = field(default_factory=no)


class LayoutLack(Told, kw_only=True):
    """A state in which no arrangement along these lines has the pressure that its air needs, or any that is known."""

    state: str
    needed: Annotated[
        PressureResult | None,
        Meta(
            description="No arrangement needs less. With eleven machines and more it may be told higher of a fan that "
            "is less too weak, as all ways of so many take too long to look at closely. Left out where there is `flow`."
        ),
    ] = None
    available: PressureResult | None = None
    missing: PressureResult | None = None
    flow: Annotated[
        FlowResult | None,
        Meta(description="That it asks for, where the fan's curve does not reach it: no pressure is known there."),
    ] = None
    flow_of_curve: Annotated[FlowResult | None, Meta(description="The nearest flow on the curve.")] = None


class LayoutAnswer(Told, kw_only=True):
    """Layouts, those that hold first, then by price; and what is proven about the price of the first."""

    engine: Engine
    preset: Preset
    units: dict[str, str] = field(default_factory=dict)
    outcome: Literal["proposed", "no-layout"]
    proof: Annotated[
        Literal["exact", "gap"],
        Meta(description="Whether the first layout's price is the bound, or how far off it may be stays open."),
    ]
    bound: Annotated[
        MoneyResult | None,
        Meta(description="No arrangement that keeps the rules is cheaper. Left out: there is none."),
    ] = None
    none_holds: Annotated[
        bool,
        Meta(
            description="Proven: no arrangement along these lines, in these diameters, holds in every state. "
            "`lacking`, `clashes` or `unjoined` say why where one state or a few machines are the cause; the layouts "
            "told break the fewest rules of those tried."
        ),
    ] = field(default_factory=no)
    statement: Annotated[str, Meta(description="What is proven, in words.")]
    not_modelled: Annotated[tuple[str, ...], Meta(description="What no price or rule here knows of.")]
    layouts: tuple[Layout, ...] = field(default_factory=nothing)
    corridor_prices: Annotated[
        tuple[CorridorPrice, ...], Meta(description="Empty where so many machines would take too long.")
    ] = field(default_factory=nothing)
    clashes: Annotated[
        tuple[LayoutClash, ...], Meta(description="Smallest sets of machines that no duct can serve together.")
    ] = field(default_factory=nothing)
    lacking: Annotated[
        tuple[LayoutLack, ...],
        Meta(description="States that no arrangement has the pressure for, of those that the first one breaks."),
    ] = field(default_factory=nothing)
    unjoined: Annotated[
        tuple[LayoutUnjoined, ...],
        Meta(
            description="Where there is no arrangement though each set of machines has a diameter: the smallest sets "
            "that nothing joins. Look at wyes, elbows, tapers and gates of the stock, and at `no_narrowing`."
        ),
    ] = field(default_factory=nothing)
    drawing: Annotated[str | None, Meta(description="SVG: the plans beside one another.")] = None
    currency: str | None = None
    assumed: tuple[Assumed, ...]
    findings: tuple[Finding, ...]
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    name: str | None = None
