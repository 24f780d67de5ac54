"""What runs need at their ends for given flows, and who governs where they meet; compiled, for every way of balancing.

Lines of numbers by row, shape (LINES, n), are kept up from the hoods to the fan; what is told of each run at its
junction is a row of its own, shape (n, COLUMNS).
"""

from __future__ import annotations

import math

import numpy as np

from airbough_service.core.compiled import compiled, inner
from airbough_service.core.network.columns import CHILDREN, ENTRY, ENTRY_FACTOR, FIRST_CHILD, LAW, START, VP_END
from airbough_service.core.network.junction import junction_at
from airbough_service.core.network.own_loss import own_loss

# Flow, m3/s, own loss, loss at the junction, what is needed at the end, and what a gate further up has to lose, Pa.
FLOW, OWN, JOIN, NEED, ADDED = range(5)
LINES = 5

# Of a run at its junction: whether others with flow meet it there, whether it governs, what it needs, what the junction
# needs, what is done (as below), and what a gate must add, Pa.
MEETS, GOVERNS, PRESSURE, GOVERNING, ACTION, SHORT = range(6)
COLUMNS = 6

NONE, GATE, RAISE_FLOW, RESIZE = range(4)
LEAST_SHORT = 1.0e-9  # share of what a junction needs that is worth a gate


@compiled
def joined(change: np.ndarray, lines: np.ndarray, arm: int) -> float:
    """Return a run's loss at its junction with its change of size, Pa."""
    return lines[JOIN, arm] + change[arm] * lines[FLOW, arm] * lines[FLOW, arm]


@compiled
def pressure_of(
    table: np.ndarray, links: np.ndarray, change: np.ndarray, lines: np.ndarray, row: int, arm: int
) -> float:
    """Return what an arm needs at the junction above a row, Pa: static for entry-angle, total otherwise."""
    if links[row, LAW] == ENTRY:
        own = table[arm, VP_END] * lines[FLOW, arm] * lines[FLOW, arm]
        return lines[NEED, arm] + (1.0 + table[arm, ENTRY_FACTOR]) * own
    return lines[NEED, arm] + joined(change, lines, arm)


@compiled
def fill_need(links: np.ndarray, change: np.ndarray, flowing: np.ndarray, lines: np.ndarray, row: int) -> None:
    """Fill what a run needs at its downstream end; the deepest arm governs. flowing[n]: below an open hood."""
    first, count = links[row, FIRST_CHILD], links[row, CHILDREN]
    if count == 1 and flowing[first]:
        lines[JOIN, first] = 0.0
    above, some = 0.0, False
    for arm in range(first, first + count):
        if flowing[arm]:
            need = lines[NEED, arm] + joined(change, lines, arm)
            above, some = need if not some else max(above, need), True
    lines[NEED, row] = lines[OWN, row] + above


@compiled
def meet(
    table: np.ndarray,
    links: np.ndarray,
    change: np.ndarray,
    flowing: np.ndarray,
    lines: np.ndarray,
    gates: tuple[np.ndarray, np.ndarray, np.ndarray],
    limits: tuple[float, float],
    by_flow: bool,
    row: int,
    met: np.ndarray,
) -> None:
    """Fill who governs at the junction above a row, and what is done with the others; gates absorb where they may.

    Args:
        table: of the tree.
        links: of the tree.
        change: of the tree.
        flowing: by row, whether an open hood is upstream.
        lines: as above; what gates add is added to them.
        gates: coefficients, of which those that absorb grow; where the gate of each branch is; whether one may stand.
        limits: ratios of governing to own pressure that a branch passes to be raised, and to be resized.
        by_flow: whether flows are raised, not gates set.
        row: into which the arms flow.
        met: filled for the arms.
    """
    first, count = links[row, FIRST_CHILD], links[row, CHILDREN]
    arms, leader, governing = 0, -1, 0.0
    for arm in range(first, first + count):
        if flowing[arm]:
            own = pressure_of(table, links, change, lines, row, arm)
            met[arm, PRESSURE] = own
            arms += 1
            if leader < 0 or own > governing:
                leader, governing = arm, own
    if arms > 1:
        met[leader, GOVERNS] = 1.0
    for arm in range(first, first + count if arms > 1 else first):
        if not flowing[arm]:
            continue
        own, action, added = met[arm, PRESSURE], NONE, 0.0
        short, ratio = governing - own, governing / own if own > 0.0 else math.inf
        if arm != leader and by_flow:
            action = NONE if ratio <= limits[0] else RESIZE if ratio > limits[1] else RAISE_FLOW
        elif arm != leader and not gates[2][arm]:
            action = RESIZE if ratio > limits[0] else NONE
        elif arm != leader and short > LEAST_SHORT * abs(governing):
            action, added, at = GATE, short, gates[1][arm]
            gates[0][at] += short / (lines[FLOW, at] * lines[FLOW, at])
            absorb(links, flowing, lines, arm, at, short)
        met[arm, MEETS], met[arm, GOVERNING], met[arm, ACTION], met[arm, SHORT] = 1.0, governing, action, added


@inner
def absorb(links: np.ndarray, flowing: np.ndarray, lines: np.ndarray, below: int, at: int, short: float) -> None:
    """Note what a gate has to lose on the rows from a branch's end up to it, through each of which one alone flows."""
    while below != at:
        lines[ADDED, below] = short
        above = links[below, FIRST_CHILD]
        while not flowing[above]:
            above += 1
        below = above


@compiled
def meet_all(
    table: np.ndarray,
    links: np.ndarray,
    change: np.ndarray,
    flowing: np.ndarray,
    lines: np.ndarray,
    gates: tuple[np.ndarray, np.ndarray, np.ndarray],
    limits: tuple[float, float],
    by_flow: bool,
    met: np.ndarray,
) -> None:
    """Fill needs and meetings of every row, from the hoods to the fan, where no flow changes on the way; as `meet`."""
    for row in range(links.shape[0] - 1, -1, -1):
        fill_need(links, change, flowing, lines, row)
        meet(table, links, change, flowing, lines, gates, limits, by_flow, row, met)


@compiled
def short_of(
    table: np.ndarray,
    links: np.ndarray,
    change: np.ndarray,
    gate: np.ndarray,
    flow: np.ndarray,
    need: np.ndarray,
    row: int,
    arm: int,
) -> float:
    """Return by what share one arm of a junction needs less than the others; arguments as of `governing.short_of`."""
    lines = np.zeros((LINES, flow.size))
    for run in range(flow.size):
        lines[FLOW, run], lines[NEED, run] = flow[run], need[run]
    flowing, join = flow > 0.0, lines[JOIN]
    if flowing[arm]:
        lines[OWN, arm] = own_loss(table, arm, change[arm], gate[arm], flow[arm], table[arm, START])[0]
    junction_at(table, links, flow, arm, join)
    junction_at(table, links, flow, row, join)
    fill_need(links, change, flowing, lines, arm)
    governing, first = -math.inf, links[row, FIRST_CHILD]
    for other in range(first, first + links[row, CHILDREN]):
        if flowing[other] and other != arm:
            governing = max(governing, pressure_of(table, links, change, lines, row, other))
    return 1.0 - pressure_of(table, links, change, lines, row, arm) / governing
