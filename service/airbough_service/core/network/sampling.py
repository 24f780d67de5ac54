"""Many draws of one tree's coefficients, each solved, in one compiled loop.

A draw multiplies each uncertain term by a factor of its own; the tree's topology and gates stay.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.columns import (
    CHILDREN,
    ENTRY_FACTOR,
    FACTOR_HIGH,
    FACTOR_LOW,
    FACTOR_SLOPE,
    FIRST_CHILD,
    FRICTION,
    IS_BRANCH,
    LOCAL,
    POWER_A,
    POWER_B,
    ROUGH,
)
from airbough_service.core.network.kernel import NO_FLOW, NOT_CONVERGED, OK
from airbough_service.core.network.losses import (
    junction_losses,
    straight_losses,
)
from airbough_service.core.network.operating import operate
from airbough_service.core.network.solver import solve_state
from airbough_service.core.network.tree import Tree
from airbough_service.core.network.work import WORK_COLUMNS

Floats = NDArray[np.float64]
Integers = NDArray[np.int32]

LOWEST = -1.0e300  # Pa; below any need

AT_ONCE = 100_000  # rows solved between two looks at the clock


@dataclass(frozen=True, slots=True)
class Uses:
    """Where the uncertain terms stand in the packed tree.

    Attributes:
        row, term, amount: each shape (uses,): the LOCAL of a row holds `amount` Pa per (m3/s)^2 of a term.
        rough, friction, power, inside, junction, gate: each shape (n,): the term of the row's roughness, friction
            multiplier, power-law friction, machine resistance, junction law, gate; -1 where it has none.
        straight: shape (n,), join loss of a straight arm per flow squared at the middle, which its junction's draw
            scales; Pa per (m3/s)^2.
        fan: the term of the fan's curve; -1 for none.
        losses: shape (losses,), the term of each collector loss.
    """

    row: Integers
    term: Integers
    amount: Floats
    rough: Integers
    friction: Integers
    power: Integers
    inside: Integers
    junction: Integers
    gate: Integers
    straight: Floats
    fan: int
    losses: Integers


@dataclass(frozen=True, slots=True)
class Draws:
    """What the draws bring: flow of each row, shape (samples, n); solver's status, shape (samples,)."""

    flow: Floats
    status: NDArray[np.int64]


@compiled
def apply(
    base: np.ndarray,
    links: np.ndarray,
    factor: np.ndarray,
    row: np.ndarray,
    term: np.ndarray,
    amount: np.ndarray,
    by_row: np.ndarray,
    straight: np.ndarray,
    table: np.ndarray,
) -> None:
    """Fill `table` with one draw of `base`; by_row[5, n]: rough, friction, power, inside, junction."""
    table[:, :] = base
    for use in range(row.shape[0]):
        table[row[use], LOCAL] += (factor[term[use]] - 1.0) * amount[use]
    for run in range(base.shape[0]):
        if by_row[0, run] >= 0:
            table[run, ROUGH] *= factor[by_row[0, run]]
        if by_row[1, run] >= 0:
            table[run, FRICTION] *= factor[by_row[1, run]]
            table[run, POWER_A] *= factor[by_row[1, run]]
        if by_row[2, run] >= 0:
            table[run, POWER_A] *= factor[by_row[2, run]]
        if by_row[3, run] >= 0:
            table[run, POWER_B] *= factor[by_row[3, run]]
        if by_row[4, run] >= 0:
            f = factor[by_row[4, run]]
            if links[run, IS_BRANCH] == 1:
                for column in (ENTRY_FACTOR, FACTOR_LOW, FACTOR_SLOPE, FACTOR_HIGH):
                    table[run, column] *= f
            else:
                table[run, LOCAL] += (f - 1.0) * straight[run]


@compiled
def solve_draws(
    base: np.ndarray,
    links: np.ndarray,
    gate: np.ndarray,
    factor: np.ndarray,
    row: np.ndarray,
    term: np.ndarray,
    amount: np.ndarray,
    by_row: np.ndarray,
    gate_term: np.ndarray,
    straight: np.ndarray,
    fan: np.ndarray,
    fan_term: int,
    terms: np.ndarray,
    loss_term: np.ndarray,
    quadratic: float,
    flows: np.ndarray,
    statuses: np.ndarray,
) -> None:
    """Solve every row of factor[samples, terms] into flows[samples, n]."""
    n = base.shape[0]
    order, slots, work = np.empty(2 * n, np.int32), np.empty(n, np.int32), np.empty((n, WORK_COLUMNS))
    table, gates, curve, losses = np.empty_like(base), np.empty(n), fan.copy(), terms.copy()
    for s in range(factor.shape[0]):
        apply(base, links, factor[s], row, term, amount, by_row, straight, table)
        for run in range(n):
            gates[run] = gate[run] * factor[s, gate_term[run]] if gate_term[run] >= 0 else gate[run]
        if fan_term >= 0:
            for piece in range(fan.shape[0]):
                for column in range(2, 6):
                    curve[piece, column] = fan[piece, column] * factor[s, fan_term]
        for j in range(terms.shape[0]):
            losses[j, 0] = terms[j, 0] * factor[s, loss_term[j]] if loss_term[j] >= 0 else terms[j, 0]
        statuses[s] = solve_state(
            table, links, gates, curve, losses, quadratic, 0.0, flows[s], order, slots, work
        )[0]  # fmt: skip


def by_row(uses: Uses) -> Integers:
    """Return the terms of a row's own columns, shape (5, n)."""
    return np.stack([uses.rough, uses.friction, uses.power, uses.inside, uses.junction])


def _blocks(samples: int, rows: int) -> list[slice]:
    """Return the slices in which the draws are solved; each is for itself, so they change nothing."""
    size = max(1, AT_ONCE // rows)
    return [slice(first, first + size) for first in range(0, samples, size)]


def solved(tree: Tree, fan: Fan, gate: Floats, uses: Uses, factor: Floats) -> Draws:
    """Solve every draw of one state of the gates.

    Args:
        tree: the packed tree at the middle.
        fan: at the middle.
        gate: shape (n,), Pa per (m3/s)^2, infinite where shut.
        uses: where the uncertain terms stand.
        factor: shape (samples, terms).
    """
    samples, n = factor.shape[0], gate.shape[0]
    flows, statuses = np.zeros((samples, n)), np.zeros(samples, np.int64)
    for part in _blocks(samples, n):
        deadline.check()
        solve_draws(
            tree.table, tree.links, gate, factor[part], uses.row, uses.term, uses.amount, by_row(uses), uses.gate,
            uses.straight, fan.pieces, uses.fan, fan.terms, uses.losses, fan.net_quadratic, flows[part],
            statuses[part],
        )  # fmt: skip
    return Draws(flows, statuses)


def crosses_once(fan: Fan) -> bool:
    """Return whether the curve itself falls, so that one Newton solution is the only one.

    A discharge duct gives the outlet's velocity pressure back to the fan's side, but takes more than that on the
    tree's, so it alone makes no second crossing.
    """
    return replace(fan, recovery=0.0).always_falls()


def flow_of(tree: Tree, fan: Fan, gate: Floats) -> Floats | None:
    """Return the flow of every row at the operating point, m3/s; None where nothing flows at a known point."""
    deadline.check()
    if crosses_once(fan):
        n = gate.size
        flow = np.zeros(n)
        status, _ = solve_state(
            tree.table, tree.links, gate, fan.pieces, fan.terms, fan.net_quadratic, 0.0, flow,
            np.empty(2 * n, np.int32), np.empty(n, np.int32), np.empty((n, WORK_COLUMNS)),
        )  # fmt: skip
        if status != NOT_CONVERGED:
            return flow if status == OK else None
    found = operate(tree, fan, gate)
    return found.flow if found.crossings else None


def settled(draws: Draws) -> NDArray[np.bool_]:
    """Return which draws have an answer on the curve, shape (samples,)."""
    return np.asarray((draws.status == OK) | (draws.status == NO_FLOW))


@compiled
def need(table: np.ndarray, links: np.ndarray, gate: np.ndarray, flow: np.ndarray, change: np.ndarray) -> float:
    """Return the fall of total pressure at the fan that given flows need, the deepest arm governing everywhere."""
    n = table.shape[0]
    friction, resistance = straight_losses(table, flow)
    join = junction_losses(table, links, flow)
    out = np.zeros(n)
    for run in range(n - 1, -1, -1):
        q = flow[run]
        own = friction[run] + resistance[run] + (table[run, LOCAL] - change[run]) * q * q
        if not math.isinf(gate[run]):
            own += gate[run] * q * q
        above = LOWEST
        first = links[run, FIRST_CHILD]
        for arm in range(first, first + links[run, CHILDREN]):
            if flow[arm] <= 0.0:
                continue
            square = flow[arm] * flow[arm]
            above = max(above, out[arm] + join[arm] + change[arm] * square)
        out[run] = own + (above if above > LOWEST else 0.0)
    return float(out[0])


@compiled
def need_draws(
    base: np.ndarray,
    links: np.ndarray,
    gate: np.ndarray,
    factor: np.ndarray,
    row: np.ndarray,
    term: np.ndarray,
    amount: np.ndarray,
    by_row: np.ndarray,
    gate_term: np.ndarray,
    straight: np.ndarray,
    flow: np.ndarray,
    change: np.ndarray,
    needs: np.ndarray,
) -> None:
    """Fill needs[samples] with what the flows need at the fan in each draw."""
    table, gates = np.empty_like(base), np.empty(base.shape[0])
    for s in range(factor.shape[0]):
        apply(base, links, factor[s], row, term, amount, by_row, straight, table)
        for run in range(base.shape[0]):
            gates[run] = gate[run] * factor[s, gate_term[run]] if gate_term[run] >= 0 else gate[run]
        needs[s] = need(table, links, gates, flow, change)


def needed(tree: Tree, gate: Floats, flow: Floats, uses: Uses, factor: Floats) -> Floats:
    """Return what given flows need at the fan in each draw, Pa, shape (samples,)."""
    needs = np.empty(factor.shape[0])
    for part in _blocks(factor.shape[0], gate.size):
        deadline.check()
        need_draws(
            tree.table, tree.links, gate, factor[part], uses.row, uses.term, uses.amount, by_row(uses), uses.gate,
            uses.straight, flow, tree.change, needs[part],
        )  # fmt: skip
    return needs
