"""POST /v1/quotes: a shop and a seller's stock, sized, solved in each state, taken off, priced and drawn."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.air import AirResult
from airbough.wire.answer import Assumed, Engine, Finding, MostStarvedHood, Served, Source
from airbough.wire.base import Asked, Id, Told, no, nothing
from airbough.wire.gate_states import GateFix
from airbough.wire.outline import OutlineRequest
from airbough.wire.parts_list import CuttingPlan, PartsListLine, PartsListNeed, PartsListSystem
from airbough.wire.quantity import FlowResult, Preset, PressureResult
from airbough.wire.sizing import BrokenRule, SizedPair, SizingLimits, SizingRules, SizingState
from airbough.wire.stock import End, MoneyResult, Stock
from airbough.wire.tree import Tree

QuoteDrawing: TypeAlias = Literal["plan", "side", "tree", "fan", "pairs"]


class QuoteRequest(Asked, kw_only=True):
    """An outline or a tree, and the stock to build it from.

    The document is read in its own `units`, all else in those of the request; the answer is in those too. Whoever
    takes an order compares `stock_digest` with that of the stock that is sold from.
    """

    units: Preset
    stock: Stock
    outline: OutlineRequest | None = None
    tree: Annotated[Tree | None, Meta(description="In place of `outline`.")] = None
    states: Annotated[
        tuple[SizingState, ...],
        Meta(max_length=100, description="Left out: each machine alone, all pairs told; without gates as it is."),
    ] = ()
    drawings: Annotated[tuple[QuoteDrawing, ...], Meta(max_length=5)] = ()
    fixed: Annotated[tuple[Id, ...], Meta(max_length=10000, description="Runs that keep their diameter.")] = ()
    rules: SizingRules = SizingRules()
    limits: SizingLimits = SizingLimits()
    port_end: Annotated[End | None, Meta(description="The machines' ports. Left out: not judged.")] = None
    collector_end: Annotated[End | None, Meta(description="The collector's inlet. Left out: not judged.")] = None
    csv: Annotated[bool, Meta(description="Answer the parts as CSV text (RFC 4180) too.")] = False


class QuotedHood(Told, kw_only=True):
    """What a hood gets against what it needs; `machine_id` is the id of its row in the outline."""

    run: str
    flow: FlowResult
    open: bool
    machine: str | None = None
    machine_id: str | None = None
    design_flow: FlowResult | None = None
    share_of_design: float | None = None
    served: Served | None = None


class QuotedState(Told, kw_only=True):
    """One state of the gates: with a fan its operating point, else the design flows and what they ask of a fan."""

    name: str
    holds: Annotated[bool, Meta(description="Air flows, each judged run carries its dust, no open hood is starved.")]
    outcome: Annotated[str | None, Meta(description="Of the operating point; left out without a fan.")] = None
    flow: FlowResult | None = None
    fan_static_pressure: PressureResult | None = None
    most_starved_hood: MostStarvedHood = None
    share_of_design: float | None = None
    hoods: tuple[QuotedHood, ...] = field(default_factory=nothing)
    findings: Annotated[tuple[str, ...], Meta(description="Codes of what does not hold in this state.")] = field(
        default_factory=nothing
    )
    fix: Annotated[GateFix | None, Meta(description="Which gates to open as well, where that mends it.")] = None


class QuotedParts(Told, kw_only=True):
    """The parts list of the sized tree; joints are told by parts-list."""

    system: PartsListSystem
    requirement: tuple[PartsListNeed, ...] = field(default_factory=nothing)
    lines: tuple[PartsListLine, ...] = field(default_factory=nothing)
    cutting: tuple[CuttingPlan, ...] = field(default_factory=nothing)
    not_stocked: tuple[PartsListNeed, ...] = field(default_factory=nothing)
    price_missing: tuple[str, ...] = field(default_factory=nothing)
    csv: str | None = None


class QuoteAnswer(Told, kw_only=True):
    """The quote. Paths of findings that begin with `tree` are of the answer's own `tree`."""

    engine: Engine
    units: Annotated[dict[str, str], Meta(description="The unit of each kind that the answer uses.")]
    preset: Preset
    air: AirResult
    outcome: Annotated[
        Literal["sized", "no-solution"],
        Meta(description="`no-solution`: only where rules that are `must` leave no choice; then nothing is priced."),
    ]
    proof: Annotated[Literal["exact", "gap"], Meta(description="Of the diameters.")]
    stock_digest: Annotated[
        str,
        Meta(description="SHA-256 of `stock` as it was sent, in its form by RFC 8785; base64url without padding."),
    ]
    tree: Annotated[Tree | None, Meta(description="The sized shop; every other question takes it as it is.")] = None
    rows: Annotated[
        dict[str, str], Meta(description="Run id -> id of the outline's line or machine; empty for a tree.")
    ] = field(default_factory=dict)
    states: tuple[QuotedState, ...] = field(default_factory=nothing)
    pairs: Annotated[
        tuple[SizedPair, ...], Meta(description="With `states` left out, every two machines, of up to 20.")
    ] = field(default_factory=nothing)
    broken: Annotated[tuple[BrokenRule, ...], Meta(description="Where a rule of sizing does not hold.")] = field(
        default_factory=nothing
    )
    parts: QuotedParts | None = None
    price: Annotated[MoneyResult | None, Meta(description="Of the parts that have one.")] = None
    price_complete: bool = field(default_factory=no)
    currency: str | None = None
    expires: str | None = None
    drawings: Annotated[dict[str, str], Meta(description="Name -> an SVG document.")] = field(default_factory=dict)
    findings: tuple[Finding, ...] = field(default_factory=nothing)
    assumed: tuple[Assumed, ...] = field(default_factory=nothing)
    sources: tuple[Source, ...] = field(default_factory=nothing)
    cautions: tuple[str, ...] = field(default_factory=nothing)
    name: str | None = None
