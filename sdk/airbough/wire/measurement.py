"""POST /v1/measurements/...: from readings on site to flow."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta, field

from airbough.wire.air import (
    Air,
    AirResult,
)
from airbough.wire.base import (
    Asked,
    Told,
    nothing,
)
from airbough.wire.entry import Entry
from airbough.wire.quantity import (
    AreaResult,
    Diameter,
    DiameterResult,
    FittingLength,
    FlowAboveZero,
    FlowResult,
    Length,
    Preset,
    Pressure,
    PressureResult,
    Velocity,
    VelocityResult,
)
from airbough.wire.reference import Plain

TraverseRule: TypeAlias = Literal["log-linear", "log-tchebycheff", "equal-area"]
PressureRow: TypeAlias = Annotated[tuple[Pressure, ...], Meta(max_length=40)]
VelocityRow: TypeAlias = Annotated[tuple[Velocity, ...], Meta(max_length=40)]
DepthRow: TypeAlias = Annotated[tuple[FittingLength, ...], Meta(max_length=40)]


class TraverseRequest(Asked, kw_only=True):
    """A traverse of a round duct. Without readings only the points are answered."""

    units: Preset
    diameter: Diameter
    rule: TraverseRule = "log-linear"
    per_diameter: Annotated[int, Meta(ge=2, le=40, description="Points on each diameter, as the rule prints them.")] = 6
    diameters: Annotated[int, Meta(ge=1, le=6, description="Diameters, evenly turned; one is a poor reading.")] = 2
    velocity_pressures: Annotated[
        tuple[PressureRow, ...],
        Meta(max_length=6, description="One row for each diameter, from the wall that the depths count from."),
    ] = ()
    velocities: Annotated[
        tuple[VelocityRow, ...], Meta(max_length=6, description="In place of `velocity_pressures`.")
    ] = ()
    depths: Annotated[
        tuple[DepthRow, ...],
        Meta(max_length=6, description="Where the readings were taken, to be checked against the rule's points."),
    ] = ()
    straight_upstream: Annotated[Length | None, Meta(description="Straight duct before the plane.")] = None
    straight_downstream: Annotated[Length | None, Meta(description="Straight duct after the plane.")] = None
    air: Annotated[Air | None, Meta(description="The air in the duct. Left out: standard air.")] = None


class TraversePoint(Told, kw_only=True):
    """One point: how deep the tube goes in from the wall."""

    share: Annotated[float, Meta(description="Depth over the diameter.")]
    depth: DiameterResult


class TraverseSpread(Told, kw_only=True):
    """Relative half-widths of the central 90 % range; `whole` is the root of the sum of their squares."""

    whole: float
    rule: float
    instrument: float
    placing: Annotated[float, Meta(description="0 where the straight lengths are given and hold.")]
    between_diameters: Annotated[float | None, Meta(description="Left out with one diameter.")] = None


class TraverseAnswer(Plain, kw_only=True):
    """Where to read, and what the readings say."""

    rule: TraverseRule
    points: tuple[TraversePoint, ...]
    area: AreaResult
    air: AirResult
    flow: FlowResult | None = None
    mean_velocity: VelocityResult | None = None
    velocity_pressure: Annotated[PressureResult | None, Meta(description="Of the mean velocity.")] = None
    by_diameter: tuple[VelocityResult, ...] = field(default_factory=nothing)
    least_over_greatest: Annotated[float | None, Meta(description="Least velocity over the greatest.")] = None
    spread: TraverseSpread | None = None


class HoodStaticPressureRequest(Asked, kw_only=True):
    """A reading just after a hood, and one of `entry`, `coefficient_of_entry` or `flow`."""

    units: Preset
    hood_static_pressure: Annotated[Pressure, Meta(description="Gauge; the sign of a suction may be left out.")]
    diameter: Annotated[Diameter, Meta(description="Diameter at the tap.")]
    entry: Entry | None = None
    coefficient_of_entry: Annotated[float, Meta(ge=0.01, le=1.0, description="Ce.")] | None = None
    flow: Annotated[FlowAboveZero | None, Meta(description="Measured, to learn the hood's own coefficient.")] = None
    tap_distance: Annotated[Length | None, Meta(description="From the hood's end to the tap.")] = None
    air: Annotated[Air | None, Meta(description="The air in the duct. Left out: standard air.")] = None


class HoodStaticPressureAnswer(Plain, kw_only=True):
    """Flow through the hood and its coefficient of entry."""

    flow: FlowResult
    velocity: VelocityResult
    velocity_pressure: PressureResult
    hood_static_pressure: Annotated[PressureResult, Meta(description="Gauge, negative.")]
    entry_loss: PressureResult
    coefficient_of_entry: float
    entry_coefficient: Annotated[float, Meta(description="Entry loss in velocity pressures.")]
    spread: Annotated[float | None, Meta(description="Relative half-width (90 %) of the flow; of a known entry.")] = (
        None
    )
    air: AirResult
