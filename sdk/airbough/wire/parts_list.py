"""POST /v1/trees/parts-list: what to buy, how to cut it, and how each joint is made."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.answer import TreeAnswer
from airbough.wire.base import (
    Asked,
    Id,
    Told,
    no,
    nothing,
)
from airbough.wire.quantity import (
    DiameterResult,
    FittingLength,
    Length,
    LengthResult,
    QuantityText,
)
from airbough.wire.stock import AdapterUse, End, MoneyEach, MoneyResult, Stock
from airbough.wire.tree import Tree

Spacing: TypeAlias = Annotated[
    float | QuantityText,
    Meta(
        extra={"kind": "diameter", "range": (0.01, 30.0)},
        extra_json_schema={"x-kind": "diameter", "x-range-si": [0.01, 30.0]},
    ),
]
JointKind: TypeAlias = Literal[
    "slip", "inner-sleeve", "outer-sleeve", "lip-against-flow", "flanged", "clamped", "flange-adapter",
    "hose-connector", "not-judged",
]  # fmt: skip


class PartsListRules(Asked, kw_only=True):
    """The fitter's rules; each left out is the catalogue's, listed with its source."""

    lap: Annotated[FittingLength | None, Meta(description="How far one end enters the other.")] = None
    least_piece: Annotated[FittingLength | None, Meta(description="No shorter piece is cut beside a full one.")] = None
    adapter_length: FittingLength | None = None
    least_screws: Annotated[int, Meta(ge=0, le=100)] | None = None
    screw_spacing: Annotated[Spacing | None, Meta(description="Along the seam.")] = None
    least_bolts: Annotated[int, Meta(ge=0, le=100)] | None = None
    bolt_spacing: Spacing | None = None
    seal: Literal["sealant", "tape", "none"] = "sealant"
    tape_overlap: Annotated[float, Meta(ge=0.0, le=2.0, description="Share of the seam.")] | None = None
    hanger_spacing: Annotated[Spacing | None, Meta(description="Stiff duct.")] = None
    hose_hanger_spacing: Spacing | None = None
    elbow_hanger_reach: Annotated[
        Spacing | None, Meta(description="How far from an elbow its hanger may stand; one may serve several.")
    ] = None
    junction_hanger_reach: Spacing | None = None
    hangers_at_elbow: Annotated[int, Meta(ge=0, le=4)] | None = None
    hangers_at_junction: Annotated[int, Meta(ge=0, le=4)] | None = None
    bonding_tail: Annotated[FittingLength | None, Meta(description="Wire left at each end of a run.")] = None


class RunStretches(Asked, kw_only=True):
    """Where a run's fittings sit: the straight before the first, between each two, and after the last."""

    run: Id
    lengths: Annotated[tuple[Length, ...], Meta(min_length=1, max_length=51)]


class PartsListRequest(Tree, kw_only=True):
    """A tree and what can be bought. Without `stock` only what is required is listed; no stock list is ours.

    Machines, hoods and the collector are no part of it.
    """

    stock: Stock | None = None
    kerf: Annotated[FittingLength | None, Meta(description="What a cut takes. Left out: the catalogue's.")] = None
    rules: PartsListRules = PartsListRules()
    stretches: Annotated[
        tuple[RunStretches, ...],
        Meta(
            max_length=10000,
            description="Left out: by a path with an elbow a corner, else one straight, then the fittings.",
        ),
    ] = ()
    lengths: Annotated[
        Literal["straight", "centerline"],
        Meta(description="Whether a run's `length` is straight duct alone or counts its fittings too."),
    ] = "straight"
    port_end: Annotated[End | None, Meta(description="The machines' ports. Left out: not judged.")] = None
    collector_end: Annotated[End | None, Meta(description="The collector's inlet. Left out: not judged.")] = None
    csv: Annotated[bool, Meta(description="Answer the lists as CSV text (RFC 4180) too.")] = False


class PartsListNeed(Told, kw_only=True):
    """One line of what is required, whoever makes it."""

    type: str
    diameters: Annotated[tuple[DiameterResult, ...], Meta(description="Inlets first, outlet last.")]
    quantity: Annotated[int | None, Meta(description="Of pieces.")] = None
    length: Annotated[LengthResult | None, Meta(description="Of duct.")] = None
    angle: float | None = None
    radius_ratio: float | None = None
    construction: str | None = None
    duct: str | None = None
    fitting_length: DiameterResult | None = None
    corner_to_end: Annotated[
        DiameterResult | None,
        Meta(
            description="From where the centrelines meet to an elbow's end, or to a branch's: of an elbow by its "
            "radius ratio, of a wye or tee by geometry and a usual collar."
        ),
    ] = None
    reach: Annotated[
        DiameterResult | None,
        Meta(description="From the centreline of the straight way to the farthest edge of that end; head-room counts."),
    ] = None
    straight_way: Annotated[
        DiameterResult | None, Meta(description="How long a wye or tee is along its straight way, about.")
    ] = None
    runs: tuple[str, ...] = field(default_factory=nothing)
    item: Annotated[str | None, Meta(description="The stock entry that serves it.")] = None
    at: Annotated[str | None, Meta(description="Path of that entry.")] = None


class PartsListLine(Told, kw_only=True):
    """One line to buy; without `at` it is on nobody's list and must be made or found."""

    what: str
    quantity: Annotated[
        int | None, Meta(description="Pieces or packages, where known; left out for what is sold by length.")
    ] = None
    item: str | None = None
    at: Annotated[str | None, Meta(description="Path of the stock entry.")] = None
    diameter: DiameterResult | None = None
    diameters: Annotated[
        tuple[DiameterResult, ...] | None,
        Meta(description="Of a fitting whose ends are unlike: inlets first, outlet last."),
    ] = None
    needed: Annotated[int | None, Meta(description="Pieces needed, where packages hold several.")] = None
    length: Annotated[LengthResult | None, Meta(description="Of duct bought; of wire, tape and the like needed")] = None
    price_each: Annotated[
        MoneyEach | None, Meta(description="Of one piece or package; of what is sold by length, of one foot or metre.")
    ] = None
    price: MoneyResult | None = None
    in_stock: Annotated[int | None, Meta(description="How many are there, where fewer than are needed.")] = None
    substitute: Annotated[
        str | None, Meta(description="An item of which enough are there, where too few are; not bought unasked.")
    ] = None


class CutPiece(Told, kw_only=True):
    """One piece of duct: `cut_length` holds `allowance` for laps beyond what it covers of its run."""

    run: str
    place: Annotated[int, Meta(description="Number among the run's pieces of duct, in the direction of flow.")]
    laid_length: LengthResult
    cut_length: LengthResult
    allowance: LengthResult
    upstream_end: Annotated[str, Meta(description="How it joins; `not-known` where the stock does not say.")]
    downstream_end: Annotated[str, Meta(description="As upstream_end.")]
    turned: bool = field(default_factory=no)


class BoughtLength(Told, kw_only=True):
    """One stock piece and what is cut from it."""

    item: str | None = None
    at: Annotated[str, Meta(description="Path of the stock entry.")]
    length: LengthResult
    cuts: tuple[CutPiece, ...]
    offcut: LengthResult


class Adapter(Told, kw_only=True):
    """Adapters of one kind; they cover the joint and take nothing of the run's length."""

    use: AdapterUse
    diameter: DiameterResult
    length: LengthResult
    quantity: int
    runs: tuple[str, ...]
    item: str | None = None
    at: Annotated[str | None, Meta(description="Path of the stock entry.")] = None


class CuttingPlan(Told, kw_only=True):
    """Stock pieces of one construction and diameter.

    Fewest joints come first: each straight takes full pieces and one remainder. `proof` is about packing the listed
    cuts: `exact`, or `gap` with `bound` below which no packing goes.
    """

    duct: str
    diameter: DiameterResult
    lengths_bought: tuple[BoughtLength, ...]
    bought_length: LengthResult
    laid_length: LengthResult
    kerf_length: LengthResult
    waste: Annotated[LengthResult, Meta(description="Offcuts and kerf.")]
    objective: Literal["length", "price"]
    proof: Literal["exact", "gap"]
    bound_length: LengthResult | None = None
    bound_price: MoneyResult | None = None
    adapters: tuple[Adapter, ...] = field(default_factory=nothing)


class PartsListJoint(Told, kw_only=True):
    """One joint: the end of the upstream piece and that of the next one; `holds` without an adapter or not."""

    run: str
    upstream: str
    downstream: str
    diameter: DiameterResult
    kind: JointKind
    holds: bool
    upstream_end: str | None = None
    downstream_end: str | None = None
    adapter: str | None = None
    edge_faces_flow: bool = field(default_factory=no)
    screws: int = 0
    bolts: int = 0
    clamps: int = 0
    turned: Annotated[tuple[str, ...], Meta(description="Which of the two pieces are turned.")] = field(
        default_factory=nothing
    )


class PartsListRule(Told, kw_only=True):
    """A rule that was used: lengths in the unit of fitting lengths."""

    rule: str
    source: Annotated[str, Meta(description="`caller`, or an id of the bibliography.")]
    length: DiameterResult | None = None
    number: float | None = None
    place: str | None = None
    how: str | None = None


class PartsListSystem(Told, kw_only=True):
    """The whole job."""

    duct_length: LengthResult
    hose_length: Annotated[LengthResult, Meta(description="At full stretch, as it is sold.")]
    joints: int
    joints_holding: int
    joints_not_judged: int
    hangers: int
    price: Annotated[MoneyResult | None, Meta(description="Of the lines that have one; left out where none has.")] = (
        None
    )
    price_complete: bool = field(default_factory=no)
    currency: str | None = None


class PartsListAnswer(TreeAnswer, kw_only=True):
    """What to buy, how to cut and join it. Nothing flows here: `runs` and `hoods` are empty."""

    system: PartsListSystem
    requirement: tuple[PartsListNeed, ...]
    lines: tuple[PartsListLine, ...] = field(default_factory=nothing)
    cutting: tuple[CuttingPlan, ...] = field(default_factory=nothing)
    joints: tuple[PartsListJoint, ...] = field(default_factory=nothing)
    rules: tuple[PartsListRule, ...] = field(default_factory=nothing)
    not_stocked: tuple[PartsListNeed, ...] = field(default_factory=nothing)
    price_missing: tuple[str, ...] = field(default_factory=nothing)
    csv: str | None = None
