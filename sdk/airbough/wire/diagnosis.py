"""POST /v1/trees/diagnosis: readings on site against what is computed, and what would explain them."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.answer import (
    TreeAnswer,
    WholeSystem,
)
from airbough.wire.base import (
    Asked,
    Id,
    Told,
)
from airbough.wire.quantity import (
    Flow,
    Length,
    Pressure,
    PressureFromZero,
    PressureResult,
    Velocity,
)
from airbough.wire.state import GateSetting
from airbough.wire.tree import Tree

Distance: TypeAlias = Annotated[
    Length | None,
    Meta(description="From the run's upstream end; left out: its downstream end. Fittings count as evenly placed."),
]
ReadingSpread: TypeAlias = Annotated[
    Annotated[float, Meta(ge=0.0001, le=1.0)] | None,
    Meta(description="Half-width of the reading's central 90 % range, relative. Left out: the catalogue's."),
]
ScalesFan: TypeAlias = Annotated[
    bool,
    Meta(description="At most one: the fan's speed is first set so that this reading is met; it then weighs nothing."),
]


class StaticPressureReading(Asked, tag_field="quantity", tag="static-pressure", kw_only=True):
    """Static pressure at the duct's wall, gauge: negative under suction."""

    run: Id
    value: Pressure
    distance: Distance = None
    spread: ReadingSpread = None
    scales_fan: ScalesFan = False


class VelocityReading(Asked, tag_field="quantity", tag="velocity", kw_only=True):
    """Mean velocity in the run's own diameter."""

    run: Id
    value: Velocity
    distance: Distance = None
    spread: ReadingSpread = None
    scales_fan: ScalesFan = False


class FlowReading(Asked, tag_field="quantity", tag="flow", kw_only=True):
    """Flow in a run."""

    run: Id
    value: Flow
    distance: Distance = None
    spread: ReadingSpread = None
    scales_fan: ScalesFan = False


class VelocityPressureReading(Asked, tag_field="quantity", tag="velocity-pressure", kw_only=True):
    """Mean velocity pressure in the run's own diameter: that of the mean velocity."""

    run: Id
    value: PressureFromZero
    distance: Distance = None
    spread: ReadingSpread = None
    scales_fan: ScalesFan = False


class HoodStaticPressureReading(Asked, tag_field="quantity", tag="hood-static-pressure", kw_only=True):
    """Static pressure at a tap just after the hood, before its gate; gauge."""

    run: Id
    value: Pressure
    spread: ReadingSpread = None
    scales_fan: ScalesFan = False


class FanStaticPressureReading(Asked, tag_field="quantity", tag="fan-static-pressure", kw_only=True):
    """Fan static pressure as the curve means it."""

    value: PressureFromZero
    spread: ReadingSpread = None
    scales_fan: ScalesFan = False


Reading: TypeAlias = (
    StaticPressureReading
    | VelocityReading
    | FlowReading
    | VelocityPressureReading
    | HoodStaticPressureReading
    | FanStaticPressureReading
)


class DiagnosisRequest(Tree, kw_only=True):
    """A tree with a fan, the state of its gates and what was read in it."""

    readings: Annotated[tuple[Reading, ...], Meta(min_length=1, max_length=200)]
    state: Annotated[
        Literal["as-document"] | GateSetting,
        Meta(
            description="Required: readings mean nothing without the gates. `as-document` confirms those of the runs."
        ),
    ]
    suspects: (
        Annotated[tuple[Id, ...], Meta(max_length=10000, description="Runs to suspect. Left out: all of them.")] | None
    ) = None


class ReadingCompared(Told, kw_only=True):
    """One reading against what is computed."""

    quantity: str
    value: float
    computed: float
    unit: str
    spread: float
    computed_spread: Annotated[float, Meta(description="Half-width of the computed value's central 90 %, relative.")]
    deviation: Annotated[float, Meta(description="Measured less computed, over the half-width of both together.")]
    scales_fan: bool
    run: str | None = None


class Suspect(Told, kw_only=True):
    """One thing that would explain the readings, everything else being as in the document."""

    suspect: Literal["added-resistance", "leak", "gate", "fan-speed", "collector-loss"]
    quantity: Annotated[
        Literal["coefficient", "leak-flow", "opening", "speed-ratio", "loss-ratio"],
        Meta(description="What `change` is; a coefficient is on the run's velocity pressure, at its upstream end."),
    ]
    change: float
    unit: str
    improvement: Annotated[float, Meta(description="Fall of chi-square; above 2.7 it is unlikely to be chance.")]
    remaining: Annotated[float, Meta(description="Chi-square left, of one degree of freedom less than readings.")]
    plausible: Annotated[bool, Meta(description="Within 2.7 of the suspect that explains most.")]
    telling: Annotated[tuple[int, ...], Meta(description="Readings that tell, by number from 0, the strongest first.")]
    message: str
    low: Annotated[float | None, Meta(description="Lower end of the central 90 % range; left out: open.")] = None
    high: Annotated[float | None, Meta(description="Upper end; left out: open.")] = None
    run: str | None = None
    loss: Annotated[str | None, Meta(description="Name of the collector's loss.")] = None
    gate_opening: Annotated[float | None, Meta(description="The gate's opening that would have this resistance.")] = (
        None
    )
    lost: Annotated[PressureResult | None, Meta(description="Pressure that the added resistance takes.")] = None


class NextReading(Told, kw_only=True):
    """The reading that would tell two suspects apart best."""

    run: str
    quantity: str
    unit: str
    if_first: float
    if_second: float
    apart: Annotated[float, Meta(description="Their distance over one standard deviation of reading and model.")]


class SuspectPair(Told, kw_only=True):
    """Two suspects that these readings cannot tell apart."""

    first: Annotated[int, Meta(description="Number in `suspects`, from 0.")]
    second: int
    alike: Annotated[float, Meta(description="Cosine between what the two do to the readings; 1: the same.")]
    next_reading: Annotated[NextReading | None, Meta(description="Left out: none of the usual readings would.")] = None


class DiagnosisAnswer(TreeAnswer, kw_only=True):
    """Runs and hoods are as computed for the state, before any suspect."""

    outcome: Annotated[
        Literal["readings-agree", "suspects", "not-explained"],
        Meta(description="readings-agree: chi-square within its 95 % limit, so the readings agree within the spreads."),
    ]
    chi_square: float
    chi_square_limit: float
    readings: tuple[ReadingCompared, ...]
    suspects: tuple[Suspect, ...]
    not_told_apart: tuple[SuspectPair, ...]
    fan_speed_ratio: Annotated[float | None, Meta(description="Set by the reading that scales the fan.")] = None
    system: Annotated[WholeSystem | None, Meta(description="Left out where `runs` are empty.")] = None
