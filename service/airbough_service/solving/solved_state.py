"""One state of the gates solved: what really flows, what is lost, what the system as a whole does."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from airbough.wire.answer import (
    HoodResult,
    RunResult,
)
from airbough.wire.collector import Fan
from airbough.wire.operating_point import (
    Crossing,
    OperatingPointSystem,
)
from airbough_service.core.laws import fan as curves
from airbough_service.core.network.losses import Losses, losses
from airbough_service.core.network.operating import (
    Operating,
    operate,
)
from airbough_service.shop import gates
from airbough_service.shop.gates import AS_STATED, GateState, Standing
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving import (
    tree_answer,
)
from airbough_service.solving.motor import supply_of
from airbough_service.solving.power import Power, Shaft, shaft_of
from airbough_service.solving.suction import refuse_deep_suction

Floats = NDArray[np.float64]


class Solved(Struct, frozen=True, dict=True):
    """One state solved.

    Attributes:
        shop: the tree.
        fan: what the collector leaves for it.
        gate: gate coefficients by packed row.
        openings: run number -> opening where the state departs from the document.
        named: machines that the state names as open, by number.
        standing: which hoods are open, and which runs they serve.
        operating: outcome and flows.
        losses: by packed row.
        at_fan: fall of total pressure from the room to the fan's inlet and past the discharge, Pa; 0 where not known.
        fan_static: fan static pressure, Pa; 0 where not known.
        known: whether the fan's curve has a point for the state, no flow included, so that pressures are known.
        runs, hoods: told, in SI; empty where the curve has no point for the state.
    """

    shop: Shop
    fan: curves.Fan
    gate: Floats
    openings: dict[int, float]
    named: frozenset[int]
    standing: Standing
    operating: Operating
    losses: Losses
    at_fan: float
    fan_static: float
    known: bool
    runs: tuple[RunResult, ...]
    hoods: tuple[HoodResult, ...]

    @cached_property
    def shaft(self) -> Shaft | None:
        """What the shaft of the collector's own fan takes; raises as `shaft_of`."""
        return shaft_of(self.shop, self.fan)

    @cached_property
    def power(self) -> Power | None:
        """Power and load of the collector's own fan in this state; None where nothing is given for it, or not known."""
        return _power(self, self.shaft if self.known else None)


def on_curve(fan: curves.Fan, operating: Operating) -> bool:
    """Return whether the fan's curve has a point for what was found; nothing is extrapolated."""
    return operating.outcome != "beyond-fan-curve" and not fan.begins_beyond(float(operating.flow[0]))


def solve(shop: Shop, fan: curves.Fan, state: GateState = AS_STATED) -> Solved:
    """Solve one state of the gates.

    Raises:
        Refusal: suction beyond what one density can answer.
    """
    openings = state.openings
    standing = gates.standing(shop, openings)
    gate = shop.gates(openings)
    operating = operate(shop.tree, fan, gate)
    known = on_curve(fan, operating)
    at_fan, fan_static = _pressures(fan, operating) if known else (0.0, 0.0)
    parts = losses(shop.tree, gate, operating.flow, at_fan)
    runs: tuple[RunResult, ...] = ()
    hoods: tuple[HoodResult, ...] = ()
    if known:
        runs = tree_answer.runs(shop, parts, operating.flow, standing)
        hoods = tree_answer.hoods(shop, parts, operating.flow, standing.open)
        refuse_deep_suction(shop, runs)
    named = state.named
    return Solved(shop, fan, gate, openings, named, standing, operating, parts, at_fan, fan_static, known, runs, hoods)


def _pressures(fan: curves.Fan, operating: Operating) -> tuple[float, float]:
    """Return what the fan leaves for the tree, and its static pressure, at the flow that was found, Pa."""
    flow = float(operating.flow[0])
    there = next((crossing.pressure for crossing in operating.crossings if crossing.flow == flow), None)
    return fan.left_for_tree(flow), fan.static_pressure(flow) if there is None else there


def end_pressure(fan: curves.Fan, flow: float) -> float:
    """Return the fan static pressure at a point of the curve, Pa, as given: its polynomial is off by a last digit."""
    return float(f"{fan.static_pressure(flow):.14g}")


def most_starved(hoods: tuple[HoodResult, ...]) -> HoodResult | None:
    """Return the open hood with the least share of its design flow."""
    known = [
        (hood.share_of_design, place)
        for place, hood in enumerate(hoods)
        if hood.open and hood.share_of_design is not None
    ]
    return hoods[min(known)[1]] if known else None


def slowest(runs: tuple[RunResult, ...]) -> RunResult | None:
    """Return the run with the slowest air of those where air flows; of a leaking run, where least has leaked in."""
    speeds = [
        ((run.velocity * tree_answer.least_flow(run) / run.flow), place)
        for place, run in enumerate(runs)
        if not run.idle and run.flow > 0.0
    ]
    return runs[min(speeds)[1]] if speeds else None


def system(solved: Solved) -> OperatingPointSystem:
    """Return the system as a whole, in SI."""
    shop, operating, fan = solved.shop, solved.operating, solved.fan
    at_fan = float(operating.flow[0])
    worst, slow = most_starved(solved.hoods), slowest(solved.runs)
    rest: dict[str, Any] = {}
    if operating.crossings:
        rest = {
            "mass_residual": solved.losses.mass_residual,
            "energy_residual": solved.losses.energy_residual,
            "most_starved_hood": None if worst is None else worst.run,
            "slowest_run": None if slow is None else slow.id,
        }
    if operating.outcome != "beyond-fan-curve":
        rest["flow"] = at_fan
    if solved.known:
        rest |= {
            "fan_static_pressure": solved.fan_static,
            "inlet_static_pressure": tree_answer.inlet_static_pressure(shop, solved.runs),
            "collector_loss": fan.collector_loss(at_fan),
            "discharge_loss": tree_answer.discharge_loss(shop, solved.losses, at_fan, fan.recovery),
        }
    spent, supply = power_of(solved), supply_of(shop)
    return OperatingPointSystem(
        motor_current=None if supply is None or spent is None else supply.current(spent.shaft_power),
        motor_full_load_current=None if supply is None else supply.current(supply.rated),
        shaft_power=None if spent is None else spent.shaft_power,
        motor_load=None if spent is None else spent.motor_load,
        crossings=tuple(Crossing(flow=c.flow, pressure=c.pressure, stable=c.stable) for c in operating.crossings),
        flow_at_least=operating.flow_at_least,
        flow_at_most=operating.flow_at_most,
        pressure_needed=operating.pressure_needed,
        **rest,
    )


def power_of(solved: Solved, fan: Fan | None = None) -> Power | None:
    """Return shaft power and motor load in a state; None where nothing is given for it, or it is not known.

    Args:
        solved: the state.
        fan: where it is not the collector's own.
    """
    if fan is None:
        return solved.power
    return _power(solved, shaft_of(solved.shop, solved.fan, fan) if solved.known else None)


def _power(solved: Solved, shaft: Shaft | None) -> Power | None:
    return None if shaft is None else shaft.at(float(solved.operating.flow[0]), solved.fan_static)
