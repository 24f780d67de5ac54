"""POST /v1/trees/balance: design flows given, what pressure is needed and what gates must add."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from airbough.wire.answer import TreeAnswer
from airbough.wire.base import Told
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
    action: Literal["none", "gate", "raise-flow", "resize"]
    ratio: Annotated[
        float | None, Meta(description="Governing over own pressure, before raising; left out where it needs none.")
    ] = None
    gate_loss: PressureResult | None = None
    gate_coefficient: float | None = None
    gate_opening: float | None = None
    flow: Annotated[FlowResult | None, Meta(description="The flow after raising.")] = None
    diameter: Annotated[DiameterResult | None, Meta(description="The diameter that would bring the ratio to 1.")] = None


class Duty(Told, kw_only=True):
    """What to ask a seller for."""

    flow: FlowResult
    fan_static_pressure: PressureResult
    fan_total_pressure: PressureResult


class Required(Told, kw_only=True):
    """The fan's duty at this air and at standard air."""

    flow: FlowResult
    fan_static_pressure: PressureResult
    fan_total_pressure: PressureResult
    at_standard_air: Duty


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
