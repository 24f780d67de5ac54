"""Every question with its keywords, for type checkers and editors; nothing imports this at run time.

Made by deploy/typed_calls.py; not to be changed by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal, Protocol, Required, TypeAlias, TypedDict, Unpack, overload

from airbough.reply import Reply
from airbough.wire.air import Air, AirRequest
from airbough.wire.balance import BalanceAnswer, BalanceRequest
from airbough.wire.collector import Collector, NamedFan
from airbough.wire.compare import CompareAnswer, CompareRequest
from airbough.wire.diagnosis import (
    DiagnosisAnswer,
    DiagnosisRequest,
    FanStaticPressureReading,
    FlowReading,
    HoodStaticPressureReading,
    StaticPressureReading,
    VelocityPressureReading,
    VelocityReading,
)
from airbough.wire.drawing import DrawingAnswer, DrawingRequest
from airbough.wire.entry import (
    Bellmouth,
    FlangedOpening,
    KnownEntry,
    PlainOpening,
    SharpOrifice,
    Slot,
    TaperedHood,
    WheelHoodStraight,
    WheelHoodTapered,
)
from airbough.wire.gate_states import GateStatesAnswer, GateStatesRequest
from airbough.wire.layout import (
    LayoutAnswer,
    LayoutBox,
    LayoutCollector,
    LayoutMachine,
    LayoutRequest,
    LayoutRoom,
    LayoutRules,
    LayoutState,
)
from airbough.wire.make_up_air import MakeUpAirAnswer, MakeUpAirRequest, Room
from airbough.wire.measurement import (
    HoodStaticPressureAnswer,
    HoodStaticPressureRequest,
    TraverseAnswer,
    TraverseRequest,
)
from airbough.wire.operating_point import OperatingPointAnswer, OperatingPointRequest
from airbough.wire.outline import (
    OutlineAnswer,
    OutlineLine,
    OutlineMachine,
    OutlineRequest,
    OutlineTemplateAnswer,
    OutlineTemplateRequest,
)
from airbough.wire.parts_list import PartsListAnswer, PartsListRequest, PartsListRules, RunStretches
from airbough.wire.quote import QuoteAnswer, QuoteRequest
from airbough.wire.reference import (
    AirAnswer,
    CatalogueRequest,
    DuctsAnswer,
    DustsAnswer,
    FittingAnswer,
    FittingLossAnswer,
    FittingLossRequest,
    FittingsAnswer,
    FrictionLossAnswer,
    FrictionLossRequest,
    HoodsAnswer,
    SourcesAnswer,
    VelocityCheckAnswer,
    VelocityCheckRequest,
)
from airbough.wire.sizing import RuleLimits, SizingAnswer, SizingLimits, SizingRequest, SizingRules, SizingState
from airbough.wire.state import GateSetting, NamedState
from airbough.wire.stock import Stock
from airbough.wire.strength import Door, Stiffening, StrengthAnswer, StrengthRequest
from airbough.wire.tree import Model, Run, Tree, Uncertainty
from airbough.wire.variants import Variant, VariantsAnswer, VariantsRequest
from airbough.wire.working_day import Bin, MachineDay, WorkingDayAnswer, WorkingDayRequest

Document: TypeAlias = Mapping[str, object]
"""A request, or a part of one, as a plain table."""


class WithUnit(Protocol):
    """A quantity of pint."""

    @property
    def magnitude(self) -> Any:
        """The number."""

    @property
    def units(self) -> Any:
        """The unit."""


Quantity: TypeAlias = float | str | WithUnit
"""A number in the preset's unit, or a text or a quantity with its own."""


class TreeWords(TypedDict, total=False):
    """Fields of `Tree`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    runs: Required[Sequence[Run | Document]]
    name: str | None
    """The caller's name; answered back."""
    air: Air | Document | None
    dust: str | None
    """A word of the catalogue."""
    collector: Collector | Document | None
    model: Model | Document
    resolved: bool
    """Answer the request too, catalogue words replaced by numbers."""
    explain: bool
    """Answer each term with formula, inputs and source."""
    uncertainty: Uncertainty | Document | None


class AirWords(TypedDict, total=False):
    """Fields of `AirRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    temperature: Quantity | None
    altitude: Quantity | None
    pressure: Quantity | None
    humidity: Quantity | None


class FrictionLossWords(TypedDict, total=False):
    """Fields of `FrictionLossRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    flow: Required[Quantity]
    diameter: Required[Quantity]
    length: Required[Quantity]
    duct: str | None
    """A word of the catalogue."""
    roughness: Quantity | None
    stretch: Quantity | None
    friction: Literal["colebrook", "power-law"]
    temperature: Quantity | None
    altitude: Quantity | None
    pressure: Quantity | None
    humidity: Quantity | None


class VelocityCheckWords(TypedDict, total=False):
    """Fields of `VelocityCheckRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    flow: Required[Quantity]
    diameter: Required[Quantity]
    dust: Required[str]
    """A word of the catalogue."""
    loading: float | None
    """Mass of dust per mass of air: asks for a second opinion by saltation."""
    temperature: Quantity | None
    altitude: Quantity | None
    pressure: Quantity | None
    humidity: Quantity | None


class CatalogueWords(TypedDict, total=False):
    """Fields of `CatalogueRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""


class FittingLossWords(TypedDict, total=False):
    """Fields of `FittingLossRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    flow: Quantity | None
    diameter: Quantity | None
    angle: Quantity | None
    radius_ratio: float | None
    construction: str | None
    """A word of the catalogue."""
    spacer_ratio: float | None
    upstream_diameter: Quantity | None
    downstream_diameter: Quantity | None
    length: Quantity | None
    opening: Quantity | None
    coefficient: float | None
    """Loss coefficient, no unit."""
    included_angle: Quantity | None
    shape: str | None
    """A word of the catalogue."""
    orifice_diameter: Quantity | None
    area_share: Quantity | None
    clearance_ratio: float | None
    setting: str | None
    """A word of the catalogue."""
    duct_entry: float | None
    """Loss coefficient, no unit."""
    direction: str | None
    """A word of the catalogue."""
    outlet_ratio: float | None
    count: int
    flow_share: Quantity | None
    """Junctions: the branch's share of the flow."""
    branch_diameter: Quantity | None
    temperature: Quantity | None
    altitude: Quantity | None
    pressure: Quantity | None
    humidity: Quantity | None


class BalanceOwnWords(TypedDict, total=False):
    """Fields of `BalanceRequest`."""

    by: Literal["gates", "flow"]
    """Gates add pressure, or branches take more flow."""
    correction: Literal["square-root", "exact"]
    """How a flow is raised, with `by` flow."""
    gates_may_stand: Sequence[str]
    """Runs in which a gate may be put. Without that a gate is asked for only in a branch that leads to one open
    hood, and where one stands on it up to where the next open branch joins; others are resized."""


class BalanceWords(TreeWords, BalanceOwnWords, total=False):
    """Fields of `BalanceRequest`."""


class OperatingPointOwnWords(TypedDict, total=False):
    """Fields of `OperatingPointRequest`."""

    fans: Sequence[NamedFan | Document]
    """Compared on the same tree."""
    advice: bool
    """Try changes of the shop one by one in the state told, and answer what each gains."""
    stock: Stock | Document | None
    """What can be bought: gives each advised change its price."""
    state: GateSetting | Document | None
    """Left out: every gate as in the document."""


class OperatingPointWords(TreeWords, OperatingPointOwnWords, total=False):
    """Fields of `OperatingPointRequest`."""


class WorkingDayOwnWords(TypedDict, total=False):
    """Fields of `WorkingDayRequest`."""

    machines: Required[Sequence[MachineDay | Document]]
    duration: Quantity
    """Length of the day."""
    held_gate: str | None
    """The caller's id; answered back as data. A machine: its `machine_id`, or the id of the run of one of its
    hoods or gates. Its gates stay open unless another machine's open."""
    always_open: Sequence[str]
    """Gates that stand open all day."""
    gate_delay: Quantity
    """Gates stay open so long after their machine goes off."""
    fan_delay: Quantity
    """The fan runs on so long after the last machine goes off."""
    minimum_run: Quantity
    """The fan runs at least so long after a start."""
    rest: Quantity
    """The fan stands still at least so long before it starts again."""
    starts_allowed: int | None
    """Starts in any 3,600 s; left out: as many as come."""
    bin: Bin | Document | None
    price_per_kwh: float | None
    """In the caller's money; the cost is in the same."""


class WorkingDayWords(TreeWords, WorkingDayOwnWords, total=False):
    """Fields of `WorkingDayRequest`."""


class GateStatesOwnWords(TypedDict, total=False):
    """Fields of `GateStatesRequest`."""

    states: Sequence[NamedState | Document]
    up_to: int | None
    """Every set of up to so many machines at once. A machine is what moves together: the gates of one
    `machine_id`, or of one hood. Zone gates, which serve several, stay as the document has them."""
    machines: Sequence[str] | None
    """The machines that `up_to` takes; others stay shut. Left out: all."""
    openings: Mapping[str, Quantity] | None
    """Run id -> opening of that run's own gate; wins over `open`. Run id -> opening of its gate wherever it is
    open. Left out: the document's, or full if shut."""
    advice: bool
    """Try changes of the shop one by one in the state told, and answer what each gains."""
    stock: Stock | Document | None
    """What can be bought: gives each advised change its price."""
    detail: Literal["summary", "runs"]
    """`runs` adds every run and hood to each state that is listed."""
    listed: int
    """Named states are always listed; those of `up_to` only where all states are no more than this."""


class GateStatesWords(TreeWords, GateStatesOwnWords, total=False):
    """Fields of `GateStatesRequest`."""


class DrawingOwnWords(TypedDict, total=False):
    """Fields of `DrawingRequest`."""

    of: Required[Literal["tree", "fan", "plan", "side", "pairs"]]
    """The tree of runs, or the fan's curve with the system's curves; to scale, of the runs that have a `path`,
    the shop from above or from the side; or which two machines can run together."""
    walls: Sequence[Sequence[Quantity]]
    """Of plan and side: corners `[x, y]` of the room, in turn."""
    boxes: Sequence[LayoutBox | Document]
    """Of the plan: places that are kept free of ducts, between opposite corners."""
    corridors: Sequence[LayoutBox | Document]
    """Of the plan: where ducts may run, between opposite corners."""
    ceiling: Quantity | None
    """Of the side: its height over z = 0, the floor."""
    states: Sequence[NamedState | Document]
    """For a fan: drawn beside the document's own. For a tree: one, in its place."""
    width: int | None
    """Displayed width in px. Left out: the drawing's own."""


class DrawingWords(TreeWords, DrawingOwnWords, total=False):
    """Fields of `DrawingRequest`."""


class SizingOwnWords(TypedDict, total=False):
    """Fields of `SizingRequest`."""

    stock: Stock | Document | None
    """A run cannot have a diameter in which its duct, fittings or gate are not all listed. Only where runs meet
    in a wye that is not, the next size serves with tapers: no inlet narrower than its run, the fewest tapers,
    then the narrowest. Of a package each piece costs its share. What has no price counts as the dearest of its
    kind. Left out: the catalogue's nominal diameters, without prices."""
    objective: Literal["cost", "fan-pressure"]
    """What is least; ties go by the other."""
    rules: SizingRules | Document
    limits: SizingLimits | Document
    flows: Literal["design", "fan"] | None
    """Whether design flows are given, or the fan decides what flows. Left out: a fan given decides."""
    states: Sequence[SizingState | Document]
    """Left out: each machine alone, and all pairs of the sized tree are judged and told; without gates the
    document's state. Beyond 20 of them fewer sets of diameters may meet: 3,000,000 sets times states in all."""
    fixed: Sequence[str]
    """Runs that keep their diameter."""
    trade_sizes: Sequence[Quantity]
    """What to try where the stock allows no choice. Left out: the catalogue's nominal ones."""
    frontier_limit: int
    """Labels kept for a run and diameter before the proof is given up."""


class SizingWords(TreeWords, SizingOwnWords, total=False):
    """Fields of `SizingRequest`."""


class StrengthOwnWords(TypedDict, total=False):
    """Fields of `StrengthRequest`."""

    suction: Quantity | None
    """Judge against this suction in place of the fan's."""
    states: Sequence[NamedState | Document]
    stiffening: Sequence[Stiffening | Document]
    doors: Sequence[Door | Document]
    material: str | None
    """A word of the catalogue. Of runs whose duct does not say."""
    safety_factor: float | None
    """Left out: the catalogue's."""
    knockdown: float | None
    """Share left for seams and dents. Left out: the catalogue's."""


class StrengthWords(TreeWords, StrengthOwnWords, total=False):
    """Fields of `StrengthRequest`."""


class MakeUpAirOwnWords(TypedDict, total=False):
    """Fields of `MakeUpAirRequest`."""

    collector_stands: Required[Literal["same-room", "another-room", "outdoors"]]
    room: Required[Room | Document]
    returned_share: Quantity | None
    """Of the exhaust, led back into this room. Left out: 1 in the same room, what `return_path_area` lets through
    from another, else 0."""
    return_path_area: Quantity | None
    """Free area of the way back from the other room that the collector stands in; that room is taken to be at the
    pressure of outdoors."""


class MakeUpAirWords(TreeWords, MakeUpAirOwnWords, total=False):
    """Fields of `MakeUpAirRequest`."""


class TraverseWords(TypedDict, total=False):
    """Fields of `TraverseRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    diameter: Required[Quantity]
    rule: Literal["log-linear", "log-tchebycheff", "equal-area"]
    per_diameter: int
    """Points on each diameter, as the rule prints them."""
    diameters: int
    """Diameters, evenly turned; one is a poor reading."""
    velocity_pressures: Sequence[Sequence[Quantity]]
    """One row for each diameter, from the wall that the depths count from."""
    velocities: Sequence[Sequence[Quantity]]
    """In place of `velocity_pressures`."""
    depths: Sequence[Sequence[Quantity]]
    """Where the readings were taken, to be checked against the rule's points."""
    straight_upstream: Quantity | None
    """Straight duct before the plane."""
    straight_downstream: Quantity | None
    """Straight duct after the plane."""
    air: Air | Document | None
    """The air in the duct. Left out: standard air."""


class HoodStaticPressureWords(TypedDict, total=False):
    """Fields of `HoodStaticPressureRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    hood_static_pressure: Required[Quantity]
    """Gauge; the sign of a suction may be left out."""
    diameter: Required[Quantity]
    """Diameter at the tap."""
    entry: (
        PlainOpening
        | Document
        | FlangedOpening
        | Bellmouth
        | TaperedHood
        | SharpOrifice
        | Slot
        | WheelHoodStraight
        | WheelHoodTapered
        | KnownEntry
        | None
    )
    coefficient_of_entry: float | None
    """Ce."""
    flow: Quantity | None
    """Measured, to learn the hood's own coefficient."""
    tap_distance: Quantity | None
    """From the hood's end to the tap."""
    air: Air | Document | None
    """The air in the duct. Left out: standard air."""


class PartsListOwnWords(TypedDict, total=False):
    """Fields of `PartsListRequest`."""

    stock: Stock | Document | None
    kerf: Quantity | None
    """What a cut takes. Left out: the catalogue's."""
    rules: PartsListRules | Document
    stretches: Sequence[RunStretches | Document]
    """Left out: by a path with an elbow a corner, else one straight, then the fittings."""
    lengths: Literal["straight", "centerline"]
    """Whether a run's `length` is straight duct alone or counts its fittings too."""
    port_end: Literal["enters", "receives", "flange", "cuff"] | None
    """How an end joins: enters (male, crimped) or receives (female), with the air; a flange; a cuff. The
    machines' ports. Left out: not judged."""
    collector_end: Literal["enters", "receives", "flange", "cuff"] | None
    """How an end joins: enters (male, crimped) or receives (female), with the air; a flange; a cuff. The
    collector's inlet. Left out: not judged."""
    csv: bool
    """Answer the lists as CSV text (RFC 4180) too."""


class PartsListWords(TreeWords, PartsListOwnWords, total=False):
    """Fields of `PartsListRequest`."""


class QuoteWords(TypedDict, total=False):
    """Fields of `QuoteRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    stock: Required[Stock | Document]
    outline: OutlineRequest | Document | None
    tree: Tree | Document | None
    """In place of `outline`."""
    states: Sequence[SizingState | Document]
    """Left out: each machine alone, all pairs told; without gates as it is."""
    drawings: Sequence[Literal["plan", "side", "tree", "fan", "pairs"]]
    fixed: Sequence[str]
    """Runs that keep their diameter."""
    rules: SizingRules | Document
    limits: SizingLimits | Document
    port_end: Literal["enters", "receives", "flange", "cuff"] | None
    """How an end joins: enters (male, crimped) or receives (female), with the air; a flange; a cuff. The
    machines' ports. Left out: not judged."""
    collector_end: Literal["enters", "receives", "flange", "cuff"] | None
    """How an end joins: enters (male, crimped) or receives (female), with the air; a flange; a cuff. The
    collector's inlet. Left out: not judged."""
    csv: bool
    """Answer the parts as CSV text (RFC 4180) too."""


class DiagnosisOwnWords(TypedDict, total=False):
    """Fields of `DiagnosisRequest`."""

    readings: Required[
        Sequence[
            StaticPressureReading
            | Document
            | VelocityReading
            | FlowReading
            | VelocityPressureReading
            | HoodStaticPressureReading
            | FanStaticPressureReading
        ]
    ]
    state: Required[Literal["as-document"] | GateSetting | Document]
    """Required: readings mean nothing without the gates. `as-document` confirms those of the runs."""
    suspects: Sequence[str] | None
    """Runs to suspect. Left out: all of them."""


class DiagnosisWords(TreeWords, DiagnosisOwnWords, total=False):
    """Fields of `DiagnosisRequest`."""


class CompareWords(TypedDict, total=False):
    """Fields of `CompareRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    before: Required[Tree | Document]
    after: Required[Tree | Document]
    question: Literal["operating-point", "balance"] | None
    """Left out: operating-point where both trees have a fan, else balance (by gates)."""
    fans: Sequence[NamedFan | Document]
    """Each is tried on both trees, with the collector's losses of each."""


class VariantsWords(TypedDict, total=False):
    """Fields of `VariantsRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    tree: Tree | Document | None
    outline: OutlineRequest | Document | None
    """In place of `tree`."""
    state: GateSetting | Document | None
    """Of every variant without one. Left out: as in the document."""
    changes: Sequence[Variant | Document] | None
    grid: Mapping[str, Sequence[Any]] | None
    """In place of `changes`: path -> values; every combination is a variant, the last path's values following one
    another."""
    only: Sequence[
        Literal[
            "outcome",
            "system.flow",
            "system.fan_static_pressure",
            "system.inlet_static_pressure",
            "system.collector_loss",
            "system.discharge_loss",
            "system.shaft_power",
            "system.motor_load",
            "system.motor_current",
            "system.motor_full_load_current",
            "system.most_starved_hood",
            "system.slowest_run",
            "system.flow_at_least",
            "system.flow_at_most",
            "system.pressure_needed",
            "system.mass_residual",
            "system.energy_residual",
            "hoods.flow",
            "hoods.open",
            "hoods.static_pressure",
            "hoods.design_flow",
            "hoods.share_of_design",
            "hoods.served",
            "runs.diameter",
            "runs.flow",
            "runs.velocity",
            "runs.velocity_pressure",
            "runs.reynolds",
            "runs.idle",
            "runs.entry_loss",
            "runs.port_loss",
            "runs.resistance_loss",
            "runs.gate_loss",
            "runs.friction_loss",
            "runs.fitting_loss",
            "runs.join_loss",
            "runs.total_loss",
            "runs.static_pressure",
            "runs.total_pressure",
            "runs.flow_upstream",
            "runs.carrying_ratio",
            "runs.carrying",
        ]
    ]
    """The figures asked for, as `operating-point` tells them."""


class OutlineWords(TypedDict, total=False):
    """Fields of `OutlineRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    lines: Required[Sequence[OutlineLine | Document]]
    machines: Required[Sequence[OutlineMachine | Document]]
    name: str | None
    """The caller's name; answered back."""
    air: Air | Document | None
    dust: str | None
    """A word of the catalogue."""
    collector: Collector | Document | None
    turns: Literal["elbow", "two-45"] | None
    """How a right angle is turned: by one elbow, or by two of 45 deg one after the other. A sharper turn is made
    by two of half its angle, but where the turn itself says `elbow`. Left out: `elbow`."""
    model: Model | Document


class OutlineTemplateWords(TypedDict, total=False):
    """Fields of `OutlineTemplateRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""


class LayoutWords(TypedDict, total=False):
    """Fields of `LayoutRequest`."""

    units: Required[Literal["us", "metric"]]
    """The preset of units: bare numbers of the request and all numbers of the answer are in it."""
    room: Required[LayoutRoom | Document]
    collector: Required[LayoutCollector | Document]
    machines: Required[Sequence[LayoutMachine | Document]]
    stock: Required[Stock | Document]
    states: Sequence[LayoutState | Document]
    """Left out: each machine alone. Pairs are named."""
    headings: Literal[45, 90]
    """Between two headings of level ducts, deg. 45: on diagonals through machines and inlet too, by elbows of 45,
    and into a wye without one; for some ten machines."""
    alternatives: int
    """How many layouts are answered, at most."""
    from_below: bool
    """Whether a riser may enter the run above it from below; else it does from the side."""
    allowance: Quantity | None
    """Sized for the pressure of so much more air than the design flows. Left out: none, and with a fan as much as
    keeps open hoods at theirs while shut gates leak."""
    rules: LayoutRules | Document
    limits: RuleLimits | Document
    drawings: Sequence[Literal["plan"]]
    """Of each layout, and all beside one another."""
    effort: int
    """Times the usual work after which the search stops and tells its gap. The usual is some 8 s at most on two
    cores and the same everywhere; up to 3 fits a line of a batch, more the command by itself."""
    name: str | None
    """The caller's name; answered back."""
    air: Air | Document | None
    dust: str | None
    """A word of the catalogue."""
    duct: str | None
    """A word of the catalogue. The stiff duct's construction. Left out: the usual one."""
    model: Model | Document


class AirQuestion(Protocol):
    """`GET /v1/air`."""

    @overload
    def __call__(self, request: AirRequest | Document, /) -> AirAnswer: ...
    @overload
    def __call__(self, **words: Unpack[AirWords]) -> AirAnswer: ...
    @overload
    def reply(self, request: AirRequest | Document, /) -> Reply[AirAnswer]: ...
    @overload
    def reply(self, **words: Unpack[AirWords]) -> Reply[AirAnswer]: ...


class AsyncAirQuestion(Protocol):
    """`GET /v1/air`, to be awaited."""

    @overload
    async def __call__(self, request: AirRequest | Document, /) -> AirAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[AirWords]) -> AirAnswer: ...
    @overload
    async def reply(self, request: AirRequest | Document, /) -> Reply[AirAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[AirWords]) -> Reply[AirAnswer]: ...


class FrictionLossQuestion(Protocol):
    """`GET /v1/friction-loss`."""

    @overload
    def __call__(self, request: FrictionLossRequest | Document, /) -> FrictionLossAnswer: ...
    @overload
    def __call__(self, **words: Unpack[FrictionLossWords]) -> FrictionLossAnswer: ...
    @overload
    def reply(self, request: FrictionLossRequest | Document, /) -> Reply[FrictionLossAnswer]: ...
    @overload
    def reply(self, **words: Unpack[FrictionLossWords]) -> Reply[FrictionLossAnswer]: ...


class AsyncFrictionLossQuestion(Protocol):
    """`GET /v1/friction-loss`, to be awaited."""

    @overload
    async def __call__(self, request: FrictionLossRequest | Document, /) -> FrictionLossAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[FrictionLossWords]) -> FrictionLossAnswer: ...
    @overload
    async def reply(self, request: FrictionLossRequest | Document, /) -> Reply[FrictionLossAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[FrictionLossWords]) -> Reply[FrictionLossAnswer]: ...


class VelocityCheckQuestion(Protocol):
    """`GET /v1/velocity-check`."""

    @overload
    def __call__(self, request: VelocityCheckRequest | Document, /) -> VelocityCheckAnswer: ...
    @overload
    def __call__(self, **words: Unpack[VelocityCheckWords]) -> VelocityCheckAnswer: ...
    @overload
    def reply(self, request: VelocityCheckRequest | Document, /) -> Reply[VelocityCheckAnswer]: ...
    @overload
    def reply(self, **words: Unpack[VelocityCheckWords]) -> Reply[VelocityCheckAnswer]: ...


class AsyncVelocityCheckQuestion(Protocol):
    """`GET /v1/velocity-check`, to be awaited."""

    @overload
    async def __call__(self, request: VelocityCheckRequest | Document, /) -> VelocityCheckAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[VelocityCheckWords]) -> VelocityCheckAnswer: ...
    @overload
    async def reply(self, request: VelocityCheckRequest | Document, /) -> Reply[VelocityCheckAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[VelocityCheckWords]) -> Reply[VelocityCheckAnswer]: ...


class FittingsQuestion(Protocol):
    """`GET /v1/fittings`."""

    @overload
    def __call__(self, request: CatalogueRequest | Document, /) -> FittingsAnswer: ...
    @overload
    def __call__(self, **words: Unpack[CatalogueWords]) -> FittingsAnswer: ...
    @overload
    def reply(self, request: CatalogueRequest | Document, /) -> Reply[FittingsAnswer]: ...
    @overload
    def reply(self, **words: Unpack[CatalogueWords]) -> Reply[FittingsAnswer]: ...


class AsyncFittingsQuestion(Protocol):
    """`GET /v1/fittings`, to be awaited."""

    @overload
    async def __call__(self, request: CatalogueRequest | Document, /) -> FittingsAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[CatalogueWords]) -> FittingsAnswer: ...
    @overload
    async def reply(self, request: CatalogueRequest | Document, /) -> Reply[FittingsAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[CatalogueWords]) -> Reply[FittingsAnswer]: ...


class FittingQuestion(Protocol):
    """`GET /v1/fittings/{type}`."""

    @overload
    def __call__(self, type: str, request: CatalogueRequest | Document, /) -> FittingAnswer: ...
    @overload
    def __call__(self, type: str, /, **words: Unpack[CatalogueWords]) -> FittingAnswer: ...
    @overload
    def reply(self, type: str, request: CatalogueRequest | Document, /) -> Reply[FittingAnswer]: ...
    @overload
    def reply(self, type: str, /, **words: Unpack[CatalogueWords]) -> Reply[FittingAnswer]: ...


class AsyncFittingQuestion(Protocol):
    """`GET /v1/fittings/{type}`, to be awaited."""

    @overload
    async def __call__(self, type: str, request: CatalogueRequest | Document, /) -> FittingAnswer: ...
    @overload
    async def __call__(self, type: str, /, **words: Unpack[CatalogueWords]) -> FittingAnswer: ...
    @overload
    async def reply(self, type: str, request: CatalogueRequest | Document, /) -> Reply[FittingAnswer]: ...
    @overload
    async def reply(self, type: str, /, **words: Unpack[CatalogueWords]) -> Reply[FittingAnswer]: ...


class FittingLossQuestion(Protocol):
    """`GET /v1/fittings/{type}/loss`."""

    @overload
    def __call__(self, type: str, request: FittingLossRequest | Document, /) -> FittingLossAnswer: ...
    @overload
    def __call__(self, type: str, /, **words: Unpack[FittingLossWords]) -> FittingLossAnswer: ...
    @overload
    def reply(self, type: str, request: FittingLossRequest | Document, /) -> Reply[FittingLossAnswer]: ...
    @overload
    def reply(self, type: str, /, **words: Unpack[FittingLossWords]) -> Reply[FittingLossAnswer]: ...


class AsyncFittingLossQuestion(Protocol):
    """`GET /v1/fittings/{type}/loss`, to be awaited."""

    @overload
    async def __call__(self, type: str, request: FittingLossRequest | Document, /) -> FittingLossAnswer: ...
    @overload
    async def __call__(self, type: str, /, **words: Unpack[FittingLossWords]) -> FittingLossAnswer: ...
    @overload
    async def reply(self, type: str, request: FittingLossRequest | Document, /) -> Reply[FittingLossAnswer]: ...
    @overload
    async def reply(self, type: str, /, **words: Unpack[FittingLossWords]) -> Reply[FittingLossAnswer]: ...


class DuctsQuestion(Protocol):
    """`GET /v1/ducts`."""

    @overload
    def __call__(self, request: CatalogueRequest | Document, /) -> DuctsAnswer: ...
    @overload
    def __call__(self, **words: Unpack[CatalogueWords]) -> DuctsAnswer: ...
    @overload
    def reply(self, request: CatalogueRequest | Document, /) -> Reply[DuctsAnswer]: ...
    @overload
    def reply(self, **words: Unpack[CatalogueWords]) -> Reply[DuctsAnswer]: ...


class AsyncDuctsQuestion(Protocol):
    """`GET /v1/ducts`, to be awaited."""

    @overload
    async def __call__(self, request: CatalogueRequest | Document, /) -> DuctsAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[CatalogueWords]) -> DuctsAnswer: ...
    @overload
    async def reply(self, request: CatalogueRequest | Document, /) -> Reply[DuctsAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[CatalogueWords]) -> Reply[DuctsAnswer]: ...


class DustsQuestion(Protocol):
    """`GET /v1/dusts`."""

    @overload
    def __call__(self, request: CatalogueRequest | Document, /) -> DustsAnswer: ...
    @overload
    def __call__(self, **words: Unpack[CatalogueWords]) -> DustsAnswer: ...
    @overload
    def reply(self, request: CatalogueRequest | Document, /) -> Reply[DustsAnswer]: ...
    @overload
    def reply(self, **words: Unpack[CatalogueWords]) -> Reply[DustsAnswer]: ...


class AsyncDustsQuestion(Protocol):
    """`GET /v1/dusts`, to be awaited."""

    @overload
    async def __call__(self, request: CatalogueRequest | Document, /) -> DustsAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[CatalogueWords]) -> DustsAnswer: ...
    @overload
    async def reply(self, request: CatalogueRequest | Document, /) -> Reply[DustsAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[CatalogueWords]) -> Reply[DustsAnswer]: ...


class HoodsQuestion(Protocol):
    """`GET /v1/hoods`."""

    @overload
    def __call__(self, request: CatalogueRequest | Document, /) -> HoodsAnswer: ...
    @overload
    def __call__(self, **words: Unpack[CatalogueWords]) -> HoodsAnswer: ...
    @overload
    def reply(self, request: CatalogueRequest | Document, /) -> Reply[HoodsAnswer]: ...
    @overload
    def reply(self, **words: Unpack[CatalogueWords]) -> Reply[HoodsAnswer]: ...


class AsyncHoodsQuestion(Protocol):
    """`GET /v1/hoods`, to be awaited."""

    @overload
    async def __call__(self, request: CatalogueRequest | Document, /) -> HoodsAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[CatalogueWords]) -> HoodsAnswer: ...
    @overload
    async def reply(self, request: CatalogueRequest | Document, /) -> Reply[HoodsAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[CatalogueWords]) -> Reply[HoodsAnswer]: ...


class SourcesQuestion(Protocol):
    """`GET /v1/sources`."""

    @overload
    def __call__(self, request: CatalogueRequest | Document, /) -> SourcesAnswer: ...
    @overload
    def __call__(self, **words: Unpack[CatalogueWords]) -> SourcesAnswer: ...
    @overload
    def reply(self, request: CatalogueRequest | Document, /) -> Reply[SourcesAnswer]: ...
    @overload
    def reply(self, **words: Unpack[CatalogueWords]) -> Reply[SourcesAnswer]: ...


class AsyncSourcesQuestion(Protocol):
    """`GET /v1/sources`, to be awaited."""

    @overload
    async def __call__(self, request: CatalogueRequest | Document, /) -> SourcesAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[CatalogueWords]) -> SourcesAnswer: ...
    @overload
    async def reply(self, request: CatalogueRequest | Document, /) -> Reply[SourcesAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[CatalogueWords]) -> Reply[SourcesAnswer]: ...


class BalanceQuestion(Protocol):
    """`POST /v1/trees/balance`."""

    @overload
    def __call__(self, request: BalanceRequest | Document, /) -> BalanceAnswer: ...
    @overload
    def __call__(self, **words: Unpack[BalanceWords]) -> BalanceAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[BalanceOwnWords]) -> BalanceAnswer: ...
    @overload
    def reply(self, request: BalanceRequest | Document, /) -> Reply[BalanceAnswer]: ...
    @overload
    def reply(self, **words: Unpack[BalanceWords]) -> Reply[BalanceAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[BalanceOwnWords]) -> Reply[BalanceAnswer]: ...


class AsyncBalanceQuestion(Protocol):
    """`POST /v1/trees/balance`, to be awaited."""

    @overload
    async def __call__(self, request: BalanceRequest | Document, /) -> BalanceAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[BalanceWords]) -> BalanceAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[BalanceOwnWords]) -> BalanceAnswer: ...
    @overload
    async def reply(self, request: BalanceRequest | Document, /) -> Reply[BalanceAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[BalanceWords]) -> Reply[BalanceAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[BalanceOwnWords]) -> Reply[BalanceAnswer]: ...


class OperatingPointQuestion(Protocol):
    """`POST /v1/trees/operating-point`."""

    @overload
    def __call__(self, request: OperatingPointRequest | Document, /) -> OperatingPointAnswer: ...
    @overload
    def __call__(self, **words: Unpack[OperatingPointWords]) -> OperatingPointAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[OperatingPointOwnWords]) -> OperatingPointAnswer: ...
    @overload
    def reply(self, request: OperatingPointRequest | Document, /) -> Reply[OperatingPointAnswer]: ...
    @overload
    def reply(self, **words: Unpack[OperatingPointWords]) -> Reply[OperatingPointAnswer]: ...
    @overload
    def reply(
        self, tree: Tree | Document, /, **words: Unpack[OperatingPointOwnWords]
    ) -> Reply[OperatingPointAnswer]: ...


class AsyncOperatingPointQuestion(Protocol):
    """`POST /v1/trees/operating-point`, to be awaited."""

    @overload
    async def __call__(self, request: OperatingPointRequest | Document, /) -> OperatingPointAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[OperatingPointWords]) -> OperatingPointAnswer: ...
    @overload
    async def __call__(
        self, tree: Tree | Document, /, **words: Unpack[OperatingPointOwnWords]
    ) -> OperatingPointAnswer: ...
    @overload
    async def reply(self, request: OperatingPointRequest | Document, /) -> Reply[OperatingPointAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[OperatingPointWords]) -> Reply[OperatingPointAnswer]: ...
    @overload
    async def reply(
        self, tree: Tree | Document, /, **words: Unpack[OperatingPointOwnWords]
    ) -> Reply[OperatingPointAnswer]: ...


class WorkingDayQuestion(Protocol):
    """`POST /v1/trees/working-day`."""

    @overload
    def __call__(self, request: WorkingDayRequest | Document, /) -> WorkingDayAnswer: ...
    @overload
    def __call__(self, **words: Unpack[WorkingDayWords]) -> WorkingDayAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[WorkingDayOwnWords]) -> WorkingDayAnswer: ...
    @overload
    def reply(self, request: WorkingDayRequest | Document, /) -> Reply[WorkingDayAnswer]: ...
    @overload
    def reply(self, **words: Unpack[WorkingDayWords]) -> Reply[WorkingDayAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[WorkingDayOwnWords]) -> Reply[WorkingDayAnswer]: ...


class AsyncWorkingDayQuestion(Protocol):
    """`POST /v1/trees/working-day`, to be awaited."""

    @overload
    async def __call__(self, request: WorkingDayRequest | Document, /) -> WorkingDayAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[WorkingDayWords]) -> WorkingDayAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[WorkingDayOwnWords]) -> WorkingDayAnswer: ...
    @overload
    async def reply(self, request: WorkingDayRequest | Document, /) -> Reply[WorkingDayAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[WorkingDayWords]) -> Reply[WorkingDayAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[WorkingDayOwnWords]) -> Reply[WorkingDayAnswer]: ...


class GateStatesQuestion(Protocol):
    """`POST /v1/trees/gate-states`."""

    @overload
    def __call__(self, request: GateStatesRequest | Document, /) -> GateStatesAnswer: ...
    @overload
    def __call__(self, **words: Unpack[GateStatesWords]) -> GateStatesAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[GateStatesOwnWords]) -> GateStatesAnswer: ...
    @overload
    def reply(self, request: GateStatesRequest | Document, /) -> Reply[GateStatesAnswer]: ...
    @overload
    def reply(self, **words: Unpack[GateStatesWords]) -> Reply[GateStatesAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[GateStatesOwnWords]) -> Reply[GateStatesAnswer]: ...


class AsyncGateStatesQuestion(Protocol):
    """`POST /v1/trees/gate-states`, to be awaited."""

    @overload
    async def __call__(self, request: GateStatesRequest | Document, /) -> GateStatesAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[GateStatesWords]) -> GateStatesAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[GateStatesOwnWords]) -> GateStatesAnswer: ...
    @overload
    async def reply(self, request: GateStatesRequest | Document, /) -> Reply[GateStatesAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[GateStatesWords]) -> Reply[GateStatesAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[GateStatesOwnWords]) -> Reply[GateStatesAnswer]: ...


class DrawingQuestion(Protocol):
    """`POST /v1/trees/drawing`."""

    @overload
    def __call__(self, request: DrawingRequest | Document, /) -> DrawingAnswer: ...
    @overload
    def __call__(self, **words: Unpack[DrawingWords]) -> DrawingAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[DrawingOwnWords]) -> DrawingAnswer: ...
    @overload
    def reply(self, request: DrawingRequest | Document, /) -> Reply[DrawingAnswer]: ...
    @overload
    def reply(self, **words: Unpack[DrawingWords]) -> Reply[DrawingAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[DrawingOwnWords]) -> Reply[DrawingAnswer]: ...


class AsyncDrawingQuestion(Protocol):
    """`POST /v1/trees/drawing`, to be awaited."""

    @overload
    async def __call__(self, request: DrawingRequest | Document, /) -> DrawingAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[DrawingWords]) -> DrawingAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[DrawingOwnWords]) -> DrawingAnswer: ...
    @overload
    async def reply(self, request: DrawingRequest | Document, /) -> Reply[DrawingAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[DrawingWords]) -> Reply[DrawingAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[DrawingOwnWords]) -> Reply[DrawingAnswer]: ...


class SizingQuestion(Protocol):
    """`POST /v1/trees/sizing`."""

    @overload
    def __call__(self, request: SizingRequest | Document, /) -> SizingAnswer: ...
    @overload
    def __call__(self, **words: Unpack[SizingWords]) -> SizingAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[SizingOwnWords]) -> SizingAnswer: ...
    @overload
    def reply(self, request: SizingRequest | Document, /) -> Reply[SizingAnswer]: ...
    @overload
    def reply(self, **words: Unpack[SizingWords]) -> Reply[SizingAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[SizingOwnWords]) -> Reply[SizingAnswer]: ...


class AsyncSizingQuestion(Protocol):
    """`POST /v1/trees/sizing`, to be awaited."""

    @overload
    async def __call__(self, request: SizingRequest | Document, /) -> SizingAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[SizingWords]) -> SizingAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[SizingOwnWords]) -> SizingAnswer: ...
    @overload
    async def reply(self, request: SizingRequest | Document, /) -> Reply[SizingAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[SizingWords]) -> Reply[SizingAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[SizingOwnWords]) -> Reply[SizingAnswer]: ...


class StrengthQuestion(Protocol):
    """`POST /v1/trees/strength`."""

    @overload
    def __call__(self, request: StrengthRequest | Document, /) -> StrengthAnswer: ...
    @overload
    def __call__(self, **words: Unpack[StrengthWords]) -> StrengthAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[StrengthOwnWords]) -> StrengthAnswer: ...
    @overload
    def reply(self, request: StrengthRequest | Document, /) -> Reply[StrengthAnswer]: ...
    @overload
    def reply(self, **words: Unpack[StrengthWords]) -> Reply[StrengthAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[StrengthOwnWords]) -> Reply[StrengthAnswer]: ...


class AsyncStrengthQuestion(Protocol):
    """`POST /v1/trees/strength`, to be awaited."""

    @overload
    async def __call__(self, request: StrengthRequest | Document, /) -> StrengthAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[StrengthWords]) -> StrengthAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[StrengthOwnWords]) -> StrengthAnswer: ...
    @overload
    async def reply(self, request: StrengthRequest | Document, /) -> Reply[StrengthAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[StrengthWords]) -> Reply[StrengthAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[StrengthOwnWords]) -> Reply[StrengthAnswer]: ...


class MakeUpAirQuestion(Protocol):
    """`POST /v1/trees/make-up-air`."""

    @overload
    def __call__(self, request: MakeUpAirRequest | Document, /) -> MakeUpAirAnswer: ...
    @overload
    def __call__(self, **words: Unpack[MakeUpAirWords]) -> MakeUpAirAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[MakeUpAirOwnWords]) -> MakeUpAirAnswer: ...
    @overload
    def reply(self, request: MakeUpAirRequest | Document, /) -> Reply[MakeUpAirAnswer]: ...
    @overload
    def reply(self, **words: Unpack[MakeUpAirWords]) -> Reply[MakeUpAirAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[MakeUpAirOwnWords]) -> Reply[MakeUpAirAnswer]: ...


class AsyncMakeUpAirQuestion(Protocol):
    """`POST /v1/trees/make-up-air`, to be awaited."""

    @overload
    async def __call__(self, request: MakeUpAirRequest | Document, /) -> MakeUpAirAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[MakeUpAirWords]) -> MakeUpAirAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[MakeUpAirOwnWords]) -> MakeUpAirAnswer: ...
    @overload
    async def reply(self, request: MakeUpAirRequest | Document, /) -> Reply[MakeUpAirAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[MakeUpAirWords]) -> Reply[MakeUpAirAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[MakeUpAirOwnWords]) -> Reply[MakeUpAirAnswer]: ...


class TraverseQuestion(Protocol):
    """`POST /v1/measurements/traverse`."""

    @overload
    def __call__(self, request: TraverseRequest | Document, /) -> TraverseAnswer: ...
    @overload
    def __call__(self, **words: Unpack[TraverseWords]) -> TraverseAnswer: ...
    @overload
    def reply(self, request: TraverseRequest | Document, /) -> Reply[TraverseAnswer]: ...
    @overload
    def reply(self, **words: Unpack[TraverseWords]) -> Reply[TraverseAnswer]: ...


class AsyncTraverseQuestion(Protocol):
    """`POST /v1/measurements/traverse`, to be awaited."""

    @overload
    async def __call__(self, request: TraverseRequest | Document, /) -> TraverseAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[TraverseWords]) -> TraverseAnswer: ...
    @overload
    async def reply(self, request: TraverseRequest | Document, /) -> Reply[TraverseAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[TraverseWords]) -> Reply[TraverseAnswer]: ...


class HoodStaticPressureQuestion(Protocol):
    """`POST /v1/measurements/hood-static-pressure`."""

    @overload
    def __call__(self, request: HoodStaticPressureRequest | Document, /) -> HoodStaticPressureAnswer: ...
    @overload
    def __call__(self, **words: Unpack[HoodStaticPressureWords]) -> HoodStaticPressureAnswer: ...
    @overload
    def reply(self, request: HoodStaticPressureRequest | Document, /) -> Reply[HoodStaticPressureAnswer]: ...
    @overload
    def reply(self, **words: Unpack[HoodStaticPressureWords]) -> Reply[HoodStaticPressureAnswer]: ...


class AsyncHoodStaticPressureQuestion(Protocol):
    """`POST /v1/measurements/hood-static-pressure`, to be awaited."""

    @overload
    async def __call__(self, request: HoodStaticPressureRequest | Document, /) -> HoodStaticPressureAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[HoodStaticPressureWords]) -> HoodStaticPressureAnswer: ...
    @overload
    async def reply(self, request: HoodStaticPressureRequest | Document, /) -> Reply[HoodStaticPressureAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[HoodStaticPressureWords]) -> Reply[HoodStaticPressureAnswer]: ...


class PartsListQuestion(Protocol):
    """`POST /v1/trees/parts-list`."""

    @overload
    def __call__(self, request: PartsListRequest | Document, /) -> PartsListAnswer: ...
    @overload
    def __call__(self, **words: Unpack[PartsListWords]) -> PartsListAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[PartsListOwnWords]) -> PartsListAnswer: ...
    @overload
    def reply(self, request: PartsListRequest | Document, /) -> Reply[PartsListAnswer]: ...
    @overload
    def reply(self, **words: Unpack[PartsListWords]) -> Reply[PartsListAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[PartsListOwnWords]) -> Reply[PartsListAnswer]: ...


class AsyncPartsListQuestion(Protocol):
    """`POST /v1/trees/parts-list`, to be awaited."""

    @overload
    async def __call__(self, request: PartsListRequest | Document, /) -> PartsListAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[PartsListWords]) -> PartsListAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[PartsListOwnWords]) -> PartsListAnswer: ...
    @overload
    async def reply(self, request: PartsListRequest | Document, /) -> Reply[PartsListAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[PartsListWords]) -> Reply[PartsListAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[PartsListOwnWords]) -> Reply[PartsListAnswer]: ...


class QuoteQuestion(Protocol):
    """`POST /v1/quotes`."""

    @overload
    def __call__(self, request: QuoteRequest | Document, /) -> QuoteAnswer: ...
    @overload
    def __call__(self, **words: Unpack[QuoteWords]) -> QuoteAnswer: ...
    @overload
    def reply(self, request: QuoteRequest | Document, /) -> Reply[QuoteAnswer]: ...
    @overload
    def reply(self, **words: Unpack[QuoteWords]) -> Reply[QuoteAnswer]: ...


class AsyncQuoteQuestion(Protocol):
    """`POST /v1/quotes`, to be awaited."""

    @overload
    async def __call__(self, request: QuoteRequest | Document, /) -> QuoteAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[QuoteWords]) -> QuoteAnswer: ...
    @overload
    async def reply(self, request: QuoteRequest | Document, /) -> Reply[QuoteAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[QuoteWords]) -> Reply[QuoteAnswer]: ...


class DiagnosisQuestion(Protocol):
    """`POST /v1/trees/diagnosis`."""

    @overload
    def __call__(self, request: DiagnosisRequest | Document, /) -> DiagnosisAnswer: ...
    @overload
    def __call__(self, **words: Unpack[DiagnosisWords]) -> DiagnosisAnswer: ...
    @overload
    def __call__(self, tree: Tree | Document, /, **words: Unpack[DiagnosisOwnWords]) -> DiagnosisAnswer: ...
    @overload
    def reply(self, request: DiagnosisRequest | Document, /) -> Reply[DiagnosisAnswer]: ...
    @overload
    def reply(self, **words: Unpack[DiagnosisWords]) -> Reply[DiagnosisAnswer]: ...
    @overload
    def reply(self, tree: Tree | Document, /, **words: Unpack[DiagnosisOwnWords]) -> Reply[DiagnosisAnswer]: ...


class AsyncDiagnosisQuestion(Protocol):
    """`POST /v1/trees/diagnosis`, to be awaited."""

    @overload
    async def __call__(self, request: DiagnosisRequest | Document, /) -> DiagnosisAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[DiagnosisWords]) -> DiagnosisAnswer: ...
    @overload
    async def __call__(self, tree: Tree | Document, /, **words: Unpack[DiagnosisOwnWords]) -> DiagnosisAnswer: ...
    @overload
    async def reply(self, request: DiagnosisRequest | Document, /) -> Reply[DiagnosisAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[DiagnosisWords]) -> Reply[DiagnosisAnswer]: ...
    @overload
    async def reply(self, tree: Tree | Document, /, **words: Unpack[DiagnosisOwnWords]) -> Reply[DiagnosisAnswer]: ...


class CompareQuestion(Protocol):
    """`POST /v1/trees/compare`."""

    @overload
    def __call__(self, request: CompareRequest | Document, /) -> CompareAnswer: ...
    @overload
    def __call__(self, **words: Unpack[CompareWords]) -> CompareAnswer: ...
    @overload
    def reply(self, request: CompareRequest | Document, /) -> Reply[CompareAnswer]: ...
    @overload
    def reply(self, **words: Unpack[CompareWords]) -> Reply[CompareAnswer]: ...


class AsyncCompareQuestion(Protocol):
    """`POST /v1/trees/compare`, to be awaited."""

    @overload
    async def __call__(self, request: CompareRequest | Document, /) -> CompareAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[CompareWords]) -> CompareAnswer: ...
    @overload
    async def reply(self, request: CompareRequest | Document, /) -> Reply[CompareAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[CompareWords]) -> Reply[CompareAnswer]: ...


class VariantsQuestion(Protocol):
    """`POST /v1/trees/variants`."""

    @overload
    def __call__(self, request: VariantsRequest | Document, /) -> VariantsAnswer: ...
    @overload
    def __call__(self, **words: Unpack[VariantsWords]) -> VariantsAnswer: ...
    @overload
    def reply(self, request: VariantsRequest | Document, /) -> Reply[VariantsAnswer]: ...
    @overload
    def reply(self, **words: Unpack[VariantsWords]) -> Reply[VariantsAnswer]: ...


class AsyncVariantsQuestion(Protocol):
    """`POST /v1/trees/variants`, to be awaited."""

    @overload
    async def __call__(self, request: VariantsRequest | Document, /) -> VariantsAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[VariantsWords]) -> VariantsAnswer: ...
    @overload
    async def reply(self, request: VariantsRequest | Document, /) -> Reply[VariantsAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[VariantsWords]) -> Reply[VariantsAnswer]: ...


class OutlineQuestion(Protocol):
    """`POST /v1/outlines/tree`."""

    @overload
    def __call__(self, request: OutlineRequest | Document, /) -> OutlineAnswer: ...
    @overload
    def __call__(self, **words: Unpack[OutlineWords]) -> OutlineAnswer: ...
    @overload
    def reply(self, request: OutlineRequest | Document, /) -> Reply[OutlineAnswer]: ...
    @overload
    def reply(self, **words: Unpack[OutlineWords]) -> Reply[OutlineAnswer]: ...


class AsyncOutlineQuestion(Protocol):
    """`POST /v1/outlines/tree`, to be awaited."""

    @overload
    async def __call__(self, request: OutlineRequest | Document, /) -> OutlineAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[OutlineWords]) -> OutlineAnswer: ...
    @overload
    async def reply(self, request: OutlineRequest | Document, /) -> Reply[OutlineAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[OutlineWords]) -> Reply[OutlineAnswer]: ...


class OutlineTemplateQuestion(Protocol):
    """`GET /v1/outlines/template`."""

    @overload
    def __call__(self, request: OutlineTemplateRequest | Document, /) -> OutlineTemplateAnswer: ...
    @overload
    def __call__(self, **words: Unpack[OutlineTemplateWords]) -> OutlineTemplateAnswer: ...
    @overload
    def reply(self, request: OutlineTemplateRequest | Document, /) -> Reply[OutlineTemplateAnswer]: ...
    @overload
    def reply(self, **words: Unpack[OutlineTemplateWords]) -> Reply[OutlineTemplateAnswer]: ...


class AsyncOutlineTemplateQuestion(Protocol):
    """`GET /v1/outlines/template`, to be awaited."""

    @overload
    async def __call__(self, request: OutlineTemplateRequest | Document, /) -> OutlineTemplateAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[OutlineTemplateWords]) -> OutlineTemplateAnswer: ...
    @overload
    async def reply(self, request: OutlineTemplateRequest | Document, /) -> Reply[OutlineTemplateAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[OutlineTemplateWords]) -> Reply[OutlineTemplateAnswer]: ...


class LayoutQuestion(Protocol):
    """`POST /v1/outlines/layout`."""

    @overload
    def __call__(self, request: LayoutRequest | Document, /) -> LayoutAnswer: ...
    @overload
    def __call__(self, **words: Unpack[LayoutWords]) -> LayoutAnswer: ...
    @overload
    def reply(self, request: LayoutRequest | Document, /) -> Reply[LayoutAnswer]: ...
    @overload
    def reply(self, **words: Unpack[LayoutWords]) -> Reply[LayoutAnswer]: ...


class AsyncLayoutQuestion(Protocol):
    """`POST /v1/outlines/layout`, to be awaited."""

    @overload
    async def __call__(self, request: LayoutRequest | Document, /) -> LayoutAnswer: ...
    @overload
    async def __call__(self, **words: Unpack[LayoutWords]) -> LayoutAnswer: ...
    @overload
    async def reply(self, request: LayoutRequest | Document, /) -> Reply[LayoutAnswer]: ...
    @overload
    async def reply(self, **words: Unpack[LayoutWords]) -> Reply[LayoutAnswer]: ...


class Questions:
    """Every question as a method."""

    air: AirQuestion
    friction_loss: FrictionLossQuestion
    velocity_check: VelocityCheckQuestion
    fittings: FittingsQuestion
    fitting: FittingQuestion
    fitting_loss: FittingLossQuestion
    ducts: DuctsQuestion
    dusts: DustsQuestion
    hoods: HoodsQuestion
    sources: SourcesQuestion
    balance: BalanceQuestion
    operating_point: OperatingPointQuestion
    working_day: WorkingDayQuestion
    gate_states: GateStatesQuestion
    drawing: DrawingQuestion
    sizing: SizingQuestion
    strength: StrengthQuestion
    make_up_air: MakeUpAirQuestion
    traverse: TraverseQuestion
    hood_static_pressure: HoodStaticPressureQuestion
    parts_list: PartsListQuestion
    quote: QuoteQuestion
    diagnosis: DiagnosisQuestion
    compare: CompareQuestion
    variants: VariantsQuestion
    outline: OutlineQuestion
    outline_template: OutlineTemplateQuestion
    layout: LayoutQuestion


class AsyncQuestions:
    """Every question as a method to be awaited."""

    air: AsyncAirQuestion
    friction_loss: AsyncFrictionLossQuestion
    velocity_check: AsyncVelocityCheckQuestion
    fittings: AsyncFittingsQuestion
    fitting: AsyncFittingQuestion
    fitting_loss: AsyncFittingLossQuestion
    ducts: AsyncDuctsQuestion
    dusts: AsyncDustsQuestion
    hoods: AsyncHoodsQuestion
    sources: AsyncSourcesQuestion
    balance: AsyncBalanceQuestion
    operating_point: AsyncOperatingPointQuestion
    working_day: AsyncWorkingDayQuestion
    gate_states: AsyncGateStatesQuestion
    drawing: AsyncDrawingQuestion
    sizing: AsyncSizingQuestion
    strength: AsyncStrengthQuestion
    make_up_air: AsyncMakeUpAirQuestion
    traverse: AsyncTraverseQuestion
    hood_static_pressure: AsyncHoodStaticPressureQuestion
    parts_list: AsyncPartsListQuestion
    quote: AsyncQuoteQuestion
    diagnosis: AsyncDiagnosisQuestion
    compare: AsyncCompareQuestion
    variants: AsyncVariantsQuestion
    outline: AsyncOutlineQuestion
    outline_template: AsyncOutlineTemplateQuestion
    layout: AsyncLayoutQuestion
