"""Shaft power and motor load, only where the caller gives power points or an efficiency."""

from __future__ import annotations

from dataclasses import dataclass

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.collector import Collector
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.tree import Tree
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws import power as laws
from airbough_service.core.laws.fan import CurveError
from airbough_service.shop.air import (
    air_of,
    standard,
)
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import (
    HOLDS,
    finding,
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


def powered(
    request: Tree, shop: Shop, flow: float, fan_total_pressure: float, state: str | None = None
) -> tuple[Power | None, tuple[Finding, ...]]:
    """Return the power and its findings: `motor-overloaded`, or `power-beyond-points` where no power is told."""
    try:
        found = power(request, shop, flow, fan_total_pressure)
    except OutsideTableError as error:
        return None, (_beyond(request.units, error, state),)
    return found, findings(request, found, state)


def findings(request: Tree, found: Power | None, state: str | None = None) -> tuple[Finding, ...]:
    """Return `motor-overloaded` where the shaft takes more than the motor's rated power."""
    if found is None or found.motor_load is None or found.motor_load <= 1.0 + HOLDS:
        return ()
    assert request.collector is not None
    assert request.collector.motor is not None
    rated = float(request.collector.motor.rated_power)
    overloaded = finding(
        request.units,
        "motor-overloaded",
        f"the shaft takes {show(request.units, 'power', found.shaft_power)}, more than the motor's rated "
        f"{show(request.units, 'power', rated)}: it may overheat or trip",
        at="collector.motor.rated_power",
        state=state,
        quantity="shaft_power",
        kind="power",
        value=found.shaft_power,
        maximum=rated,
        suggestion=Suggestion(text="a motor of more power, a slower fan, or less flow by partly shut gates"),
        source="caller",
    )
    return (overloaded,)


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


def _beyond(preset: Preset, error: OutsideTableError, state: str | None) -> Finding:
    """Return the finding of a flow beyond the power points."""
    low = error.value < error.low
    return finding(
        preset,
        "power-beyond-points",
        "the power points do not reach this flow, and nothing is extrapolated",
        at="collector.power",
        state=state,
        quantity="flow",
        kind="flow",
        value=error.value,
        minimum=error.low if low else None,
        maximum=None if low else error.high,
    )
