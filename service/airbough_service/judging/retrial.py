"""Trying a change of the tree with the engine, without reading the document again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import tree as packing
from airbough_service.core.network.leaks import whole_runs
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import (
    Operating,
    operate,
)
from airbough_service.shop.packing import pack_shop
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
    packed,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trial:
    """What a change brings.

    Attributes:
        operating: outcome and flows by packed row.
        flow: at the downstream end of each run, at its hood's row, m3/s.
        total_loss: of each run, at its hood's row, Pa.
    """

    operating: Operating
    flow: Floats
    total_loss: Floats


def retried(shop: Shop, changed: dict[int, ShopRun]) -> Shop:
    """Return the shop with some runs in place of its own; bores at junctions stay."""
    runs = tuple(changed.get(run.index, run) for run in shop.runs)
    if shop.leaks is not None:  # a leaking run is two rows of the packed tree: all are packed anew
        request, leaking = shop.request, shop.leaking
        repacked, leaks = pack_shop(request, shop.air, shop.shape, runs, shop.discharge, leaking, {})
        return replace(shop, runs=runs, tree=repacked, leaks=leaks)
    table, tree = shop.tree.table.copy(), shop.tree
    parts = {name: getattr(tree, name).copy() for name in ("entry", "port", "fittings", "change")}
    for index, run in changed.items():
        row = shop.hood_row(index)
        new = packed(shop.request, run, -1, shop.density, {})
        packing.fill(table[row], new, shop.density, float(shop.air.viscosity))
        for name, column in parts.items():
            column[row] = getattr(new, name)
    for root in shop.shape.roots if len(shop.shape.roots) > 1 else ():
        lost = packing.dynamic(shop.density, shop.runs[root].end)  # at the inlet chamber
        if root in changed:
            table[shop.end_row(root), 0] += lost
            parts["change"][shop.end_row(root)] += lost
    return replace(shop, runs=runs, tree=replace(tree, table=table, **parts))


def attempt(shop: Shop, fan: Fan, gate: Floats, changed: dict[int, ShopRun]) -> Trial | None:
    """Solve the shop with some runs changed; None where it then has no operating point."""
    new = retried(shop, changed)
    operating = operate(new.tree, fan, gate)
    if not operating.crossings:
        return None
    at_fan = fan.left_for_tree(float(operating.flow[0]))
    parts, flow = losses(new.tree, gate, operating.flow, at_fan), operating.flow
    if new.leaks is not None:
        parts, flow, _ = whole_runs(new.tree, new.leaks, parts, flow)
    return Trial(operating, flow, parts.total)
