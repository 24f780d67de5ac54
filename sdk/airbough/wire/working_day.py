"""POST /v1/trees/working-day: a day of machines switched on and off, and what gates, fan and chips make of it."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.answer import TreeAnswer
from airbough.wire.base import (
    Asked,
    Id,
    Told,
    no,
)
from airbough.wire.quantity import (
    Clock,
    EnergyResult,
    FlowResult,
    PowerResult,
    QuantityText,
    Share,
    Time,
    TimeAboveZero,
    Volume,
    VolumeResult,
)
from airbough.wire.tree import Tree

LONGEST_DAY = 86400.0
MOST_MACHINES = 200
MOST_EVENTS = 10000

_MASS_DENSITY = Meta(
    extra={"kind": "density", "range": (1.0, 2000.0)},
    extra_json_schema={"x-kind": "density", "x-range-si": [1.0, 2000.0]},
)
HeapDensity: TypeAlias = Annotated[float | QuantityText, _MASS_DENSITY]
SecondsResult: TypeAlias = Annotated[float, Meta(description="Seconds.")]
MachineName: TypeAlias = Annotated[
    Id, Meta(description="A machine: its `machine_id`, or the id of the run of one of its hoods or gates.")
]


class Spell(Asked, kw_only=True):
    """A spell of work: the machine is on at t where on <= t < off.

    Seconds from the day's beginning, a text with a unit, or a time of the clock (`8:00`, `1:30 pm`) of a day from 0:00.
    """

    on: Clock
    off: Clock


class Chips(Asked, kw_only=True):
    """What the machine cuts: `loose_volume_per_hour`, or `wood_volume_per_hour` with both densities.

    Nothing has a default. Loose volume = wood volume times wood density over bulk density.
    """

    loose_volume_per_hour: Annotated[Volume | None, Meta(description="As the chips lie in the bin, an hour on.")] = None
    wood_volume_per_hour: Annotated[Volume | None, Meta(description="Solid wood cut away in an hour on.")] = None
    wood_density: Annotated[HeapDensity | None, Meta(description="Of the solid wood.")] = None
    bulk_density: Annotated[HeapDensity | None, Meta(description="Of the chips as they lie in the bin.")] = None


class MachineDay(Asked, kw_only=True):
    """One machine's day. Machines that are not named stay off, their gates shut."""

    machine: MachineName
    times: Annotated[
        tuple[Spell, ...],
        Meta(max_length=MOST_EVENTS // 2, description="In any order, none overlapping; touching ones are one."),
    ] = ()
    opening: Annotated[
        Share | None, Meta(description="Of its gates when open. Left out: the document's, or full if shut.")
    ] = None
    gate_delay: Annotated[Time | None, Meta(description="In place of the `gate_delay` of all.")] = None
    chips: Chips | None = None


class Bin(Asked, kw_only=True):
    """The collector's bin."""

    volume: Volume
    filled: Annotated[Volume | None, Meta(description="What lies in it at the day's beginning. Left out: empty.")] = (
        None
    )


class WorkingDayRequest(Tree, kw_only=True):
    """A tree with a fan, and a day of on and off times. Gates that no machine moves stay as the document has them."""

    machines: Annotated[tuple[MachineDay, ...], Meta(min_length=1, max_length=MOST_MACHINES)]
    duration: Annotated[TimeAboveZero, Meta(description="Length of the day.")] = LONGEST_DAY
    held_gate: Annotated[MachineName | None, Meta(description="Its gates stay open unless another machine's open.")] = (
        None
    )
    always_open: Annotated[
        tuple[MachineName, ...], Meta(max_length=MOST_MACHINES, description="Gates that stand open all day.")
    ] = ()
    gate_delay: Annotated[Time, Meta(description="Gates stay open so long after their machine goes off.")] = 0.0
    fan_delay: Annotated[Time, Meta(description="The fan runs on so long after the last machine goes off.")] = 0.0
    minimum_run: Annotated[Time, Meta(description="The fan runs at least so long after a start.")] = 0.0
    rest: Annotated[Time, Meta(description="The fan stands still at least so long before it starts again.")] = 0.0
    starts_allowed: (
        Annotated[int, Meta(ge=1, le=1000, description="Starts in any 3,600 s; left out: as many as come.")] | None
    ) = None
    bin: Bin | None = None
    price_per_kwh: (
        Annotated[float, Meta(ge=0.0, le=1.0e6, description="In the caller's money; the cost is in the same.")] | None
    ) = None


class MachineGates(Told, kw_only=True):
    """One row of the table of machine to gate."""

    machine: str
    hoods: Annotated[tuple[str, ...], Meta(description="Runs at whose hoods it stands.")]
    gates: Annotated[tuple[str, ...], Meta(description="Runs whose gates move with it; empty: it has none.")]
    gate_delay: SecondsResult
    time_on: SecondsResult
    time_without_fan: Annotated[SecondsResult, Meta(description="On while the fan stands still.")]
    held: bool = field(default_factory=no)
    always_open: bool = field(default_factory=no)
    chips_volume: Annotated[VolumeResult | None, Meta(description="Loose, as it lies in the bin.")] = None


class DayState(Told, kw_only=True):
    """One state of the day, from `start` up to `end`; `flow` is left out where it is not known."""

    start: SecondsResult
    end: SecondsResult
    open_gates: Annotated[tuple[str, ...], Meta(description="Machines whose gates stand open.")]
    fan_on: bool
    outcome: Literal["fan-off", "operating-point", "several-operating-points", "beyond-fan-curve", "no-flow"]
    flow: FlowResult | None = None
    power: Annotated[PowerResult | None, Meta(description="Electrical, into the motor.")] = None


class RuleOverride(Told, kw_only=True):
    """A rule that won over something asked, from `time` up to `until`. Order: never-all-shut, run, rest, delay."""

    time: SecondsResult
    until: SecondsResult
    rule: Literal["never-all-shut", "minimum-run", "rest"]
    over: Annotated[
        Literal["delay", "machine-on"], Meta(description="A delay that had ended, or a machine that asks for the fan.")
    ]
    machine: Annotated[str | None, Meta(description="Whose gate stays open.")] = None


class PathClearing(Told, kw_only=True):
    """How long chips take from a hood to the collector in one state in which air carries them, lagging behind it."""

    run: str
    machine: str
    open_gates: tuple[str, ...]
    clearing_time: SecondsResult


class ChipsLeft(Told, kw_only=True):
    """Chips of one hood that stay in one run, alike in state and cause, and the later state that carries them out."""

    run: Annotated[str, Meta(description="Where they lie.")]
    hood: Annotated[str, Meta(description="Run of the hood that they come from.")]
    machine: str
    cause: Literal["gate-shut", "fan-stop", "too-slow"]
    open_gates: Annotated[tuple[str, ...], Meta(description="Machines whose gates stand open when it comes about.")]
    first_at: SecondsResult
    last_at: SecondsResult
    times: Annotated[int, Meta(description="How often in the day.")]
    carried_out_at: Annotated[
        SecondsResult | None,
        Meta(description="When air of the transport velocity has carried out the last; left out: not in this day."),
    ] = None
    carried_out_with: Annotated[
        tuple[str, ...] | None, Meta(description="Machines whose gates stand open in the state that does it.")
    ] = None


class WorkingDaySystem(Told, kw_only=True):
    """The day as a whole."""

    time_fan_on: SecondsResult
    starts: int
    start_times: tuple[float, ...]
    most_starts: Annotated[int, Meta(description="In any 3,600 s.")]
    open_gates: Annotated[tuple[str, ...], Meta(description="The state that `runs` and `hoods` show: the longest.")]
    energy: Annotated[EnergyResult | None, Meta(description="Where power or efficiency, and the motor's, is given")] = (
        None
    )
    cost: float | None = None
    chips_volume: Annotated[VolumeResult | None, Meta(description="Loose, of the machines that give `chips`.")] = None
    bin_full_at: Annotated[SecondsResult | None, Meta(description="As if every chip reached the bin.")] = None
    bin_left: Annotated[VolumeResult | None, Meta(description="Room left at the day's end.")] = None


class WorkingDayAnswer(TreeAnswer, kw_only=True):
    """A day of on and off: starts, chips, energy. It is arithmetic on the times given, not a control."""

    system: WorkingDaySystem
    machines: tuple[MachineGates, ...]
    timeline: tuple[DayState, ...]
    overrides: tuple[RuleOverride, ...]
    clearing: tuple[PathClearing, ...]
    left: Annotated[tuple[ChipsLeft, ...], Meta(description="What stays in the duct; empty: nothing.")]
