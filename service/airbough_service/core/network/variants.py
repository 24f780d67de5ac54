"""Many trees that differ from one in some rows and gates, each solved with its losses in one compiled loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled
from airbough_service.core.laws.fan import Fan, fan_pressure
from airbough_service.core.network.into_columns import G_CHANGE, G_ENTRY, G_FITTINGS, G_PORT, fill_row
from airbough_service.core.network.losses import LEAST_SUCTION, LINES, fill
from airbough_service.core.network.solver import prepare, solve_next
from airbough_service.core.network.status import OK
from airbough_service.core.network.tree import Tree
from airbough_service.core.network.work import copy_row, scratch

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Rows:
    """What is given anew of some rows of V variants.

    Attributes:
        begins: shape (V + 1,), where each variant's rows begin among all.
        rows: shape (K,), the rows of the packed tree.
        given: shape (K, columns of what is given), as ``tree.given``.
    """

    begins: Whole
    rows: Whole
    given: Floats


@dataclass(frozen=True, slots=True)
class Found:
    """What flows in each of V variants of a tree of n rows; only the status where that is not OK.

    Attributes:
        status: shape (V,), of ``core.network.status``.
        flow: shape (V, n), m3/s.
        lines: shape (V, LINES, n), Pa, in the order of ``core.network.losses``.
        residuals: shape (V, 2), of mass, relative, and of energy, over the suction.
    """

    status: Whole
    flow: Floats
    lines: Floats
    residuals: Floats


@compiled
def solve_each(
    tree: tuple[np.ndarray, np.ndarray],
    parts: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
    fan: tuple[np.ndarray, np.ndarray, float],
    air: tuple[float, float],
    changed: tuple[np.ndarray, np.ndarray, np.ndarray],
    gates: np.ndarray,
    out: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Fill what flows in each variant, each from a cold start.

    Args:
        tree: table, links.
        parts: entry, port, fittings and change of every row.
        fan: pieces, terms, quadratic.
        air: density and viscosity.
        changed: begins, rows and given, as ``Rows``.
        gates: shape (V, n).
        out: status, flow, lines and residuals, as ``Found``.
    """
    table, links = tree[0].copy(), tree[1]
    entry, port, fittings, change = parts[0].copy(), parts[1].copy(), parts[2].copy(), parts[3].copy()
    begins, rows, given = changed
    status, flow, lines, residuals = out
    order, slots, work = scratch(table.shape[0])
    prepare(table, links, work)
    for v in range(status.size):
        for k in range(begins[v], begins[v + 1]):
            row = rows[k]
            table[row] = 0.0
            fill_row(given[k], air[0], air[1], table[row])
            entry[row], port[row] = given[k, G_ENTRY], given[k, G_PORT]
            fittings[row], change[row] = given[k, G_FITTINGS], given[k, G_CHANGE]
        prepare(table, links, work)
        status[v] = solve_next(
            table, links, gates[v], fan[0], fan[1], fan[2], 0.0, fan[0][0, :0], flow[v], order, slots, work
        )[0]  # fmt: skip
        if status[v] == OK:
            at_fan = fan_pressure(fan[0], fan[1], fan[2], flow[v, 0])[0]
            mass, energy = fill(table, links, (entry, port, fittings, change), gates[v], flow[v], at_fan, lines[v])
            residuals[v, 0], residuals[v, 1] = mass, energy / max(abs(at_fan), LEAST_SUCTION)
        for k in range(begins[v], begins[v + 1]):
            row = rows[k]
            copy_row(tree[0][row], table[row])
            entry[row], port[row], fittings[row], change[row] = (
                parts[0][row], parts[1][row], parts[2][row], parts[3][row],
            )  # fmt: skip


def rows_of(each: Sequence[Sequence[tuple[int, Sequence[float]]]], columns: int) -> Rows:
    """Return the changed rows of variants, each a row with what is given of it, as arrays."""
    begins = np.cumsum([0, *map(len, each)], dtype=np.int64)
    rows = np.array([row for changed in each for row, _ in changed], np.int64)
    given = np.array([numbers for changed in each for _, numbers in changed], np.float64)
    return Rows(begins, rows, given.reshape(len(rows), columns))


def solve(tree: Tree, fan: Fan, viscosity: float, changed: Rows, gates: Floats) -> Found:
    """Return what flows in each variant of a tree.

    Args:
        tree: the packed tree.
        fan: what the fan leaves for it; no tree crosses it more than once.
        viscosity: Pa*s.
        changed: the rows in which each variant differs.
        gates: shape (V, n), Pa per (m3/s)^2, infinite where shut.
    """
    deadline.check()
    count, n = gates.shape
    out = Found(
        np.empty(count, np.int64), np.zeros((count, n)), np.zeros((count, LINES, n)), np.zeros((count, 2))
    )  # fmt: skip
    solve_each(
        (tree.table, tree.links),
        (tree.entry, tree.port, tree.fittings, tree.change.astype(np.float64)),
        (fan.pieces, fan.terms, fan.net_quadratic),
        (tree.density, viscosity),
        (changed.begins, changed.rows, changed.given),
        gates,
        (out.status, out.flow, out.lines, out.residuals),
    )
    return out
