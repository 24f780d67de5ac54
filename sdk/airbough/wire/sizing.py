"""POST /v1/trees/sizing: the diameters of a tree, chosen from what the caller can buy."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.answer import (
    MostStarvedHood,
    TreeAnswer,
    WholeSystem,
)
from airbough.wire.base import (
    Asked,
    Id,
    Told,
    nothing,
    yes,
)
from airbough.wire.quantity import (
    Diameter,
    DiameterResult,
    FlowAboveZero,
    FlowResult,
    LengthResult,
    PressureFromZero,
    PressureResult,
    VelocityAboveZero,
    VelocityResult,
)
from airbough.wire.state import NamedState
from airbough.wire.stock import MoneyEach, MoneyResult, Stock
from airbough.wire.tree import Tree

Weight: TypeAlias = Annotated[
    Literal["must", "prefer", "off"] | None,
    Meta(
        description="`must`: no choice without it. `prefer`: before all that is left out. Left out: the trade's, kept "
        "where it can be. `off`: neither followed nor judged."
    ),
]
Objective: TypeAlias = Literal["cost", "fan-pressure"]


class SizingState(NamedState, kw_only=True):
    """A named state of the gates, and design flows where they are not the hoods' own."""

    flows: (
        Annotated[
            dict[Id, FlowAboveZero],
            Meta(max_length=1000, description="Run id of a hood: its design flow in this state."),
        ]
        | None
    ) = None


class SizingRules(Asked, kw_only=True):
    """What the tree must keep, or had better keep.

    Where not every rule left out can be kept, they are given up in this order: upper velocity, narrowing, transport
    in a state that another state clears, other transport, then design flow and pressure. None refuses an answer. A
    place of these counts once for each tenth of its limit begun by which it is missed, ten times at most.
    """

    transport_velocity: Annotated[Weight, Meta(description="No run slower than its dust needs, in every state.")] = None
    design_flow: Annotated[
        Weight,
        Meta(description="No open hood below its design flow, in every state: by gates, or at what the fan moves."),
    ] = None
    upper_velocity: Annotated[Weight, Meta(description="No run faster than its purpose needs, in every state.")] = None
    no_narrowing: Annotated[Weight, Meta(description="No run narrower than one that flows into it.")] = None
    pressure_available: Annotated[
        Weight,
        Meta(description="The fan static pressure needed is there, in every state; with a fan or a limit of its own."),
    ] = None
    meeting_without_gates: Annotated[
        Literal["must", "prefer", "off"] | None,
        Meta(
            description="Runs that meet need the same pressure, within `meeting_tolerance`, in every state. Left out: "
            "not judged."
        ),
    ] = None


class RuleLimits(Asked, kw_only=True):
    """The limits of the rules where they are not those of dust and fan."""

    transport_velocity: Annotated[
        VelocityAboveZero | None, Meta(description="Left out: that of the dusts in the run.")
    ] = None
    upper_velocity: Annotated[VelocityAboveZero | None, Meta(description="Left out: that of the dusts in the run.")] = (
        None
    )
    pressure_available: Annotated[
        PressureFromZero | None,
        Meta(description="Fan static pressure, in any state. Left out: the fan's at that flow."),
    ] = None


class SizingLimits(RuleLimits, kw_only=True):
    """The limits of the rules where they are not those of dust and fan; refused where their rule is not followed."""

    meeting_tolerance: Annotated[
        Annotated[float, Meta(ge=0.0, le=1.0)] | None,
        Meta(description="Share of the governing pressure by which a run that meets it may fall short."),
    ] = None


class SizingRequest(Tree, kw_only=True):
    """A tree whose diameters are sought; each `diameter` of a run that is not fixed is only where the search starts.

    A change of size first or last in such a run keeps its far side, follows the diameter chosen, takes its length from
    the stock, and vanishes where both are one. Between lengths of duct only a fixed run has one.
    """

    stock: Annotated[
        Stock | None,
        Meta(
            description="A run cannot have a diameter in which its duct, fittings or gate are not all listed. Only "
            "where runs meet in a wye that is not, the next size serves with tapers: no inlet narrower than its run, "
            "the fewest tapers, then the narrowest. Of a package each piece costs its share. What has no price counts "
            "as the dearest of its kind. Left out: the catalogue's nominal diameters, without prices."
        ),
    ] = None
    objective: Annotated[Objective, Meta(description="What is least; ties go by the other.")] = "cost"
    rules: SizingRules = SizingRules()
    limits: SizingLimits = SizingLimits()
    flows: Annotated[
        Literal["design", "fan"] | None,
        Meta(
            description="Whether design flows are given, or the fan decides what flows. Left out: a fan given decides."
        ),
    ] = None
    states: Annotated[
        tuple[SizingState, ...],
        Meta(
            max_length=100,
            description="Left out: each machine alone, and all pairs of the sized tree are judged and told; without "
            "gates the document's state. Beyond 20 of them fewer sets of diameters may meet: 3,000,000 sets times "
            "states in all.",
        ),
    ] = ()
    fixed: Annotated[tuple[Id, ...], Meta(max_length=10000, description="Runs that keep their diameter.")] = ()
    trade_sizes: Annotated[
        tuple[Diameter, ...],
        Meta(
            max_length=40,
            description="What to try where the stock allows no choice. Left out: the catalogue's nominal ones.",
        ),
    ] = ()
    frontier_limit: Annotated[
        int, Meta(ge=10, le=20000, description="Labels kept for a run and diameter before the proof is given up.")
    ] = 4000


class SizedPiece(Told, kw_only=True):
    """Pieces of one kind in a run, or where runs flow into it; straight duct has a `length`."""

    type: str
    diameters: Annotated[tuple[DiameterResult, ...], Meta(description="Inlets first, outlet last.")]
    quantity: int | None = None
    length: LengthResult | None = None
    angle: float | None = None
    fitting_length: DiameterResult | None = None
    price_each: Annotated[
        MoneyEach | None, Meta(description="Of one; out of a package its share. Left out for duct.")
    ] = None
    price: Annotated[MoneyResult | None, Meta(description="Left out: the stock has none for it.")] = None
    item: Annotated[str | None, Meta(description="The stock entry's item.")] = None
    at: Annotated[str | None, Meta(description="Path of the stock entry.")] = None


class RunAtState(Told, kw_only=True):
    """A run in one state."""

    state: str
    flow: FlowResult
    velocity: VelocityResult


class SizedRun(Told, kw_only=True):
    """A run with its diameter; the pieces of the junction at its upstream end are among its own.

    Where the stock has no wye of a size, one of the next size stands in `document` as a run of no length that the tree
    has gained, `main-wye` before `main`; branches may change size before it.
    """

    run: str
    diameter: Annotated[DiameterResult, Meta(description="Of its duct; of a fixed run that changes it, the widest.")]
    fixed: bool
    gained: Annotated[bool, Meta(description="Not among the runs asked for.")]
    price: Annotated[MoneyResult, Meta(description="Of its pieces that have one.")]
    pieces: tuple[SizedPiece, ...]
    states: tuple[RunAtState, ...]


class SizedState(Told, kw_only=True):
    """What one state asks of the fan, and what the engine says of the sized tree in it."""

    state: str
    flow: FlowResult
    fan_static_pressure: Annotated[PressureResult, Meta(description="Needed; where the fan decides: what it gives.")]
    leak_allowance: Annotated[
        FlowResult | None,
        Meta(description="Of `flow`, what was allowed for leaks; no more leaks in. Left out where nothing leaks."),
    ] = None
    available: Annotated[PressureResult | None, Meta(description="Left out: not known at this flow.")] = None
    engine_fan_static_pressure: Annotated[
        PressureResult | None, Meta(description="What balance says of the sized tree in this state.")
    ] = None
    operating_point: Annotated[
        str | None,
        Meta(description="Outcome where there is a fan: that of its operating point, gates as in the state."),
    ] = None
    operating_flow: FlowResult | None = None
    most_starved_hood: MostStarvedHood = None
    share_of_design: float | None = None


class BrokenRule(Told, kw_only=True):
    """One place where a rule does not hold."""

    rule: str
    weight: Annotated[
        Literal["must", "prefer", "trade", "judged"],
        Meta(description="`trade`: left out by the caller. `judged`: of a pair, for which nothing was sized."),
    ]
    share: Annotated[
        float | None,
        Meta(
            description="By what share of its limit it is missed; left out where there is no limit to miss. It is of "
            "pressure for `pressure_available`, and for `design_flow` where flows are given (no `run` stands there); "
            "for `design_flow` by the fan it is of air."
        ),
    ] = None
    run: str | None = None
    state: str | None = None


class SizedPair(Told, kw_only=True):
    """Two machines at once in the sized tree: at the fan's operating point, else at their design flows."""

    machines: tuple[str, ...]
    flow: FlowResult
    fan_static_pressure: PressureResult | None = None
    operating_point: str | None = None
    most_starved_hood: MostStarvedHood = None
    share_of_design: float | None = None
    broken: tuple[BrokenRule, ...] = field(default_factory=nothing)


class SizingBound(Told, kw_only=True):
    """What the best choice does not go below, each number for itself."""

    price: Annotated[MoneyResult | None, Meta(description="Left out where not all that was chosen from has a price.")]
    fan_static_pressure: PressureResult
    preferred_broken: int
    relaxation: Annotated[str, Meta(description="What was left out to compute it.")]


class NeededDuty(Told, kw_only=True):
    """What a fan must give in one state."""

    state: str
    flow: FlowResult
    fan_static_pressure: PressureResult


class SizingRemedy(Told, kw_only=True):
    """One way to allow a choice where there is none."""

    drop: Annotated[tuple[str, ...], Meta(description="Rules that are `must` now.")] = field(default_factory=nothing)
    add_diameters: Annotated[tuple[DiameterResult, ...], Meta(description="With all fittings in them.")] = field(
        default_factory=nothing
    )
    add_pieces: Annotated[tuple[SizedPiece, ...], Meta(description="Fittings or gates to stock.")] = field(
        default_factory=nothing
    )
    fan: Annotated[
        tuple[NeededDuty, ...], Meta(description="What another fan must give, at least, so that all rules hold.")
    ] = field(default_factory=nothing)
    broken: Annotated[tuple[BrokenRule, ...], Meta(description="Where the dropped rules then do not hold.")] = field(
        default_factory=nothing
    )
    fewest: Annotated[bool, Meta(description="Whether fewer of its kind were tried and did not do.")] = field(
        default_factory=yes
    )


class SizingAnswer(TreeAnswer, kw_only=True):
    """The diameters, what they cost, and what they ask of the fan; `runs` and `hoods` are of the first state.

    Preferred rules come first: the fewest places, runs and states counted one by one, where one does not hold; then
    those left out, from the last to be given up to the first; then the objective, then the other.
    """

    outcome: Literal["sized", "no-solution"]
    proof: Literal["exact", "gap"]
    objective: Objective
    labels: Annotated[int, Meta(description="Labels kept over all runs and diameters.")]
    work: Annotated[int, Meta(description="Labels made and compared.")]
    sizes: tuple[SizedRun, ...] = field(default_factory=nothing)
    states: tuple[SizedState, ...] = field(default_factory=nothing)
    price: Annotated[
        MoneyResult | None,
        Meta(
            description="Of each stock entry what all runs take, rounded; `sizes`, rounded run by run, may "
            "differ by coins."
        ),
    ] = None
    price_complete: Annotated[
        bool,
        Meta(
            description="False: some piece has no price, or the tree has port adapters or pieces after the fan, which "
            "a parts list prices."
        ),
    ] = field(default_factory=yes)
    currency: str | None = None
    fan_static_pressure: Annotated[PressureResult | None, Meta(description="The greatest of the states.")] = None
    preferred_broken: int | None = None
    broken: tuple[BrokenRule, ...] = field(default_factory=nothing)
    pairs: Annotated[
        tuple[SizedPair, ...], Meta(description="With `states` left out, every two machines, of up to 20.")
    ] = field(default_factory=nothing)
    lower_bound: SizingBound | None = None
    remedies: tuple[SizingRemedy, ...] = field(default_factory=nothing)
    tried: Annotated[str | None, Meta(description="Where there is no choice: what was tried to allow one.")] = None
    document: Annotated[Any, Meta(description="The tree with its diameters filled in and tapers placed.")] = None
    system: Annotated[WholeSystem | None, Meta(description="Left out where `runs` are empty.")] = None
