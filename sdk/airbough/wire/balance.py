"""POST /v1/trees/balance: design flows given, what pressure is needed and what gates must add."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from airbough.wire.answer import TreeAnswer
from airbough.wire.base import Told
from airbough.wire.quantity import (
    DiameterTold,
    FlowTold,
    PressureTold,
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
    governs: bool
    pressure: Annotated[PressureTold, Meta(description="What the run alone needs at its junction.")]
    governing_pressure: PressureTold
    action: Literal["none", "gate", "raise-flow", "resize"]
    ratio: Annotated[
        float | None, Meta(description="Governing over own pressure, before raising; left out where it needs none.")
    ] = None
    gate_loss: PressureTold | None = None
    gate_coefficient: float | None = None
    gate_opening: float | None = None
    flow: Annotated[FlowTold | None, Meta(description="The flow after raising.")] = None
    diameter: Annotated[DiameterTold | None, Meta(description="The diameter that would bring the ratio to 1.")] = None


class Duty(Told, kw_only=True):
    """What to ask a seller for."""

    flow: FlowTold
    fan_static_pressure: PressureTold
    fan_total_pressure: PressureTold


class Required(Told, kw_only=True):
    """The fan's duty at this air and at standard air."""

    flow: FlowTold
    fan_static_pressure: PressureTold
    fan_total_pressure: PressureTold
    at_standard_air: Duty


class BalanceSystem(Told, kw_only=True):
    """The system as a whole."""

    flow: FlowTold
    inlet_static_pressure: PressureTold
    inlet_total_pressure: PressureTold
    collector_loss: PressureTold
    discharge_loss: PressureTold
    governing_path: tuple[str, ...]
    required: Required


class BalanceAnswer(TreeAnswer, kw_only=True):
    """The balance at design flows."""

    system: BalanceSystem
    branches: tuple[BranchBalance, ...]
