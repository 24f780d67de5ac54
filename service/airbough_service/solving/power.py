"""Shaft power and motor load, only where the caller gives power points or an efficiency."""

from __future__ import annotations

from typing import overload

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from airbough.wire.collector import Collector, Fan, Motor
from airbough.wire.problem import Fault
from airbough_service.catalogue.power import power_shape
from airbough_service.core.laws import power as laws
from airbough_service.core.laws.curve import curve_values
from airbough_service.core.laws.fan import CurveError
from airbough_service.core.laws.fan import Fan as Curve
from airbough_service.core.limits import above
from airbough_service.core.network.tree import dynamic
from airbough_service.shop.air import air_of
from airbough_service.shop.collector import outlet_diameter
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import show
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
LEAST_EFFICIENCY = 0.01
LEAST_POWER = 1.0  # W


class Power(Struct, frozen=True):
    """Shaft power [W], and motor load where the motor's rated power is given (1: at its rated power)."""

    shaft_power: float
    motor_load: float | None


class Shaft(Struct, frozen=True):
    """What the fan's shaft takes by flow, at this speed and air.

    Attributes:
        pieces: curve through the power points, shape (pieces, 6); None where an efficiency is given.
        efficiency: fan static efficiency at its best point, made from the caller's total one; used without points.
        best: that point: where flow times static pressure is greatest on the fan's curve; None with points.
        rated_power: of the motor, W; None where it is not given.
        motor_efficiency: None where it is not given.
    """

    pieces: Floats | None
    efficiency: float
    best: laws.BestPoint | None
    rated_power: float | None
    motor_efficiency: float | None

    def watts(self, flow: Floats, fan_static: Floats) -> Floats:
        """Return the shaft power of each state [W]; not a number where it is not known.

        It is not known beyond the power points. Where an efficiency is all that is given, it holds at the best point,
        and the power elsewhere follows a published shape.

        Args:
            flow: through the fan [m3/s], shape (S,).
            fan_static: fan static pressure at this flow [Pa], shape (S,).
        """
        if self.pieces is not None:
            return np.asarray(curve_values(self.pieces, flow))
        if self.best is None or self.best.flow <= 0.0:
            return np.full(np.shape(flow), np.nan)
        return laws.power_of_efficiency(flow, fan_static, self.efficiency, self.best, power_shape().shape)

    def at(self, flow: float, fan_static: float) -> Power | None:
        """Return power and load at one flow; None where not known. Arguments as of `watts`."""
        watts = float(self.watts(np.array([flow]), np.array([fan_static]))[0])
        if np.isnan(watts):
            return None
        return Power(watts, None if self.rated_power is None else self.load(watts))

    @overload
    def load(self, watts: float) -> float: ...
    @overload
    def load(self, watts: Floats) -> Floats: ...
    def load(self, watts: float | Floats) -> float | Floats:
        """Return a shaft power over the motor's rated power, not a number where that is not given; of arrays too."""
        return watts / (np.nan if self.rated_power is None else self.rated_power)

    @overload
    def reaches(self, flow: float) -> bool: ...
    @overload
    def reaches(self, flow: Floats) -> NDArray[np.bool_]: ...
    def reaches(self, flow: float | Floats) -> bool | NDArray[np.bool_]:
        """Return whether the power points reach a flow; an efficiency reaches every one; of an array, where."""
        return (flow >= self.lowest) & (flow <= self.highest)

    @property
    def lowest(self) -> float:
        """Least flow of the power points, m3/s."""
        return 0.0 if self.pieces is None else float(self.pieces[0, 0])

    @property
    def highest(self) -> float:
        """Greatest flow of the power points, m3/s."""
        return np.inf if self.pieces is None else float(self.pieces[-1, 1])


@overload
def overloads(load: float) -> bool: ...
@overload
def overloads(load: Floats) -> NDArray[np.bool_]: ...
def overloads(load: float | Floats) -> bool | NDArray[np.bool_]:
    """Return whether a motor is overloaded by this share of its rated power; of an array, where."""
    return above(load, 1.0)


def shaft_of(shop: Shop, curve: Curve, fan: Fan | None = None) -> Shaft | None:
    """Return what the fan's shaft takes; None where the caller gave nothing to reckon it from.

    Args:
        shop: the tree with its collector.
        curve: the fan's, ready.
        fan: as asked, where it is not the collector's own; the power points are those of the collector's own fan.

    Raises:
        Refusal: power points whose flows do not rise, or fewer than two; efficiency or rated power of next to nothing.
    """
    collector = shop.request.collector
    if collector is None or not (collector.power or collector.efficiency is not None):
        return None
    motor = collector.motor
    rated = None if motor is None else rated_power(shop, motor)
    given = motor is not None and motor.efficiency is not None
    best = None if collector.power else laws.best_point(curve.pieces, -curve.quadratic)
    given_efficiency = 1.0 if collector.power else at_least("collector.efficiency", collector.efficiency)
    outlet = dynamic(shop.density, outlet_diameter(shop, fan or collector.fan))
    return Shaft(
        pieces=_pieces(shop, collector) if collector.power else None,
        efficiency=1.0 if best is None else given_efficiency * _static(best, outlet),
        best=best,
        rated_power=rated,
        motor_efficiency=at_least("collector.motor.efficiency", motor.efficiency) if given else None,  # type: ignore[union-attr]
    )


def _static(best: laws.BestPoint, outlet: float) -> float:
    """Return a fan's static pressure over its total one at its best point.

    Args:
        best: that point.
        outlet: velocity pressure at the fan's outlet, Pa per (m3/s)^2.
    """
    total = best.pressure + outlet * best.flow * best.flow
    return best.pressure / total if total > 0.0 else 1.0


def rated_power(shop: Shop, motor: Motor) -> float:
    """Return a motor's rated output [W], or refuse one of next to nothing."""
    rated = float(motor.rated_power)
    if rated < LEAST_POWER:
        raise _next_to_nothing("collector.motor.rated_power", show(shop.request.units, "power", LEAST_POWER))
    return rated


def at_least(path: str, share: float | str | None) -> float:
    """Return an efficiency or a power factor, or refuse one of next to nothing."""
    if share is None or float(share) < LEAST_EFFICIENCY:
        raise _next_to_nothing(path, f"{LEAST_EFFICIENCY:g}")
    return float(share)


def _next_to_nothing(path: str, least: str) -> Refusal:
    """Return the refusal of a value of next to nothing."""
    return Refusal("out-of-range", [Fault(path=path, code="out-of-range", detail=f"must be at least {least}")])


def _pieces(shop: Shop, collector: Collector) -> Floats:
    """Return the power curve at this speed and air."""
    flows, powers = [float(p.flow) for p in collector.power], [float(p.power) for p in collector.power]
    fan = collector.fan
    rated, faults = air_of(None if fan is None else fan.rated_air, "collector.fan.rated_air")
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    try:
        speed = 1.0 if fan is None else fan.speed_ratio
        return laws.power_pieces(flows, powers, speed, shop.density / float(rated.density))
    except CurveError as error:
        fault = Fault(path="collector.power", code="power-not-rising", detail=str(error))
        raise Refusal("not-a-duct-tree", [fault]) from None
