"""POST /v1/trees/gate-states: many states of the gates at once, the worst of them, and which gates to open as well."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.answer import (
    Advice,
    HoodResult,
    MostStarvedHood,
    RunResult,
    TreeAnswer,
)
from airbough.wire.base import (
    Told,
    nothing,
    yes,
)
from airbough.wire.quantity import (
    CurrentResult,
    FlowResult,
    PowerResult,
    PressureResult,
)
from airbough.wire.state import GateName, NamedState, Openings
from airbough.wire.stock import Stock
from airbough.wire.tree import Tree

MOST_STATES = 50_000

Outcome: TypeAlias = Literal["operating-point", "several-operating-points", "beyond-fan-curve", "no-flow"]


class GateStatesRequest(Tree, kw_only=True):
    """A tree with a fan, and the states: named ones, any up to so many machines at once, or both.

    All gates shut is always examined.
    """

    states: Annotated[tuple[NamedState, ...], Meta(max_length=MOST_STATES)] = ()
    up_to: (
        Annotated[
            int,
            Meta(
                ge=1,
                le=10000,
                description="Every set of up to so many machines at once. A machine is what moves together: the gates "
                "of one `machine_id`, or of one hood. Zone gates, which serve several, stay as the document has them.",
            ),
        ]
        | None
    ) = None
    machines: (
        Annotated[
            tuple[GateName, ...],
            Meta(max_length=10000, description="The machines that `up_to` takes; others stay shut. Left out: all."),
        ]
        | None
    ) = None
    openings: Annotated[
        Openings | None,
        Meta(
            description="Run id -> opening of its gate wherever it is open. Left out: the document's, or full if shut."
        ),
    ] = None
    advice: Annotated[
        bool, Meta(description="Try changes of the shop one by one in the state told, and answer what each gains.")
    ] = False
    stock: Annotated[Stock | None, Meta(description="What can be bought: gives each advised change its price.")] = None
    detail: Annotated[
        Literal["summary", "runs"], Meta(description="`runs` adds every run and hood to each state that is listed.")
    ] = "summary"
    listed: Annotated[
        int,
        Meta(
            ge=0,
            le=MOST_STATES,
            description="Named states are always listed; those of `up_to` only where all states are no more than this.",
        ),
    ] = 1000


class GateFix(Told, kw_only=True):
    """The smallest set of further gates with which every check of a state holds.

    Every run with an open hood upstream, those newly opened too, reaches its transport velocity, and no hood that
    was open before is below its design flow.
    """

    fixes: Annotated[bool, Meta(description="False: no set of gates fixes this, as far as `proven` says.")]
    proven: Annotated[
        bool, Meta(description="Every smaller set was tried; where none fixes, every set there is. Else: greedy.")
    ]
    open: Annotated[tuple[str, ...], Meta(description="The further gates.")] = field(default_factory=nothing)
    tried: Annotated[int, Meta(description="Sets that the engine solved.")]
    transport_margin: Annotated[float | None, Meta(description="After opening them.")] = None
    share_of_design: Annotated[float | None, Meta(description="After opening them.")] = None


class StateBand(Told, kw_only=True):
    """A state for the least and the most that a guessed fan may do."""

    flow_low: FlowResult
    flow_high: FlowResult
    share_of_design_low: Annotated[float | None, Meta(description="The least among open hoods.")] = None
    share_of_design_high: float | None = None
    transport_margin_low: Annotated[float | None, Meta(description="Least velocity over transport velocity.")] = None
    transport_margin_high: float | None = None


class StateResult(Told, kw_only=True):
    """One state of the gates."""

    name: str
    named: Annotated[bool, Meta(description="One of the request's `states`; else all gates shut, or a set of `up_to`.")]
    open: Annotated[
        tuple[str, ...],
        Meta(description="Machines with a hood that no gate of their own shuts, and zone gates that stand open."),
    ]
    outcome: Outcome
    holds: Annotated[bool, Meta(description="Air flows, each judged run carries its dust, no open hood is starved.")]
    flow: Annotated[FlowResult | None, Meta(description="Left out beyond the fan's curve.")] = None
    fan_static_pressure: PressureResult | None = None
    share_of_design: Annotated[float | None, Meta(description="The least among open hoods with a design flow.")] = None
    most_starved_hood: MostStarvedHood = None
    transport_margin: Annotated[
        float | None, Meta(description="Least velocity over transport velocity; below 1 dust settles.")
    ] = None
    least_margin_run: Annotated[str | None, Meta(description="Where the transport margin is least.")] = None
    deepest_suction: Annotated[PressureResult | None, Meta(description="At the downstream end of a run.")] = None
    deepest_run: str | None = None
    shaft_power: PowerResult | None = None
    motor_load: Annotated[float | None, Meta(description="Shaft power over the motor's rated power.")] = None
    motor_current: Annotated[
        CurrentResult | None, Meta(description="In each line, at this shaft power, where the motor's supply is given.")
    ] = None
    findings: Annotated[tuple[str, ...], Meta(description="Codes of the state's own findings.")] = field(
        default_factory=nothing
    )
    band: Annotated[StateBand | None, Meta(description="Where the fan is guessed from a few figures.")] = None
    fix: Annotated[GateFix | None, Meta(description="For the worst states and for named states that fail.")] = None
    runs: tuple[RunResult, ...] = field(default_factory=nothing)
    hoods: tuple[HoodResult, ...] = field(default_factory=nothing)


class WorstStates(Told, kw_only=True):
    """The worst state for each check; left out where nothing was judged."""

    settling: Annotated[StateResult | None, Meta(description="Least margin over transport velocity.")] = None
    starving: Annotated[StateResult | None, Meta(description="Least share of a design flow.")] = None
    suction: Annotated[StateResult | None, Meta(description="Deepest suction.")] = None
    motor_power: Annotated[StateResult | None, Meta(description="Greatest shaft power.")] = None


class GateStatesSystem(Told, kw_only=True):
    """How many states were examined, and how many fail each check."""

    states: Annotated[int, Meta(description="Examined, all gates shut among them.")]
    failing: Annotated[int, Meta(description="In which some check does not hold or nothing flows at a known point.")]
    settling: int
    starving: int
    no_flow: int
    beyond_curve: int
    several_operating_points: int
    motor_overloaded: int
    state: Annotated[
        str,
        Meta(
            description="The state that `runs` and `hoods` of the answer tell, one that was asked for: the worst for "
            "settling if dust settles in it, else the worst for starving if a hood starves, else the first with air."
        ),
    ]
    machines: Annotated[tuple[str, ...], Meta(description="What `up_to` combined, in the order of the document.")] = (
        field(default_factory=nothing)
    )
    all_listed: bool = field(default_factory=yes)


class RunCleared(Told, kw_only=True):
    """A run in which dust settles in some of the states, and the state that carries it off."""

    run: str
    states: Annotated[int, Meta(description="In how many of the states its dust settles.")]
    worst_state: str
    worst_ratio: Annotated[float, Meta(description="Velocity over transport velocity there.")]
    cleared_by: Annotated[
        str | None,
        Meta(description="The first state, fewest machines first, in which it carries its dust; left out: none does."),
    ] = None
    cleared_ratio: Annotated[float | None, Meta(description="Velocity over transport velocity there.")] = None


class GateStatesAnswer(TreeAnswer, kw_only=True):
    """The states of the gates: all counted, the worst by check, and which gates to open as well."""

    system: GateStatesSystem
    worst: WorstStates
    states: tuple[StateResult, ...]
    settling: Annotated[
        tuple[RunCleared, ...], Meta(description="Runs in which dust settles in some state, in the order of the tree.")
    ] = field(default_factory=nothing)
    advice: Annotated[
        tuple[Advice, ...] | None,
        Meta(description="Where asked for: tried changes, the most air gained first; none that spoils a check."),
    ] = None
