"""Shaft power and motor load, only where the caller gives power points or an efficiency."""

from __future__ import annotations

from dataclasses import dataclass

from airbough.wire.collector import Collector
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough_service.core.laws import power as laws
from airbough_service.core.laws.fan import CurveError
from airbough_service.shop.air import (
    air_of,
    standard,
)
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import (
    show,
)
from airbough_service.terms.refusal import Refusal

LEAST_EFFICIENCY = 0.01
LEAST_POWER = 1.0  # W


@dataclass(frozen=True, slots=True)
class Power:
    """Shaft power [W], and motor load where the motor's rated power is given (1: at its rated power)."""

    shaft_power: float
    motor_load: float | None


def power(request: Tree, shop: Shop, flow: float, fan_total_pressure: float) -> Power | None:
    """Return shaft power and motor load at a flow, or None where the caller gave nothing to reckon them from.

    Args:
        request: in SI.
        shop: the tree; its density is that of the fan's air.
        flow: through the fan [m3/s].
        fan_total_pressure: rise of total pressure over the fan at this flow [Pa]; used with an efficiency.

    Raises:
        Refusal: power points whose flows do not rise, or fewer than two; efficiency or rated power of next to nothing.
        OutsideTableError: a flow beyond the power points: nothing is extrapolated.
    """
    collector = request.collector
    if collector is None or flow <= 0.0:
        return None
    if collector.power:
        shaft = laws.power_at(pieces(collector, shop.density), flow)
    elif collector.efficiency is not None:
        efficiency = float(collector.efficiency)
        if efficiency < LEAST_EFFICIENCY:
            raise _next_to_nothing("collector.efficiency", f"{LEAST_EFFICIENCY:g}")
        shaft = laws.power_of_efficiency(flow, fan_total_pressure, efficiency)
    else:
        return None
    if collector.motor is None:
        return Power(shaft, None)
    rated = float(collector.motor.rated_power)
    if rated < LEAST_POWER:
        raise _next_to_nothing("collector.motor.rated_power", show(request.units, "power", LEAST_POWER))
    return Power(shaft, shaft / rated)


def _next_to_nothing(path: str, least: str) -> Refusal:
    """Return the refusal of a value of next to nothing."""
    return Refusal("out-of-range", [Fault(path=path, code="out-of-range", detail=f"must be at least {least}")])


def pieces(collector: Collector, density: float) -> laws.Floats:
    """Return the power curve at this speed and air."""
    flows, powers = [float(p.flow) for p in collector.power], [float(p.power) for p in collector.power]
    speed, rated = 1.0, standard()
    if collector.fan is not None:
        speed = collector.fan.speed_ratio
        rated, faults = air_of(collector.fan.rated_air, "collector.fan.rated_air")
        if faults:
            raise Refusal("not-a-duct-tree", faults)
    try:
        return laws.power_pieces(flows, powers, speed, density / float(rated.density))
    except CurveError as error:
        fault = Fault(path="collector.power", code="power-not-rising", detail=str(error))
        raise Refusal("not-a-duct-tree", [fault]) from None
