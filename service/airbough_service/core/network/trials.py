"""Changes of a tree tried one by one in one state of its gates: what then flows, and what the changed run loses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled, inner, whole
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.columns import PARENT, START
from airbough_service.core.network.junction import junction_at
from airbough_service.core.network.own_loss import own_loss
from airbough_service.core.network.solver import keep_loss, prepare, solve_next
from airbough_service.core.network.status import OK
from airbough_service.core.network.tree import Tree
from airbough_service.core.network.work import KEPT_Y, copy_row, scratch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


class Row(NamedTuple):
    """A row of the packed tree as a change would have it: its columns, and the part of LOCAL that is `change`."""

    row: int
    columns: Floats
    change: float


@dataclass(frozen=True, slots=True)
class Needs:
    """What open hoods need.

    Attributes:
        rows: of the hoods.
        least: the least flow of each that holds, m3/s.
    """

    rows: Integers
    least: Floats


@dataclass(frozen=True, slots=True)
class Tried:
    """What each of T changes brings.

    Attributes:
        status: shape (T,), of ``core.network.status``; what follows is told where it is OK.
        flow: shape (T,), at the end of the run that is asked about, m3/s.
        lost: shape (T,), by that run, Pa.
        starved: shape (T,), number of the first hood that the change takes below its need; -1 for none.
    """

    status: Integers
    flow: Floats
    lost: Floats
    starved: Integers


@inner
def _lost(
    table: np.ndarray, links: np.ndarray, change: np.ndarray, gate: np.ndarray, flow: np.ndarray, rows: np.ndarray,
    join: np.ndarray,
) -> float:  # fmt: skip
    """Return what these rows lose together, their junctions' losses among it, Pa."""
    lost = 0.0
    for row in rows:
        q = flow[row]
        if q > 0.0:
            join[row] = 0.0
            if links[row, PARENT] >= 0:
                junction_at(table, links, flow, whole(links[row, PARENT]), join)
            lost += own_loss(table, row, change[row], gate[row], q, table[row, START])[0]
            lost += join[row] + change[row] * q * q
    return lost


@inner
def settled_roots(table: np.ndarray, change: np.ndarray, gate: np.ndarray, flow: np.ndarray) -> np.ndarray:
    """Return the 1/sqrt(f) of every row for what flows; a first guess where nothing does."""
    out = table[:, START].copy()
    for row in range(out.size):
        if flow[row] > 0.0:
            out[row] = own_loss(table, row, change[row], gate[row], flow[row], table[row, START])[1]
    return out


@compiled
def try_each(
    tree: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
    fan: tuple[np.ndarray, np.ndarray, float],
    begins: tuple[np.ndarray, np.ndarray],
    rows: tuple[np.ndarray, np.ndarray],
    columns: np.ndarray,
    changes: np.ndarray,
    needs: tuple[np.ndarray, np.ndarray],
    before: np.ndarray,
    out: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Fill what each change brings, each from the state without any.

    Args:
        tree: table, links, change, and this state's gate.
        fan: pieces, terms, quadratic.
        begins: first of each change's rows, and of the rows of the run that it is about; both with their ends.
        rows: those rows, one after the other.
        columns: of the changed rows.
        changes: of size at the ends of the changed rows.
        needs: rows of hoods, their least flows.
        before: what flows without a change, by row.
        out: status, flow, lost and starved, as ``Tried``.
    """
    table, links, change, gate = tree[0].copy(), tree[1], tree[2].copy(), tree[3]
    n = table.shape[0]
    order, slots, work = scratch(n)
    flow, join = np.zeros(n), np.zeros(n)
    status, at_end, lost, starved = out
    prepare(table, links, work)
    settled = settled_roots(table, change, gate, before)
    for t in range(status.size):
        for k in range(begins[0][t], begins[0][t + 1]):
            copy_row(columns[k], table[rows[0][k]])
            change[rows[0][k]] = changes[k]
            keep_loss(table, links, rows[0][k], work)  # of its arms nothing changes: bores at junctions stay
        for row in range(n):
            work[row, KEPT_Y] = settled[row]
        status[t] = solve_next(
            table, links, gate, fan[0], fan[1], fan[2], 0.0, before, flow, order, slots, work
        )[0]  # fmt: skip
        own = rows[1][begins[1][t] : begins[1][t + 1]]
        at_end[t], lost[t], starved[t] = flow[own[-1]], 0.0, -1
        if status[t] == OK:
            lost[t] = _lost(table, links, change, gate, flow, own, join)
        for hood in range(needs[0].size):
            row = needs[0][hood]
            if flow[row] < needs[1][hood] <= before[row]:
                starved[t] = hood
                break
        for k in range(begins[0][t], begins[0][t + 1]):
            copy_row(tree[0][rows[0][k]], table[rows[0][k]])
            change[rows[0][k]] = tree[2][rows[0][k]]
            keep_loss(table, links, rows[0][k], work)


def tried(
    tree: Tree,
    fan: Fan,
    gate: Floats,
    before: Floats,
    changed: Sequence[Sequence[Row]],
    about: Sequence[Sequence[int]],
    needs: Needs,
) -> Tried:
    """Return what changes of a tree bring, each tried alone.

    Args:
        tree: the packed tree.
        fan: what the fan leaves for it; no tree crosses it more than once.
        gate: shape (n,), Pa per (m3/s)^2, infinite where shut.
        before: shape (n,), what flows without a change, m3/s.
        changed: of each change the rows that it changes.
        about: of each change the rows of the run that is asked about, in the direction of flow.
        needs: of the open hoods.
    """
    deadline.check()
    every = [row for change in changed for row in change]
    count = len(changed)
    out = Tried(np.empty(count, np.int64), np.empty(count), np.empty(count), np.empty(count, np.int64))
    try_each(
        (tree.table, tree.links, tree.change, gate),
        (fan.pieces, fan.terms, fan.net_quadratic),
        (_begins(changed), _begins(about)),
        (np.array([row.row for row in every], np.int64), np.array([row for rows in about for row in rows], np.int64)),
        np.array([row.columns for row in every]).reshape(len(every), tree.table.shape[1]),
        np.array([row.change for row in every], np.float64),
        (needs.rows, needs.least),
        before,
        (out.status, out.flow, out.lost, out.starved),
    )
    return out


def _begins(parts: Sequence[Sequence[object]]) -> Integers:
    """Return where each part begins in all of them together, and where the last one ends."""
    return np.array([0, *accumulate(map(len, parts))], np.int64)
