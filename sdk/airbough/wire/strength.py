"""POST /v1/trees/strength: the duct's wall against the suction inside it."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, field

from airbough.wire.answer import (
    TreeAnswer,
    WholeSystem,
)
from airbough.wire.base import (
    Asked,
    Id,
    Name,
    Told,
    Word,
    nothing,
)
from airbough.wire.quantity import (
    AreaResult,
    Diameter,
    DiameterResult,
    FittingLength,
    ForceResult,
    Length,
    LengthResult,
    PressureFromZero,
    PressureResult,
)
from airbough.wire.state import NamedState
from airbough.wire.tree import Tree


class Stiffening(Asked, kw_only=True):
    """Rings on one run that keep it round, at most `spacing` apart."""

    run: Id
    spacing: Length


class Door(Asked, kw_only=True):
    """A door or lid with the suction behind it: of a machine's cabinet, or of the collector's bin or cabinet."""

    name: Name
    run: Annotated[
        Id | None, Meta(description="The run that draws from the cabinet. Left out: the collector, before its fan.")
    ] = None
    width: Annotated[FittingLength | None, Meta(description="With `height`.")] = None
    height: FittingLength | None = None
    diameter: Annotated[Diameter | None, Meta(description="Of a round lid, in place of both.")] = None


class StrengthRequest(Tree, kw_only=True):
    """A tree with a fan, or with a suction to judge against."""

    suction: Annotated[
        PressureFromZero | None, Meta(description="Judge against this suction in place of the fan's.")
    ] = None
    states: Annotated[tuple[NamedState, ...], Meta(max_length=1000)] = ()
    stiffening: Annotated[tuple[Stiffening, ...], Meta(max_length=10000)] = ()
    doors: Annotated[tuple[Door, ...], Meta(max_length=100)] = ()
    material: Annotated[Word | None, Meta(description="Of runs whose duct does not say.")] = None
    safety_factor: Annotated[float, Meta(ge=1.0, le=20.0, description="Left out: the catalogue's.")] | None = None
    knockdown: (
        Annotated[
            float, Meta(ge=0.05, le=1.0, description="Share left for seams and dents. Left out: the catalogue's.")
        ]
        | None
    ) = None


class RunStrength(Told, kw_only=True):
    """One run with a known wall: it holds where the worst suction is at most the allowable one.

    Between the allowable one and the buckling pressure its reserve decides; above that nothing is left.
    """

    run: str
    material: str
    wall_thickness: Annotated[
        DiameterResult, Meta(description="As judged: the least of the gauge's tolerance, less its zinc.")
    ]
    buckling_pressure: Annotated[PressureResult, Meta(description="Of an ideal round shell.")]
    allowable_suction: PressureResult
    suction_at_shut_off: PressureResult
    worst_suction: PressureResult
    worst_state: str
    share: Annotated[float, Meta(description="Worst suction over the allowable one.")]
    holds: bool
    suction: Annotated[
        PressureResult | None, Meta(description="In the document's state; left out beyond the fan's curve.")
    ] = None
    gauge: int | None = None
    spacing: Annotated[LengthResult | None, Meta(description="Of the rings; left out: a long tube without.")] = None


class DoorForce(Told, kw_only=True):
    """What holds a door or lid shut: suction times area, in the worst state."""

    name: str
    area: AreaResult
    suction: PressureResult
    state: str
    force: ForceResult
    edge_force: Annotated[
        ForceResult, Meta(description="Wanted at the edge across from the hinges, or at one edge of a lid.")
    ]
    run: Annotated[str | None, Meta(description="Left out: the collector.")] = None


class StrengthAnswer(TreeAnswer, kw_only=True):
    """Each duct wall against its suction."""

    strengths: tuple[RunStrength, ...]
    shut_off_suction: Annotated[PressureResult, Meta(description="Highest pressure of the fan's curve.")]
    safety_factor: float
    knockdown: float
    assumptions: tuple[str, ...]
    doors: tuple[DoorForce, ...] = field(default_factory=nothing)
    judged_against: Literal["fan", "given-suction"]
    system: Annotated[WholeSystem | None, Meta(description="Left out where `runs` are empty.")] = None
