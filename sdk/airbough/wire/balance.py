"""POST /v1/trees/balance: design flows given, what pressure is needed and what gates must add."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from airbough.wire.answer import TreeAnswer
from airbough.wire.base import Id, Name, Told
from airbough.wire.collector import RatedAs
from airbough.wire.quantity import (
    DiameterResult,
    FlowResult,
    PressureResult,
)
from airbough.wire.tree import Tree


class BalanceRequest(Tree, kw_only=True):
    """A tree whose open hoods have design flows."""

    by: Annotated[Literal["gates", "flow"], Meta(description="Gates add pressure, or branches take more flow.")] = (
        "gates"
    )
    correction: Annotated[
        Literal["square-root", "exact"], Meta(description="How a flow is raised, with `by` flow.")
    ] = "square-root"
    gates_may_stand: Annotated[
        tuple[Id, ...],
        Meta(
            max_length=10000,
            description="Runs in which a gate may be put. Without that a gate is asked for only in a branch that leads "
            "to one open hood, and where one stands on it up to where the next open branch joins; others are resized.",
        ),
    ] = ()


class BranchBalance(Told, kw_only=True):
    """One run at its junction, against the run that governs there."""

    run: str
    gate_travel: Annotated[
        float | None,
        Meta(description="Beside `gate_opening`: how far a blade of round edge is pulled out, over the diameter."),
    ] = None
    governs: bool
    pressure: Annotated[PressureResult, Meta(description="What the run alone needs at its junction.")]
    governing_pressure: PressureResult
    action: Annotated[
        Literal["none", "gate", "leave", "raise-flow", "resize"],
        Meta(description="`leave`: an open gate would already lose more than is needed."),
    ]
    ratio: Annotated[
        float | None, Meta(description="Governing over own pressure, before raising; left out where it needs none.")
    ] = None
    gate_loss: Annotated[PressureResult | None, Meta(description="To be added to what the run loses.")] = None
    gate_run: Annotated[
        str | None, Meta(description="The run whose gate it is: this one, or one further up the branch.")
    ] = None
    gate_coefficient: Annotated[
        float | None,
        Meta(description="With the gate's as it stands, on the velocity pressure in its run's diameter."),
    ] = None
    gate_opening: Annotated[
        float | None,
        Meta(
            description="Of a gate with that coefficient; left out where no opening has it, or fully open it has more."
        ),
    ] = None
    flow: Annotated[FlowResult | None, Meta(description="The flow after raising.")] = None
    diameter: Annotated[
        DiameterResult | None,
        Meta(
            description="The diameter that brings the ratio to 1, all other runs as they are; left out where none was "
            "found, or a change of size stands in the run."
        ),
    ] = None
    listed_diameter: Annotated[
        DiameterResult | None,
        Meta(
            description="The next wider of the catalogue's nominal diameters, to be bought; left out where that is no "
            "narrower than the run's own."
        ),
    ] = None
    listed_ratio: Annotated[float | None, Meta(description="The ratio that `listed_diameter` brings.")] = None


class Duty(Told, kw_only=True):
    """What to ask a seller for."""

    flow: FlowResult
    fan_static_pressure: PressureResult
    fan_total_pressure: PressureResult


class CurveDuty(Told, kw_only=True):
    """The duty as the given curve would have to show it: rated as it is, without what it includes."""

    rated_as: RatedAs
    includes: Annotated[tuple[Name, ...], Meta(description="Losses inside the curve, so not part of its pressure.")]
    flow: FlowResult
    pressure: Annotated[PressureResult, Meta(description="At this air and the speed asked for.")]
    rated_flow: Annotated[FlowResult, Meta(description="Of the point that the curve as given would have to have.")]
    rated_pressure: Annotated[PressureResult, Meta(description="Of the same point, at its rated air and speed.")]


class Required(Told, kw_only=True):
    """The duty of the bare fan, all losses of the collector outside it, at this air and at standard air."""

    flow: FlowResult
    fan_static_pressure: PressureResult
    fan_total_pressure: PressureResult
    at_standard_air: Duty
    of_curve: Annotated[
        CurveDuty | None, Meta(description="The same duty in the terms of the curve given; left out without a fan.")
    ] = None


class BalanceSystem(Told, kw_only=True):
    """The system as a whole."""

    flow: FlowResult
    inlet_static_pressure: PressureResult
    inlet_total_pressure: PressureResult
    collector_loss: PressureResult
    discharge_loss: PressureResult
    governing_path: tuple[str, ...]
    required: Required


class BalanceAnswer(TreeAnswer, kw_only=True):
    """The balance at design flows."""

    system: BalanceSystem
    branches: tuple[BranchBalance, ...]
