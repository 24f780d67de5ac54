"""The collector: fan, losses, discharge, motor."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.air import Air
from airbough.wire.base import (
    Asked,
    Name,
    Ratio,
    Word,
)
from airbough.wire.fitting import DischargeFitting
from airbough.wire.quantity import (
    Diameter,
    Flow,
    FlowAboveZero,
    Length,
    Power,
    PressureFromZero,
    Roughness,
    Share,
    StretchShare,
    Voltage,
)

RatedAs: TypeAlias = Literal["fan-static", "fan-total", "inlet-static"]


class FanPoint(Asked, kw_only=True):
    """A point of the fan's curve at the rated air and speed."""

    flow: Flow
    pressure: PressureFromZero


class Fan(Asked, kw_only=True):
    """A fan's curve. Points rise in flow; nothing is extrapolated."""

    curve: Annotated[tuple[FanPoint, ...], Meta(min_length=2, max_length=100)]
    rated_as: RatedAs
    includes: (
        Annotated[
            tuple[Name, ...],
            Meta(max_length=20, description="Named losses already in the curve; needed where `losses` is not empty."),
        ]
        | None
    ) = None
    speed_ratio: Annotated[float, Meta(ge=0.1, le=2.0, description="Speed over the speed of the curve.")] = 1.0
    rated_air: Annotated[Air | None, Meta(description="The air of the curve. Left out: standard air.")] = None
    interpolation: Literal["shape-preserving", "linear"] = "shape-preserving"
    outlet_diameter: Annotated[Diameter | None, Meta(description="Needed for `fan-total`.")] = None
    inlet_diameter: Annotated[Diameter | None, Meta(description="Needed for `inlet-static`.")] = None


class NamedFan(Asked, kw_only=True):
    """One of several fans to compare on one tree."""

    name: Name
    fan: Fan


class CollectorLoss(Asked, kw_only=True):
    """A cyclone, filter or the like: `pressure` at `flow` and the rated air, growing with flow^exponent."""

    name: Name
    flow: FlowAboveZero
    pressure: PressureFromZero
    exponent: Annotated[float, Meta(ge=1.0, le=2.0)] = 2.0
    rated_air: Annotated[Air | None, Meta(description="The air of the reading. Left out: standard air.")] = None


class PowerLaw(Asked, kw_only=True):
    """Power-law friction in velocity pressures per metre: scale V^velocity_exponent / Q^flow_exponent, m/s and m3/s."""

    scale: Annotated[float, Meta(ge=0.0, le=1000.0)]
    velocity_exponent: Annotated[float, Meta(ge=0.0, le=2.0)]
    flow_exponent: Annotated[float, Meta(ge=0.0, le=2.0)]


class DischargePiece(Asked, kw_only=True):
    """A piece of duct after the fan, in the direction of flow."""

    diameter: Diameter
    length: Length
    duct: Word | None = None
    roughness: Roughness | None = None
    stretch: StretchShare | None = None
    friction_multiplier: Annotated[Ratio | None, Meta(description="Factor on the friction loss.")] = None
    power_law: Annotated[PowerLaw | None, Meta(description="In place of the constants of `duct`.")] = None
    fittings: Annotated[tuple[DischargeFitting, ...], Meta(max_length=50)] = ()


class PowerPoint(Asked, kw_only=True):
    """A point of the fan's shaft power at the rated air and speed."""

    flow: Flow
    power: Power


class Motor(Asked, kw_only=True):
    """The motor: its rated output, its efficiency where energy is asked for, and its supply where the current is."""

    rated_power: Power
    efficiency: Annotated[Share | None, Meta(description="Output over input, at the rated output.")] = None
    voltage: Annotated[
        Voltage | None, Meta(description="Of the supply; between two lines where it has three phases.")
    ] = None
    supply: Annotated[Literal["single-phase", "three-phase"] | None, Meta(description="Goes with `voltage`.")] = None
    power_factor: Annotated[
        Share | None, Meta(description="At the rated output. Left out: a usual one, by the supply; so is `efficiency`.")
    ] = None


class CollectorFigures(Asked, kw_only=True):
    """What little is known of a collector: its two greatest figures, or its motor and its inlet."""

    greatest_flow: Annotated[FlowAboveZero | None, Meta(description="As sold: with nothing joined to it.")] = None
    greatest_suction: Annotated[PressureFromZero | None, Meta(description="As sold: with its inlet shut.")] = None
    power: Annotated[Power | None, Meta(description="The motor's rated output; with `inlet_diameter`.")] = None
    inlet_diameter: Diameter | None = None


class Collector(Asked, kw_only=True):
    """Fan, losses and discharge. Left out of the tree where only design flows are wanted."""

    fan: Fan | None = None
    known_by: Annotated[
        CollectorFigures | None,
        Meta(description="Where no curve of the fan is known: it is guessed, and answers carry the guess's band."),
    ] = None
    losses: Annotated[tuple[CollectorLoss, ...], Meta(max_length=20)] = ()
    discharge: Annotated[tuple[DischargePiece, ...], Meta(max_length=20)] = ()
    power: Annotated[tuple[PowerPoint, ...], Meta(max_length=100)] = ()
    efficiency: Annotated[
        Share | None,
        Meta(
            description="Fan total efficiency at its best point, where no power points are known: where flow times "
            "fan static pressure is greatest on its curve."
        ),
    ] = None
    motor: Motor | None = None
