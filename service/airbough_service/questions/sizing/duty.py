"""What the fan must give beyond the tree in each state, and what pressure is there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough.wire.collector import Collector
from airbough.wire.sizing import SizingRequest
from airbough_service.core.laws import fan as curves
from airbough_service.core.limits import most_held
from airbough_service.core.network.governing import own_losses
from airbough_service.questions.sizing.states import State
from airbough_service.shop import collector as fans
from airbough_service.shop.shop import Shop

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Duty:
    """Pressures at the fan, Pa, shape (states,).

    Attributes:
        flow: m3/s.
        constant: fan static pressure that collector and discharge take, whatever the bores.
        available: fan static pressure that the caller gives, or else the fan at that flow; not a number where the
            curve does not reach; None where neither is given.
        of_fan: that of the fan alone.
        fan: what the collector leaves for the tree, if there is one.
    """

    flow: Floats
    constant: Floats
    available: Floats | None
    of_fan: Floats | None
    fan: curves.Fan | None

    def limit(self, rule: str) -> Floats:
        """Return the pressure that the rule allows in each state; -inf off the fan's curve, inf where none is told."""
        known = self.of_fan if rule == "design_flow" else self.available
        if known is None:
            return np.full(self.flow.size, np.inf)
        return np.where(np.isnan(known), -np.inf, most_held(known))


def duty(request: SizingRequest, shop: Shop, states: tuple[State, ...]) -> Duty:
    """Return what the collector asks and gives.

    Raises:
        Refusal: with every fault of the fan and the losses.
    """
    collector = request.collector or Collector()
    flow = np.array([sum(float(state.flow[root]) for root in shop.shape.roots) for state in states])
    lost = np.array([fans.collector_loss(shop, float(q)) for q in flow])
    discharge = np.array([_discharge(shop, q) for q in flow])
    outlet = fans.recovery(shop, collector.fan) * flow * flow
    fan = fans.build(shop) if collector.fan is not None else None
    of_fan = None
    if fan is not None:
        inside = (flow >= fan.lowest) & (flow <= fan.highest)
        left = np.array([fan.left_for_tree(float(q)) if ok else np.nan for q, ok in zip(flow, inside, strict=True)])
        of_fan = left + lost - outlet
    given = request.limits.pressure_available
    available = of_fan if given is None else np.full(flow.size, float(given))
    return Duty(flow, lost + discharge - outlet, available, of_fan, fan)


def _discharge(shop: Shop, flow: float) -> float:
    """Return the losses of the pieces after the fan, Pa."""
    rows = len(shop.discharge)
    if rows == 0:
        return 0.0
    at_rows = np.zeros(shop.tree.table.shape[0])
    at_rows[:rows] = flow
    return float(own_losses(shop.tree, at_rows, shop.tree.gate)[:rows].sum())
