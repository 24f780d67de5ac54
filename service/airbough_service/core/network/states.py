"""Many states of the gates of one tree: what flows in each, the suction in it, and the sets of machines to try."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, islice
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.core.laws.fan import Fan
from airbough_service.core.laws.friction import TURBULENT_START, inverse_root, slow_friction
from airbough_service.core.network.columns import (
    CHILDREN,
    ENTRY,
    ENTRY_FACTOR,
    EXPONENT_A,
    EXPONENT_B,
    FIRST_CHILD,
    FRICTION,
    LAW,
    LOCAL,
    MEET,
    PARENT,
    POWER_A,
    POWER_B,
    REYNOLDS,
    ROUGH,
    START,
    VP_END,
)
from airbough_service.core.network.kernel import (
    BEYOND_HIGH,
    NO_FLOW,
    NOT_CONVERGED,
    OK,
    arm_pressures,
    entry_recovery,
    pair_pressures,
)
from airbough_service.core.network.operating import operate
from airbough_service.core.network.solver import solve_states
from airbough_service.core.network.tree import Tree

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]

POINT, SEVERAL, BEYOND, NOTHING, UNSOLVED = 0, 1, 2, 3, 4
OUTCOMES: Final = ("operating-point", "several-operating-points", "beyond-fan-curve", "no-flow")
"""The contract's word of each outcome; an unsolved state has none."""

AT_ONCE: Final = 200_000
"""Rows solved between two looks at the clock."""


@dataclass(frozen=True, slots=True)
class Flows:
    """What flows in each of S states of a tree of n rows.

    Attributes:
        flow: shape (S, n), m3/s; zeros where there is no known point.
        outcome: shape (S,), number of the word in OUTCOMES, or UNSOLVED.
    """

    flow: Floats
    outcome: Whole


def solve(tree: Tree, fan: Fan, gates: Floats) -> Flows:
    """Solve many states.

    Args:
        tree: the packed tree.
        fan: what the fan leaves for it; one whose curve does not always fall is searched state by state.
        gates: shape (S, n), Pa per (m3/s)^2, infinite where shut.

    Returns:
        Flows; a state without a solution (by the laws of junctions air would have to leave a hood) is unsolved.
    """
    count = gates.shape[0]
    flow, status = np.zeros(gates.shape), np.empty(count, np.int64)
    gates = np.ascontiguousarray(gates)
    spent = np.empty(count, np.int64)
    for part in blocks(*gates.shape):
        deadline.check()
        solve_states(
            tree.table, tree.links, gates[part], fan.pieces, fan.terms, fan.net_quadratic, 0.0, flow[part],
            status[part], spent[part],
        )  # fmt: skip
    outcome = np.full(count, BEYOND, np.int64)
    outcome[status == OK] = POINT
    outcome[status == NO_FLOW] = NOTHING
    again = status == NOT_CONVERGED if fan.always_falls() else status != NO_FLOW
    flow[status >= BEYOND_HIGH] = 0.0
    for s in np.flatnonzero(again):
        try:
            found = operate(tree, fan, gates[s])
        except DidNotConvergeError:
            flow[s], outcome[s] = 0.0, UNSOLVED
            continue
        flow[s], outcome[s] = found.flow, OUTCOMES.index(found.outcome)
    return Flows(flow, outcome)


def blocks(count: int, rows: int) -> Iterator[slice]:
    """Yield the slices in which so many states of a tree of so many rows are solved."""
    size = max(1, AT_ONCE // rows)
    return (slice(first, min(first + size, count)) for first in range(0, count, size))


@compiled
def arm_losses(table: np.ndarray, links: np.ndarray, run: int, flow: np.ndarray, join: np.ndarray) -> None:
    """Fill the join losses of the arms of a junction with flow, idle arms too."""
    first, count, law = links[run, FIRST_CHILD], links[run, CHILDREN], links[run, LAW]
    if law == ENTRY:
        recovery = entry_recovery(table, run, np.arange(first, first + count), flow)[0]
        for arm in range(first, first + count):
            join[arm] = (1.0 + table[arm, ENTRY_FACTOR]) * table[arm, VP_END] * flow[arm] * flow[arm] - recovery
    elif count == 2:
        join[first], join[first + 1], _, _, _, _ = pair_pressures(
            table, links, law, run, first, first + 1, flow[first], flow[first + 1]
        )
    else:
        arms = np.arange(first, first + count)
        join[first : first + count] = arm_pressures(
            table, links, law, run, arms, flow[first : first + count], flow[run]
        )[0]


@compiled
def own_loss(table: np.ndarray, run: int, local: float, q: float, start: float) -> tuple[float, float]:
    """Return a run's loss without its junction at a flow above 0, Pa, and 1/sqrt(f) for the next state."""
    loss, y = local * q * q, start
    if table[run, FRICTION] > 0.0:
        reynolds = table[run, REYNOLDS] * q
        if reynolds > TURBULENT_START:
            y = inverse_root(table[run, ROUGH], reynolds, start)
            loss += table[run, FRICTION] * q * q / (y * y)
        else:
            loss += table[run, FRICTION] * q * q * slow_friction(table[run, ROUGH], reynolds, start)[0]
    if table[run, POWER_A] > 0.0:
        loss += table[run, POWER_A] * q ** table[run, EXPONENT_A]
    if table[run, POWER_B] > 0.0:
        loss += table[run, POWER_B] * q ** table[run, EXPONENT_B]
    return loss, y


@compiled
def suctions(
    table: np.ndarray,
    links: np.ndarray,
    change: np.ndarray,
    told: np.ndarray,
    gates: np.ndarray,
    flows: np.ndarray,
    at_fan: np.ndarray,
    deepest: np.ndarray,
    where: np.ndarray,
) -> None:
    """Fill the deepest suction of each state, Pa, and its row, as `losses` tells pressures.

    change[n]: loss of a change of bore at the end of each run; told[n]: which rows are asked about.
    """
    n = table.shape[0]
    up, join, start = np.zeros(n), np.zeros(n), table[:, START].copy()
    for s in range(gates.shape[0]):
        flow = flows[s]
        deepest[s], where[s] = -np.inf, -1
        join[:] = 0.0
        for run in range(n):
            q = flow[run]
            parent = links[run, PARENT]
            end = (-at_fan[s] if parent < 0 else up[parent]) + join[run] + change[run] * q * q
            up[run] = end
            if np.isinf(gates[s, run]):
                up[run] = 0.0
            elif q > 0.0:
                loss, start[run] = own_loss(table, run, table[run, LOCAL] - change[run] + gates[s, run], q, start[run])
                up[run] = end + loss
                if links[run, CHILDREN] > 1 and links[run, LAW] != MEET:
                    arm_losses(table, links, run, flow, join)
            suction = table[run, VP_END] * q * q - end
            if told[run] and suction > deepest[s]:
                deepest[s], where[s] = suction, run


def deepest_suctions(
    tree: Tree, change: Floats, told: Flags, gates: Floats, flows: Floats, at_fan: Floats
) -> tuple[Floats, Whole]:
    """Return the deepest suction of each state, Pa, and its row; arguments as of ``suctions``."""
    deepest, where = np.empty(len(gates)), np.empty(len(gates), np.int64)
    for part in blocks(*gates.shape):
        deadline.check()
        suctions(
            tree.table, tree.links, change, told, gates[part], flows[part], at_fan[part], deepest[part], where[part]
        )  # fmt: skip
    return deepest, where


def sets_up_to(members: int, most: int) -> int:
    """Return how many sets of 1 to `most` of so many members there are."""
    return sum(comb(members, size) for size in range(1, min(most, members) + 1))


def sets_of(members: int, sizes: range, block: int) -> Iterator[Flags]:
    """Yield the sets of these sizes as rows of flags, shape (up to block, members), small ones first."""
    for size in sizes:
        every = combinations(range(members), size)
        while chosen := list(islice(every, block)):
            flags = np.zeros((len(chosen), members), np.bool_)
            np.put_along_axis(flags, np.array(chosen, np.int64), True, axis=1)
            yield flags
