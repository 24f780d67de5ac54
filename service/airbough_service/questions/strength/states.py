"""The states that walls are judged in, and the suction of every run in each."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import columns
from airbough_service.solving.operating_point import Solved

DOCUMENT, SHUT_OFF, GIVEN = "document", "shut-off", "given-suction"


def suctions(solved: Solved) -> list[float] | None:
    """Return the greatest suction inside each run [Pa], in document order; None beyond the fan's curve.

    Static pressure at the downstream end, where it is deepest; where the bore changes inside the run, with the
    velocity pressure of the narrower end.
    """
    if not solved.runs:
        return None
    table, flow = solved.shop.tree.table, solved.operating.flow
    fastest = np.maximum(table[:, columns.VP_START], table[:, columns.VP_END]) * flow * flow
    deep = fastest - solved.losses.total_pressure
    return [max(float(deep[solved.shop.end_row(run.index)]), 0.0) for run in solved.shop.runs]


def highest_pressure(fan: Fan) -> float:
    """Return the highest pressure of the fan's curve as given, the velocity pressure of its rating taken off [Pa]."""
    ends: Iterable[float] = (*fan.pieces[:, 0], fan.highest)
    return max(fan.static_pressure(float(flow)) for flow in ends)
