"""POST /v1/trees/make-up-air: what leaves the room must come back."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.answer import (
    TreeAnswer,
    WholeSystem,
)
from airbough.wire.base import (
    Asked,
    Told,
    Word,
)
from airbough.wire.quantity import (
    Area,
    AreaResult,
    EnergyResult,
    FlowAboveZero,
    FlowResult,
    HeatResult,
    Pressure,
    PressureResult,
    Share,
    Temperature,
    Volume,
)
from airbough.wire.tree import Tree

CollectorStands: TypeAlias = Literal["same-room", "another-room", "outdoors"]


class Tightness(Asked, kw_only=True):
    """What the room's cracks let in: `flow` at `pressure`, growing with pressure^exponent."""

    flow: FlowAboveZero
    pressure: Annotated[Pressure, Meta(description="Above 0, 50 Pa in most tests.")]
    exponent: Annotated[float, Meta(ge=0.5, le=1.0, description="Left out: the catalogue's.")] | None = None


class Room(Asked, kw_only=True):
    """The room that the machines stand in."""

    volume: Volume
    openings_area: Annotated[Area | None, Meta(description="Free area of the openings to outdoors.")] = None
    tightness: Tightness | None = None
    discharge_coefficient: Annotated[float, Meta(ge=0.1, le=1.0, description="Of the openings.")] | None = None
    allowed_depressurization: Annotated[Pressure | None, Meta(description="Above 0.")] = None
    combustion_appliances: Annotated[
        tuple[Word, ...], Meta(max_length=20, description="In the room or drawing air from it; words of the catalogue.")
    ] = ()
    indoor_temperature: Temperature | None = None
    outdoor_temperature: Temperature | None = None
    hours: Annotated[float, Meta(ge=0.0, le=100000.0, description="Of operation, for the heat lost.")] | None = None


class MakeUpAirRequest(Tree, kw_only=True):
    """A tree with a fan, or with design flows, and the room around it."""

    collector_stands: CollectorStands
    room: Room
    returned_share: Annotated[
        Share | None,
        Meta(
            description="Of the exhaust, led back into this room. Left out: 1 in the same room, what "
            "`return_path_area` lets through from another, else 0."
        ),
    ] = None
    return_path_area: Annotated[
        Area | None,
        Meta(
            description="Free area of the way back from the other room that the collector stands in; that room is "
            "taken to be at the pressure of outdoors."
        ),
    ] = None


class MakeUpAir(Told, kw_only=True):
    """What the exhaust does to the room."""

    exhaust_flow: FlowResult
    flow_from: Annotated[
        Literal["operating-point", "design-flows"], Meta(description="Where the exhaust flow is from.")
    ]
    returned_share: float
    make_up_flow: Annotated[FlowResult, Meta(description="Leaves the room and must come back from outside it.")]
    air_changes: Annotated[float, Meta(description="Make-up air, room volumes an hour.")]
    air_turnover: Annotated[float, Meta(description="Exhaust, room volumes an hour.")]
    allowed_depressurization: PressureResult
    allowed_by: Literal["caller", "combustion-appliance", "catalogue"]
    grille_free_area: Annotated[AreaResult, Meta(description="Passes all make-up air at the allowed depressurisation.")]
    depressurization: Annotated[
        PressureResult | None, Meta(description="With the whole exhaust. Left out: nothing known of openings.")
    ] = None
    settled_exhaust_flow: Annotated[
        FlowResult | None,
        Meta(description="What the fan still exhausts as it works against the depressurisation; left out without fan."),
    ] = None
    settled_depressurization: Annotated[PressureResult | None, Meta(description="The depressurisation then.")] = None
    further_free_area: Annotated[AreaResult | None, Meta(description="Wanted beside the openings given.")] = None
    heat_lost: Annotated[
        HeatResult | None, Meta(description="With the make-up air, in kW or BTU/h; below 0: heat gained.")
    ] = None
    heat_energy: EnergyResult | None = None


class MakeUpAirAnswer(TreeAnswer, kw_only=True):
    """Make-up air, depressurisation and heat."""

    room: MakeUpAir
    system: Annotated[WholeSystem | None, Meta(description="Left out where `runs` are empty.")] = None
