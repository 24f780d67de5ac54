"""The GET questions: friction, velocity, the catalogue."""

from __future__ import annotations

from typing import Annotated, Any

from msgspec import Meta, field

from airbough.wire.air import AirResult
from airbough.wire.answer import (
    Finding,
    Source,
)
from airbough.wire.base import (
    Asked,
    Coefficient,
    Ratio,
    Told,
    Word,
    no,
    nothing,
)
from airbough.wire.quantity import (
    Altitude,
    Angle,
    Barometer,
    Diameter,
    DiameterResult,
    FittingLength,
    FlowAboveZero,
    FlowResult,
    Length,
    LengthResult,
    Preset,
    PressureResult,
    Roughness,
    RoughnessResult,
    Share,
    StretchShare,
    Temperature,
    VelocityResult,
)
from airbough.wire.tree import FrictionModel


class Plain(Told, kw_only=True):
    """What each plain answer carries."""

    units: dict[str, str]
    preset: Preset
    findings: tuple[Finding, ...] = field(default_factory=nothing)
    sources: tuple[Source, ...] = field(default_factory=nothing)
    cautions: tuple[str, ...] = field(default_factory=nothing)


class AirAnswer(Plain, kw_only=True):
    """Density and viscosity of moist air."""

    air: AirResult


class FrictionLossRequest(Asked, kw_only=True):
    """GET /v1/friction-loss."""

    units: Preset
    flow: FlowAboveZero
    diameter: Diameter
    length: Length
    duct: Word | None = None
    roughness: Roughness | None = None
    stretch: StretchShare | None = None
    friction: FrictionModel = "colebrook"
    temperature: Temperature | None = None
    altitude: Altitude | None = None
    pressure: Barometer | None = None
    humidity: Share | None = None


class FrictionLossAnswer(Plain, kw_only=True):
    """The loss of a straight length."""

    friction_loss: PressureResult
    velocity: VelocityResult
    velocity_pressure: PressureResult
    reynolds: float
    friction_factor: Annotated[float, Meta(description="Darcy; with power-law the equal one.")]
    roughness: RoughnessResult
    length: LengthResult
    air: AirResult


class VelocityCheckRequest(Asked, kw_only=True):
    """GET /v1/velocity-check."""

    units: Preset
    flow: FlowAboveZero
    diameter: Diameter
    dust: Word
    loading: Annotated[
        Ratio | None, Meta(description="Mass of dust per mass of air: asks for a second opinion by saltation.")
    ] = None
    temperature: Temperature | None = None
    altitude: Altitude | None = None
    pressure: Barometer | None = None
    humidity: Share | None = None


class VelocityCheckAnswer(Plain, kw_only=True):
    """Whether the velocity carries the dust, and is not needlessly high."""

    velocity: VelocityResult
    transport_velocity: VelocityResult
    upper_velocity: VelocityResult
    holds: Annotated[bool, Meta(description="At least the transport velocity.")]
    needlessly_fast: bool
    largest_diameter: Annotated[DiameterResult, Meta(description="The largest diameter that keeps the dust moving.")]
    least_flow: Annotated[FlowResult, Meta(description="The least flow in this diameter that keeps the dust moving.")]
    saltation_velocity: Annotated[
        VelocityResult | None, Meta(description="Below it a fine powder settles (Rizk); given where `loading` is.")
    ] = None


class CatalogueRequest(Asked, kw_only=True):
    """GET of a list of the catalogue."""

    units: Preset


class Passport(Told, kw_only=True):
    """Where a number comes from."""

    source: str
    place: str
    how: Annotated[str, Meta(description="`read`, `memory` or `common-practice`.")]
    spread: Annotated[float, Meta(description="Relative half-width of the central 90 % range.")]
    note: str | None = None


class OtherDuct(Told, kw_only=True):
    """What another source says of a construction."""

    passport: Passport
    title: str | None = None
    roughness: RoughnessResult | None = None
    roughness_low: RoughnessResult | None = None
    roughness_high: RoughnessResult | None = None
    multiplier_low: Annotated[float | None, Meta(description="Of a slack hose, on its friction at full stretch.")] = (
        None
    )
    multiplier_high: float | None = None


class ListedDuct(Told, kw_only=True):
    """A construction of duct."""

    id: str
    title: str
    kind: str
    roughness: RoughnessResult
    conductive: bool
    passport: Passport
    roughness_low: RoughnessResult | None = None
    roughness_high: RoughnessResult | None = None
    typical_stretch: float | None = None
    power_law: Annotated[bool, Meta(description="Whether power-law constants are published.")] = field(
        default_factory=no
    )
    power_law_passport: Passport | None = None
    others: tuple[OtherDuct, ...] = field(default_factory=nothing)
    default_because: Annotated[str | None, Meta(description="Why the others' are not taken.")] = None


class DuctsAnswer(Plain, kw_only=True):
    """All constructions of duct, with roughness and sources."""

    ducts: tuple[ListedDuct, ...]


class OtherVelocity(Told, kw_only=True):
    """What another source says."""

    transport_velocity: VelocityResult
    passport: Passport


class ListedDust(Told, kw_only=True):
    """A class of dust."""

    id: str
    title: str
    transport_velocity: VelocityResult
    upper_velocity: VelocityResult
    passport: Passport
    others: tuple[OtherVelocity, ...] = field(default_factory=nothing)
    default_because: Annotated[str | None, Meta(description="Why the others' are not taken.")] = None


class DustsAnswer(Plain, kw_only=True):
    """All classes of dust, with transport velocities and sources."""

    dusts: tuple[ListedDust, ...]


class MachineSize(Told, kw_only=True):
    """The exhaust flow for one size of machine, and beside it what its port carries."""

    size: str
    flow: FlowResult
    flow_read: Annotated[
        bool, Meta(description="Whether the flow was read in its source; else it is remembered or our own estimate.")
    ]
    passport: Passport
    parameter: Annotated[str, Meta(description="What the size goes by.")]
    maximum: Annotated[
        float | None, Meta(description="The largest `parameter` that the size covers; left out: no bound.")
    ] = None
    maximum_unit: str | None = None
    port_diameter: Annotated[DiameterResult | None, Meta(description="Of the machine's whole connection.")] = None
    port_flow: Annotated[
        FlowResult | None,
        Meta(description="What the port carries at the transport velocity of `typical_dust`: a second opinion."),
    ] = None
    port_passport: Annotated[
        Passport | None, Meta(description="Where the port's diameter comes from; left out: from where the flow does.")
    ] = None


class ListedMachine(Told, kw_only=True):
    """A machine with exhaust flows: read ones where there are any, else remembered or estimated, as each size says."""

    id: str
    title: str
    sizes: tuple[MachineSize, ...]
    note: str | None = None
    sparks: bool = field(default_factory=no)
    typical_entry: str | None = None
    typical_dust: str | None = None
    others: Annotated[tuple[MachineSize, ...], Meta(description="What other sources say.")] = field(
        default_factory=nothing
    )
    default_because: Annotated[str | None, Meta(description="Why the others' are not taken.")] = None


class HoodsAnswer(Plain, kw_only=True):
    """All machines, with exhaust flows and sources."""

    machines: tuple[ListedMachine, ...]


class SourcesAnswer(Plain, kw_only=True):
    """The bibliography: every document that a number comes from."""

    bibliography: tuple[Source, ...]


class FittingParameter(Told, kw_only=True):
    """A parameter of a fitting."""

    name: str
    kind: str
    required: bool
    minimum: float | None = None
    maximum: float | None = None
    published_minimum: float | None = None
    published_maximum: float | None = None
    words: tuple[str, ...] = field(default_factory=nothing)
    unit: str | None = None
    default: Annotated[float | str | None, Meta(description="What holds where it is left out.")] = None


class ListedFitting(Told, kw_only=True):
    """A fitting of the catalogue."""

    type: str
    title: str
    place: str
    refers_to: str
    summary: str
    parameters: tuple[FittingParameter, ...]
    passports: tuple[Passport, ...]
    data: Annotated[Any, Meta(description="The tables, in SI units.")] = None


class FittingsAnswer(Plain, kw_only=True):
    """All families of fittings, without their tables."""

    fittings: tuple[ListedFitting, ...]


class FittingAnswer(Plain, kw_only=True):
    """One family of fittings, with its tables."""

    fitting: ListedFitting


class FittingLossRequest(Asked, kw_only=True):
    """GET /v1/fittings/{type}/loss: the parameters of the type; flow and diameter where the loss is wanted."""

    units: Preset
    flow: FlowAboveZero | None = None
    diameter: Diameter | None = None
    angle: Angle | None = None
    radius_ratio: Ratio | None = None
    construction: Word | None = None
    spacer_ratio: Ratio | None = None
    upstream_diameter: Diameter | None = None
    downstream_diameter: Diameter | None = None
    length: FittingLength | None = None
    opening: Share | None = None
    coefficient: Coefficient | None = None
    included_angle: Angle | None = None
    shape: Word | None = None
    orifice_diameter: Diameter | None = None
    area_share: Share | None = None
    clearance_ratio: Ratio | None = None
    setting: Word | None = None
    duct_entry: Coefficient | None = None
    direction: Word | None = None
    outlet_ratio: Ratio | None = None
    count: Annotated[int, Meta(ge=1, le=100)] = 1
    flow_share: Annotated[Share | None, Meta(description="Junctions: the branch's share of the flow.")] = None
    branch_diameter: Diameter | None = None
    temperature: Temperature | None = None
    altitude: Altitude | None = None
    pressure: Barometer | None = None
    humidity: Share | None = None


class FittingLossAnswer(Plain, kw_only=True):
    """A fitting's coefficient, and its loss where flow and diameter were given."""

    type: str
    coefficient: float
    refers_to: str
    passport: Passport | None = None
    loss: PressureResult | None = None
    velocity: VelocityResult | None = None
    velocity_pressure: PressureResult | None = None
    straight_coefficient: float | None = None
    gate_travel: Annotated[
        float | None,
        Meta(description="Of a slide gate: how far a blade of round edge is pulled out, over the diameter."),
    ] = None
