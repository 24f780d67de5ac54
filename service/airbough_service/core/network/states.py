"""Many states of the gates of one tree: what flows in each, the suction in it, and the sets of machines to try."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, combinations, islice
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.columns import (
    PARENT,
    START,
    VP_END,
)
from airbough_service.core.network.junction import junction_at
from airbough_service.core.network.operating import operate
from airbough_service.core.network.own_loss import own_loss
from airbough_service.core.network.solver import solve_states
from airbough_service.core.network.status import BEYOND_HIGH, NO_FLOW, NOT_CONVERGED, OK
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
        roots: shape (S, n), 1/sqrt(friction factor) near what it is at each flow; of length 0 where not asked for.
    """

    flow: Floats
    outcome: Whole
    roots: Floats


def solve(tree: Tree, fan: Fan, gates: Floats, *, with_roots: bool = False) -> Flows:
    """Solve many states.

    Args:
        tree: the packed tree.
        fan: what the fan leaves for it; one that may be crossed more than once is searched state by state.
        gates: shape (S, n), Pa per (m3/s)^2, infinite where shut.
        with_roots: whether friction is asked for later.

    Returns:
        Flows; a state without a solution (by the laws of junctions air would have to leave a hood) is unsolved.
    """
    count = gates.shape[0]
    flow, status = np.zeros(gates.shape), np.empty(count, np.int64)
    roots = np.empty((count if with_roots else 0, gates.shape[1]))
    gates = np.ascontiguousarray(gates)
    spent = np.empty(count, np.int64)
    for part in blocks(*gates.shape):
        deadline.check()
        solve_states(
            tree.table, tree.links, gates[part], fan.pieces, fan.terms, fan.net_quadratic, 0.0, flow[part],
            status[part], spent[part], roots[part],
        )  # fmt: skip
    outcome = np.full(count, BEYOND, np.int64)
    outcome[status == OK] = POINT
    outcome[status == NO_FLOW] = NOTHING
    again = status == NOT_CONVERGED if fan.crosses_once else status != NO_FLOW
    flow[status >= BEYOND_HIGH] = 0.0
    for s in np.flatnonzero(again):
        if with_roots:
            roots[s] = tree.table[:, START]
        try:
            found = operate(tree, fan, gates[s])
        except DidNotConvergeError:
            flow[s], outcome[s] = 0.0, UNSOLVED
            continue
        flow[s], outcome[s] = found.flow, OUTCOMES.index(found.outcome)
    return Flows(flow, outcome, roots)


def blocks(count: int, rows: int) -> Iterator[slice]:
    """Yield the slices in which so many states of a tree of so many rows are solved."""
    size = max(1, AT_ONCE // rows)
    return (slice(first, min(first + size, count)) for first in range(0, count, size))


@compiled
def suctions(
    table: np.ndarray,
    links: np.ndarray,
    change: np.ndarray,
    told: np.ndarray,
    gates: np.ndarray,
    flows: np.ndarray,
    at_fan: np.ndarray,
    roots: np.ndarray,
    deepest: np.ndarray,
    where: np.ndarray,
) -> None:
    """Fill the deepest suction of each state, Pa, and its row, as `losses` tells pressures.

    change[n]: loss of a change of bore at the end of each run; told[n]: which rows are asked about; roots[states, n]:
    a first guess of 1/sqrt(friction factor).
    """
    n = table.shape[0]
    up, join = np.zeros(n), np.zeros(n)
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
                up[run] = end + own_loss(table, run, change[run], gates[s, run], q, roots[s, run])[0]
                junction_at(table, links, flow, run, join)
            suction = table[run, VP_END] * q * q - end
            if told[run] and suction > deepest[s]:
                deepest[s], where[s] = suction, run


def deepest_suctions(
    tree: Tree, change: Floats, told: Flags, gates: Floats, solved: Flows, at_fan: Floats
) -> tuple[Floats, Whole]:
    """Return the deepest suction of each state, solved with roots, Pa, and its row; arguments as of ``suctions``."""
    deepest, where = np.empty(len(gates)), np.empty(len(gates), np.int64)
    for part in blocks(*gates.shape):
        deadline.check()
        suctions(
            tree.table, tree.links, change, told, gates[part], solved.flow[part], at_fan[part], solved.roots[part],
            deepest[part], where[part],
        )  # fmt: skip
    return deepest, where


def sets_up_to(members: int, most: int) -> int:
    """Return how many sets of 1 to `most` of so many members there are."""
    return sum(comb(members, size) for size in range(1, min(most, members) + 1))


def sets_of(members: int, sizes: range, block: int) -> Iterator[Flags]:
    """Yield the sets of these sizes as rows of flags, shape (up to block, members), small ones first."""
    for size in sizes:
        every = combinations(range(members), size)
        while len(chosen := np.fromiter(chain.from_iterable(islice(every, block)), np.int64)):
            flags = np.zeros((len(chosen) // size, members), np.bool_)
            flags[np.repeat(np.arange(len(flags)), size), chosen] = True
            yield flags


def set_at(members: int, number: int) -> Flags:
    """Return the set that stands at a place among those of `sets_of` for all sizes from 1, shape (members,)."""
    flags, left, size = np.zeros(members, np.bool_), number, 1
    while left >= comb(members, size):
        left -= comb(members, size)
        size += 1
        if size > members:
            raise IndexError(number)
    for member in range(members):
        with_it = comb(members - member - 1, size - 1) if size else 0
        if left < with_it:
            flags[member], size = True, size - 1
        else:
            left -= with_it
    return flags
