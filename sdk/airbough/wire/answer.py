"""What every tree answer carries."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.air import AirResult
from airbough.wire.base import Told, one
from airbough.wire.quantity import (
    DiameterResult,
    FlowResult,
    LengthResult,
    Preset,
    PressureResult,
    VelocityResult,
)
from airbough.wire.stock import MoneyResult
from airbough.wire.uncertainty import UncertaintyResult

Severity: TypeAlias = Literal["danger", "warning", "note"]
Carrying: TypeAlias = Literal["holds", "short", "settles"]
Served: TypeAlias = Literal["holds", "short", "starved"]


class Engine(Told, kw_only=True):
    """What computed the answer."""

    version: str
    catalogue: Annotated[str, Meta(description="Digest of the catalogue's data.")]
    friction: str
    junctions: str


class Change(Told, kw_only=True):
    """One change of the document that a suggestion proposes."""

    path: str
    value: Any


class Suggestion(Told, kw_only=True):
    """What to do. Where `changes` are given the engine has tried them, and `gain` is the result."""

    text: str
    changes: tuple[Change, ...] | None = None
    gain: Annotated[dict[str, float] | None, Meta(description="Named gains in the preset's units.")] = None


class Purchase(Told, kw_only=True):
    """What a change needs beyond what the shop has as it stands; without `item` it is on none of the stock's lists."""

    what: str
    item: str | None = None
    diameter: DiameterResult | None = None
    quantity: Annotated[int | None, Meta(description="Pieces or packages more.")] = None
    length: Annotated[LengthResult | None, Meta(description="More duct, wire or the like.")] = None
    price: MoneyResult | None = None


class Advice(Told, kw_only=True):
    """A change of the shop that the engine has tried in the state that `runs` tell."""

    text: str
    run: str
    changes: tuple[Change, ...]
    flow_gained: Annotated[FlowResult, Meta(description="More air through the fan.")]
    share_before: Annotated[
        float | None, Meta(description="The least share of a design flow among open machines as the shop stands.")
    ] = None
    share_after: Annotated[float | None, Meta(description="The same with the change.")] = None
    buys: Annotated[
        tuple[Purchase, ...] | None,
        Meta(
            description="Where a stock was given: what is bought anew, by the parts lists before and after; nothing is "
            "sold. Small parts where the stock lists them. Left out where no parts list tells, as of a machine's port."
        ),
    ] = None
    price: Annotated[MoneyResult | None, Meta(description="Of what is bought; of nothing, 0.")] = None
    price_complete: Annotated[bool | None, Meta(description="Whether all that is bought has a price.")] = None
    rank_for_price: Annotated[
        int | None, Meta(description="1 brings the most air for its price; left out where the price is not complete.")
    ] = None
    currency: str | None = None


class Finding(Told, kw_only=True):
    """Something a person should know; a code's meaning never changes."""

    code: str
    severity: Severity
    message: str
    at: Annotated[str | None, Meta(description="Path in the document.")] = None
    run: str | None = None
    state: str | None = None
    quantity: str | None = None
    value: float | None = None
    limit: float | None = None
    bound: Literal["minimum", "maximum"] | None = None
    unit: str | None = None
    suggestion: Suggestion | None = None
    source: str | None = None


class Assumed(Told, kw_only=True):
    """Something that the caller left out and the service filled in."""

    path: Annotated[str, Meta(description="In the document.")]
    value: Annotated[Any, Meta(description="As it would stand there, in the preset's unit.")]
    reason: str
    unit: Annotated[str | None, Meta(description="Of a quantity.")] = None
    run: Annotated[str | None, Meta(description="The run's id; of an outline the row's.")] = None
    source: Annotated[str | None, Meta(description="Id of the source of what was filled in, where it has one.")] = None


class Source(Told, kw_only=True):
    """A document that a number of the answer comes from."""

    id: str
    title: str
    edition: str | None = None
    publisher: str | None = None
    year: int | None = None
    read: Annotated[bool | None, Meta(description="Whether the value was read in the text; false: from memory.")] = None
    access: Annotated[
        str | None,
        Meta(description="From the bibliography: `open`, `paid`, `archive`, `not-public` or `none`."),
    ] = None
    url: Annotated[str | None, Meta(description="From the bibliography, where the document has an address.")] = None


MostStarvedHood: TypeAlias = Annotated[
    str | None, Meta(description="The open hood with the least share of its design flow, starved or not.")
]


class RunPart(Told, kw_only=True):
    """A length of duct of one diameter inside a run."""

    diameter: DiameterResult
    length: LengthResult
    velocity: VelocityResult


class RunResult(Told, kw_only=True):
    """One run: its losses sum to `total_loss`; pressures are gauge, at its downstream end.

    `diameter`, `velocity`, `velocity_pressure` and `reynolds` are those of its straight duct; of the widest part of
    it, where air is slowest, where the diameter changes inside.
    """

    id: str
    diameter: DiameterResult
    flow: FlowResult
    velocity: VelocityResult
    velocity_pressure: PressureResult
    reynolds: float
    idle: Annotated[bool, Meta(description="No open hood upstream in this state.")]
    entry_loss: PressureResult
    port_loss: PressureResult
    resistance_loss: PressureResult
    gate_loss: PressureResult
    friction_loss: PressureResult
    fitting_loss: PressureResult
    join_loss: PressureResult
    total_loss: PressureResult
    static_pressure: PressureResult
    total_pressure: PressureResult
    flow_upstream: Annotated[FlowResult | None, Meta(description="Given where joints leak.")] = None
    carrying_ratio: Annotated[
        float | None, Meta(description="Velocity over the transport velocity of its dust; left out: not judged.")
    ] = None
    carrying: Annotated[
        Carrying | None,
        Meta(
            description="`holds`; else, with finding `below-transport-velocity`, `short` by up to a tenth, as "
            "documents differ, or `settles`: chips will settle."
        ),
    ] = None
    parts: Annotated[
        tuple[RunPart, ...] | None,
        Meta(description="In the direction of flow; given where the diameter changes between lengths of duct."),
    ] = None


class HoodResult(Told, kw_only=True):
    """One hood: what it gets against what it needs."""

    run: str
    flow: FlowResult
    open: bool
    static_pressure: Annotated[PressureResult, Meta(description="At a tap just after the hood.")]
    machine: str | None = None
    design_flow: FlowResult | None = None
    share_of_design: float | None = None
    served: Annotated[
        Served | None,
        Meta(
            description="Of an open hood with a design flow: `holds`; else, with finding `hood-starved`, `short` by up "
            "to a tenth, or `starved` by more."
        ),
    ] = None


class WholeSystem(Told, kw_only=True):
    """The system as a whole, in the state that `runs` show."""

    flow: FlowResult
    inlet_static_pressure: Annotated[PressureResult, Meta(description="Gauge, the deepest at the collector's inlet.")]


class Term(Told, kw_only=True):
    """One term of the answer, so that a person can redo it with a pocket calculator."""

    term: Annotated[str, Meta(description="What it is, such as `friction-loss`.")]
    formula: Annotated[
        str, Meta(description="Arithmetic in the names of `inputs`, + - * / ^ and sqrt, log10, min, max.")
    ]
    inputs: Annotated[dict[str, float], Meta(description="In the preset's units, factors between units included.")]
    value: Annotated[float, Meta(description="What the formula gives, in `unit`.")]
    unit: Annotated[str, Meta(description="Of the preset; empty for a plain number.")]
    run: Annotated[str | None, Meta(description="Left out: the collector.")] = None
    at: Annotated[str | None, Meta(description="Path in the document, where one piece is meant.")] = None
    source: Annotated[str | None, Meta(description="Id of the source; left out: the caller, or arithmetic.")] = None
    place: Annotated[str | None, Meta(description="Table, page or equation in the source.")] = None
    read: Annotated[bool | None, Meta(description="Whether it was read in the source; false: from memory.")] = None


class HoodBand(Told, kw_only=True):
    """One hood, for the least and the most that a guessed fan may do."""

    run: str
    flow_low: FlowResult
    flow_high: FlowResult
    share_of_design_low: float | None = None
    share_of_design_high: float | None = None


class Band(Told, kw_only=True):
    """The state that `runs` tell, for the least and the most that a guessed fan may do."""

    flow_low: FlowResult
    flow_high: FlowResult
    hoods: tuple[HoodBand, ...]


class TreeAnswer(Told, kw_only=True):
    """The part that all tree answers share."""

    engine: Engine
    units: Annotated[dict[str, str], Meta(description="The unit of each kind that the answer uses.")]
    preset: Preset
    air: AirResult
    runs: tuple[RunResult, ...]
    hoods: tuple[HoodResult, ...]
    findings: tuple[Finding, ...]
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    assumed: Annotated[tuple[Assumed, ...], Meta(description="What was left out and filled in.")]
    name: str | None = None
    resolved: Annotated[Any, Meta(description="The request with catalogue words replaced by numbers.")] = None
    explanation: tuple[Term, ...] | None = None
    uncertainty: UncertaintyResult | None = None
    band: Annotated[
        Band | None, Meta(description="Given where the collector's fan is a guess and a state of it is told.")
    ] = None

    def run(self, id: str) -> RunResult:
        """Return the run with this id.

        Raises:
            LookupError: where the answer has none, with the nearest ids.
        """
        return one(self.runs, "id", id)

    def hood(self, run: str) -> HoodResult:
        """Return the hood at this run.

        Raises:
            LookupError: where the answer has none, with the nearest runs that have.
        """
        return one(self.hoods, "run", run)
