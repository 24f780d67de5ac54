"""A tree balanced at its design flows: what the fan must do, and what each branch must absorb or take.

The fan static pressure required is the total pressure that the governing path loses from the room to the fan's inlet,
and the pieces after the fan (`at_fan` of `core.network.governing`), plus the collector's losses at the total flow, less
the outlet's velocity pressure as far as it helps a discharge duct along (both `shop.collector`).
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Any, Literal, TypeAlias

from msgspec import Struct

from airbough.wire.answer import (
    HoodResult,
    RunResult,
)
from airbough.wire.balance import (
    BalanceSystem,
    BranchBalance,
    CurveDuty,
    Duty,
    Required,
)
from airbough.wire.collector import Collector
from airbough_service.core.network import governing as core
from airbough_service.core.network.losses import Losses, losses
from airbough_service.core.network.tree import dynamic
from airbough_service.shop import collector as fans
from airbough_service.shop.air import air_of, standard
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving import tree_answer
from airbough_service.solving.absorbing import gate_runs, places_of, told_gate
from airbough_service.solving.design import at_hoods, limits
from airbough_service.solving.resizing import Resizing

By: TypeAlias = Literal["gates", "flow"]
Correction: TypeAlias = Literal["square-root", "exact"]


class Balanced(Struct, frozen=True):
    """A balance.

    Attributes:
        shop: the tree.
        by: what balances it.
        result: of the core, by packed row.
        losses: by packed row.
        runs, hoods, branches, system: told, in SI.
    """

    shop: Shop
    by: By
    result: core.Balance
    losses: Losses
    runs: tuple[RunResult, ...]
    hoods: tuple[HoodResult, ...]
    branches: tuple[BranchBalance, ...]
    system: BalanceSystem


def balanced(
    shop: Shop, by: By, correction: Correction, may_stand: Collection[str] = (), *, bores: bool = True
) -> Balanced:
    """Balance a tree at the design flows of its open hoods, with what leaks in at the pressures that these need.

    Args:
        shop: the tree.
        by: gates absorb, or branches take more flow.
        correction: with `by` flow: how a flow is raised.
        may_stand: ids of runs where a gate may stand.
        bores: whether to look for the diameters of branches to be resized.

    Raises:
        Refusal: an open hood without a design flow, or no open hood.
    """
    gates = gate_runs(shop, may_stand)
    way = core.Way(by, correction, limits(), places_of(shop, gates))
    result = core.balance(shop.tree, shop.gates(), at_hoods(shop), way)
    parts = losses(shop.tree, result.gate, result.flow, result.at_fan)
    rows = {row: index for index, row in enumerate(shop.end_rows.tolist())}
    arms = {rows[arm.row]: arm for arm in result.arms}
    resizing = Resizing(shop, result, way, may_stand) if bores else None
    runs = tree_answer.runs(shop, parts, result.flow)
    return Balanced(
        shop=shop,
        by=by,
        result=result,
        losses=parts,
        runs=runs,
        hoods=tree_answer.hoods(shop, parts, result.flow),
        branches=tuple(
            _branch(shop, arms[index], (index, gates[index]), result, by, resizing) for index in sorted(arms)
        ),
        system=_system(shop, result, parts, runs, [rows[row] for row in result.governing if row in rows]),
    )


def _branch(
    shop: Shop,
    arm: core.ArmBalance,
    places: tuple[int, int | None],
    result: core.Balance,
    by: str,
    resizing: Resizing | None,
) -> BranchBalance:
    """Return one run at its junction; `places`: it, and the run with the gate of the branch that ends with it."""
    index, gate = places
    action: dict[str, Any] = {"action": arm.action}
    if arm.action == "gate":
        assert gate is not None
        action = told_gate(shop, arm, gate, result)
    elif arm.action == "resize":
        action |= {} if resizing is None else _resized(resizing, index)
    elif by == "flow":
        action["flow"] = float(result.flow[arm.row])
    return BranchBalance(
        run=shop.runs[index].id,
        governs=arm.governs,
        pressure=arm.pressure,
        governing_pressure=arm.governing,
        ratio=arm.ratio if math.isfinite(arm.ratio) else None,
        **action,
    )


def _resized(resizing: Resizing, index: int) -> dict[str, Any]:
    """Return the diameter that a run is to have, and the nominal one next to it."""
    bore = resizing.bore(index)
    listed = None if bore is None else resizing.listed(index, bore)
    if listed is None:
        return {"diameter": bore}
    return {"diameter": bore, "listed_diameter": listed[0], "listed_ratio": listed[1]}


def _system(
    shop: Shop, result: core.Balance, parts: Losses, runs: tuple[RunResult, ...], path: list[int]
) -> BalanceSystem:
    """Return the system as a whole, and the duty to ask a seller for."""
    flow = float(result.flow[0])
    collector = shop.request.collector or Collector()
    lost = fans.collector_loss(shop, flow)
    outlet = dynamic(shop.density, fans.outlet_diameter(shop, collector.fan)) * flow * flow
    recovery = fans.recovery(shop, collector.fan)
    static = result.at_fan + lost - recovery * flow * flow
    share = float(standard().density) / shop.density
    return BalanceSystem(
        flow=flow,
        inlet_static_pressure=tree_answer.inlet_static_pressure(shop, runs),
        inlet_total_pressure=tree_answer.discharge_loss(shop, parts, flow, 0.0) - result.at_fan,
        collector_loss=lost,
        discharge_loss=tree_answer.discharge_loss(shop, parts, flow, recovery),
        governing_path=tuple(shop.runs[index].id for index in path),
        required=Required(
            flow=flow,
            fan_static_pressure=static,
            fan_total_pressure=static + outlet,
            at_standard_air=Duty(
                flow=flow, fan_static_pressure=static * share, fan_total_pressure=(static + outlet) * share
            ),
            of_curve=_of_curve(shop, flow, result.at_fan),
        ),
    )


def _of_curve(shop: Shop, flow: float, at_fan: float) -> CurveDuty | None:
    """Return what the document's curve must say, in its own terms; None without a fan."""
    fan = (shop.request.collector or Collector()).fan
    if fan is None:
        return None
    pressure = fans.on_curve(shop, fan, flow, at_fan)
    rated, _ = air_of(fan.rated_air, "")
    return CurveDuty(
        rated_as=fan.rated_as,
        includes=fan.includes or (),
        flow=flow,
        pressure=pressure,
        rated_flow=flow / fan.speed_ratio,
        rated_pressure=pressure / fan.speed_ratio**2 * float(rated.density) / shop.density,
    )
