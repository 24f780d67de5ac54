"""The request's fan made ready: rated air, speed, what its pressure means, and the collector's losses."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from airbough.wire.collector import (
    Collector,
    CollectorLoss,
    Fan,
    FanPoint,
)
from airbough.wire.problem import Fault
from airbough_service.catalogue import Loss, change_of_size
from airbough_service.core.laws import fan as curves
from airbough_service.core.network.tree import dynamic
from airbough_service.shop.air import air_of, rated_term
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal

_MOST_CURVES: Final = 256  # of which the pieces are remembered,
_MOST_POINTS: Final = 24  # with no more points than these


def build(shop: Shop, fan: Fan | None = None, path: str = "collector.fan") -> curves.Fan:
    """Return what the collector leaves for the tree.

    Args:
        shop: the tree; its request's collector gives losses and discharge.
        fan: in place of the collector's own; looked at with the tree, as every fan of a request.
        path: of the fan in the document.

    Raises:
        Refusal: no fan.
    """
    collector = shop.request.collector or Collector()
    chosen = collector.fan if fan is None else fan
    if chosen is None:
        detail = "this question needs a fan: its curve under collector.fan"
        raise Refusal("not-a-duct-tree", [Fault(path=path, code="fan-missing", detail=detail)])
    terms = [(rated_term(loss, shop.air), loss.exponent) for loss in outside_curve(collector, chosen)]
    return curves.Fan(
        _pieces(chosen, shop), np.array(terms, float).reshape(-1, 2), _off_curve(chosen, shop), recovery(shop, chosen)
    )


def outside_curve(collector: Collector | None, fan: Fan | None) -> list[CollectorLoss]:
    """Return the collector's losses that a fan's curve does not include; without a fan all of them."""
    inside = () if fan is None else fan.includes or ()
    return [] if collector is None else [loss for loss in collector.losses if loss.name not in inside]


def on_curve(shop: Shop, fan: Fan, flow: float, at_fan: float) -> float:
    """Return what a fan's curve must have at a flow to leave so much for the tree, Pa, at this speed and air."""
    losses = outside_curve(shop.request.collector, fan)
    outside = sum(rated_term(loss, shop.air) * flow**loss.exponent for loss in losses)
    return float(at_fan + outside + (_off_curve(fan, shop) - recovery(shop, fan)) * flow * flow)


def loss_terms(shop: Shop) -> list[tuple[float, float]]:
    """Return a and n of each collector loss a * flow^n at the tree's air, those inside the curve too."""
    collector = shop.request.collector or Collector()
    return [(rated_term(loss, shop.air), loss.exponent) for loss in collector.losses]


def collector_loss(shop: Shop, flow: float) -> float:
    """Return the loss of cyclone, filter and the like at this flow, Pa; all of them, whatever the curve includes."""
    return sum(constant * flow**exponent for constant, exponent in loss_terms(shop)) if flow > 0.0 else 0.0


def outlet_diameter(shop: Shop, fan: Fan | None) -> float:
    """Return the fan's outlet bore, m: the caller's, else the first discharge piece's, else the widest at the inlet."""
    if fan is not None and fan.outlet_diameter is not None:
        return float(fan.outlet_diameter)
    if shop.discharge:
        return shop.discharge[0].start
    return max(shop.runs[root].end for root in shop.shape.roots)


def _pieces(fan: Fan, shop: Shop) -> np.ndarray:
    """Return the curve at this speed and air."""
    rated, _ = air_of(fan.rated_air, "")
    linear = fan.interpolation == "linear"
    if len(fan.curve) > _MOST_POINTS:
        return curves.scale(_through(fan.curve, linear), fan.speed_ratio, shop.density / float(rated.density))
    return curves.scale(_kept(fan.curve, linear), fan.speed_ratio, shop.density / float(rated.density))


def _through(points: tuple[FanPoint, ...], linear: bool) -> np.ndarray:
    """Return the pieces of a curve through points in SI, as rated."""
    flows, pressures = [float(p.flow) for p in points], [float(p.pressure) for p in points]
    return curves.curve_pieces(flows, pressures, linear=linear)


_kept = lru_cache(_MOST_CURVES)(_through)


def _off_curve(fan: Fan, shop: Shop) -> float:
    """Return the velocity pressure to take off the curve so that fan static pressure is left, Pa per (m3/s)^2.

    A discharge duct is fed from the outlet: its losses are charged as total pressure, so the outlet's velocity
    pressure, which a fan static rating leaves out, is given back.
    """
    if fan.rated_as == "inlet-static":
        assert fan.inlet_diameter is not None
        return dynamic(shop.density, float(fan.inlet_diameter))
    if fan.rated_as == "fan-total":
        assert fan.outlet_diameter is not None
        return dynamic(shop.density, float(fan.outlet_diameter))
    return 0.0


def recovery(shop: Shop, fan: Fan | None) -> float:
    """Return the outlet velocity pressure that helps a discharge duct, Pa per (m3/s)^2; 0 with free discharge.

    What the change of size from the fan's outlet to the duct costs does not arrive there, and no more of the rest is
    counted than what the duct's own fittings and its end lose: a discharge never gives pressure back.
    """
    if not shop.discharge:
        return 0.0
    arriving = dynamic(shop.density, outlet_diameter(shop, fan)) - outlet_change(shop, fan)[1]
    return min(arriving, local_losses(shop))


def local_losses(shop: Shop) -> float:
    """Return what the fittings of the discharge and its end lose together, Pa per (m3/s)^2."""
    return sum(
        piece.coefficient * piece.count * dynamic(shop.density, piece.bore)
        for part in shop.discharge
        for piece in part.pieces
    )


def outlet_change(shop: Shop, fan: Fan | None) -> tuple[Loss | None, float]:
    """Return the abrupt change of size from the fan's outlet to the discharge duct, and its loss in Pa per (m3/s)^2."""
    outlet, first = outlet_diameter(shop, fan), shop.discharge[0].start
    if abs(outlet - first) <= 1.0e-9 * first:
        return None, 0.0
    loss = change_of_size(outlet, first, None)
    return loss, loss.coefficient * dynamic(shop.density, min(outlet, first))
