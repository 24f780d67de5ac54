"""The states that walls are judged in, and the suction of every run in each."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import columns
from airbough_service.shop.shop import Shop, ShopRun
from airbough_service.solving.solved_state import Solved

DOCUMENT, SHUT_OFF, GIVEN = "document", "shut-off", "given-suction"


def suctions(solved: Solved) -> list[float] | None:
    """Return the greatest suction inside each run [Pa], in document order; None beyond the fan's curve.

    Static pressure at the downstream end of each part of its duct, where it is deepest; where the bore changes at an
    end of the run, with the velocity pressure of the narrower one.
    """
    if not solved.runs:
        return None
    table, flow = solved.shop.tree.table, solved.operating.flow
    fastest = np.maximum(table[:, columns.VP_START], table[:, columns.VP_END]) * flow * flow
    deep = fastest - solved.losses.total_pressure
    return [max(*(float(deep[row]) for row in _rows(solved.shop, run)), 0.0) for run in solved.shop.runs]


def _rows(shop: Shop, run: ShopRun) -> list[int]:
    """Return the last row of each part of a run's duct, where suction in it is deepest."""
    return [shop.part_rows(run.index, number)[-1] for number in range(len(run.parts))]


def highest_pressure(fan: Fan) -> float:
    """Return the highest pressure of the fan's curve as given, the velocity pressure of its rating taken off [Pa]."""
    ends: Iterable[float] = (*fan.pieces[:, 0], fan.highest)
    return max(fan.static_pressure(float(flow)) for flow in ends)
