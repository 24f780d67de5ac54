"""A tree balanced at its design flows: what the fan must do, and what each branch must absorb or take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from airbough.wire.answer import (
    HoodResult,
    RunResult,
)
from airbough.wire.balance import (
    BalanceSystem,
    BranchBalance,
    Duty,
    Required,
)
from airbough.wire.collector import Collector
from airbough_service import catalogue
from airbough_service.catalogue.checks import check
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network import balance as core
from airbough_service.core.network.losses import Losses, losses
from airbough_service.core.network.tree import dynamic
from airbough_service.shop import collector as fans
from airbough_service.shop.air import standard
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving import tree_answer
from airbough_service.solving.design import at_hoods, limits

By: TypeAlias = Literal["gates", "flow"]
Correction: TypeAlias = Literal["square-root", "exact"]


@dataclass(frozen=True, slots=True)
class Balanced:
    """A balance.

    Attributes:
        shop: the tree.
        result: of the core, by packed row.
        losses: by packed row.
        runs, hoods, branches, system: told, in SI.
    """

    shop: Shop
    result: core.Balance
    losses: Losses
    runs: tuple[RunResult, ...]
    hoods: tuple[HoodResult, ...]
    branches: tuple[BranchBalance, ...]
    system: BalanceSystem


def balanced(shop: Shop, by: By, correction: Correction) -> Balanced:
    """Balance a tree at the design flows of its open hoods.

    Raises:
        Refusal: an open hood without a design flow, or no open hood.
    """
    result = core.balance(shop.tree, shop.gates(), at_hoods(shop), by, correction, limits())
    parts = losses(shop.tree, result.gate, result.flow, result.at_fan)
    rows = {shop.end_row(run.index): run.index for run in shop.runs}
    arms = {rows[arm.row]: arm for arm in result.arms if arm.row in rows}
    return Balanced(
        shop=shop,
        result=result,
        losses=parts,
        runs=tree_answer.runs(shop, parts, result.flow),
        hoods=tree_answer.hoods(shop, parts, result.flow),
        branches=tuple(_branch(shop, arms[index], index, result, by) for index in sorted(arms)),
        system=_system(shop, result, parts, [rows[row] for row in result.governing if row in rows]),
    )


def _branch(shop: Shop, arm: core.ArmBalance, index: int, result: core.Balance, by: str) -> BranchBalance:
    """Return one run at its junction."""
    run, flow = shop.runs[index], float(result.flow[arm.row])
    action = arm.action
    base = {"run": run.id, "governs": arm.governs, "pressure": arm.pressure, "governing_pressure": arm.governing}
    ratio = arm.ratio if np.isfinite(arm.ratio) else None
    if action == "gate":
        rows = {
            arm.row,
            shop.hood_row(index),
        }  # what a balance adds, it adds where the run ends; its own gate is at the hood
        coefficient = sum(float(result.gate[row]) for row in rows) / dynamic(shop.density, run.start)
        opening = _opening(coefficient)
        return BranchBalance(
            **base,  # type: ignore[arg-type]
            ratio=ratio,
            action=action,
            gate_travel=None if opening is None else catalogue.gate_travel(opening),
            gate_loss=arm.added,
            gate_coefficient=coefficient,
            gate_opening=opening,
        )
    if action == "resize":
        exponent = check("resizing-exponent").value
        bore = run.start * (arm.pressure / arm.governing) ** exponent if arm.pressure > 0.0 else None
        return BranchBalance(**base, ratio=ratio, action=action, diameter=bore)  # type: ignore[arg-type]
    return BranchBalance(**base, ratio=ratio, action=action, flow=flow if by == "flow" else None)  # type: ignore[arg-type]


def _opening(coefficient: float) -> float | None:
    """Return a gate's opening with this coefficient; 1 where open it loses more, None where no opening loses it."""
    if coefficient <= catalogue.gate_loss(1.0).coefficient:
        return 1.0
    try:
        return float(catalogue.gate_opening(coefficient))
    except OutsideTableError:
        return None


def _system(shop: Shop, result: core.Balance, parts: Losses, path: list[int]) -> BalanceSystem:
    """Return the system as a whole, and the duty to ask a seller for."""
    flow = float(result.flow[0])
    collector = shop.request.collector or Collector()
    lost = fans.collector_loss(shop, flow)
    outlet = dynamic(shop.density, fans.outlet_diameter(shop, collector.fan)) * flow * flow
    rows = len(shop.discharge)
    arrives = fans.recovery(shop, collector.fan) * flow * flow
    discharge = float(parts.total[:rows].sum()) - arrives if rows else 0.0
    static = result.at_fan + lost - arrives
    share = float(standard().density) / shop.density
    return BalanceSystem(
        flow=flow,
        inlet_static_pressure=min(float(parts.static_pressure[shop.end_row(root)]) for root in shop.shape.roots),
        inlet_total_pressure=-(result.at_fan - (float(parts.total[:rows].sum()) if rows else 0.0)),
        collector_loss=lost,
        discharge_loss=discharge,
        governing_path=tuple(shop.runs[index].id for index in path),
        required=Required(
            flow=flow,
            fan_static_pressure=static,
            fan_total_pressure=static + outlet,
            at_standard_air=Duty(
                flow=flow, fan_static_pressure=static * share, fan_total_pressure=(static + outlet) * share
            ),
        ),
    )
