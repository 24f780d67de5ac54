"""What the motor takes in each state, where the caller says enough; nothing is assumed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from airbough.wire.collector import (
    Collector,
    Fan,
)
from airbough.wire.problem import Fault
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.fan import CurveError
from airbough_service.core.laws.power import (
    power_at,
    power_of_efficiency,
    power_pieces,
)
from airbough_service.core.network.operating import Operating
from airbough_service.core.network.tree import dynamic
from airbough_service.shop.air import (
    air_of,
    standard,
)
from airbough_service.shop.collector import outlet_diameter
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal

Taken: TypeAlias = Callable[[Operating], float | None]
"""Gives the electrical power of a state, W; None where it does not follow from what is given."""


def taken(shop: Shop) -> Taken | None:
    """Return what the motor takes; None where power points or efficiency, or the motor's efficiency, are not given.

    Raises:
        Refusal: power points that make no curve, or an efficiency of 0.
    """
    collector = shop.request.collector
    if collector is None or collector.fan is None or not (collector.power or collector.efficiency is not None):
        return None
    if collector.motor is None or collector.motor.efficiency is None:
        return None
    motor = _above_zero(float(collector.motor.efficiency), "collector.motor.efficiency")
    shaft = _of_points(shop, collector, collector.fan) if collector.power else _of_efficiency(shop, collector)

    def power(solved: Operating) -> float | None:
        at_shaft = None if solved.outcome == "beyond-fan-curve" else shaft(solved)
        return None if at_shaft is None else at_shaft / motor

    return power


def _above_zero(share: float, path: str) -> float:
    if share <= 0.0:
        raise Refusal("out-of-range", [Fault(path=path, code="out-of-range", detail="must be above 0")])
    return share


def _of_points(shop: Shop, collector: Collector, fan: Fan) -> Taken:
    """Return the shaft power by the caller's points and the fan laws; beyond the points it is not known."""
    rated, faults = air_of(fan.rated_air, "collector.fan.rated_air") if fan.rated_air else (standard(), [])
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    flows, powers = [float(point.flow) for point in collector.power], [float(point.power) for point in collector.power]
    try:
        pieces = power_pieces(flows, powers, fan.speed_ratio, shop.density / float(rated.density))
    except CurveError as error:
        fault = Fault(path="collector.power", code="curve-not-rising", detail=str(error))
        raise Refusal("not-a-duct-tree", [fault]) from None

    def shaft(solved: Operating) -> float | None:
        try:
            return power_at(pieces, float(solved.flow[0]))
        except OutsideTableError:
            return None

    return shaft


def _of_efficiency(shop: Shop, collector: Collector) -> Taken:
    """Return the shaft power by fan total efficiency; without flow an efficiency says nothing of power."""
    assert collector.efficiency is not None
    efficiency = _above_zero(float(collector.efficiency), "collector.efficiency")
    at_outlet = dynamic(shop.density, outlet_diameter(shop, collector.fan))

    def shaft(solved: Operating) -> float | None:
        flow = float(solved.flow[0])
        if flow <= 0.0:
            return None
        pressure = next((at.pressure for at in solved.crossings if abs(at.flow - flow) <= 1.0e-9 * flow), None)
        if pressure is None:
            return None
        return power_of_efficiency(flow, pressure + at_outlet * flow * flow, efficiency)

    return shaft
