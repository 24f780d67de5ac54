"""Many draws of one tree's coefficients, each solved, in one compiled loop.

A draw multiplies each uncertain term by a factor of its own; the tree's topology and gates stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled, inner
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.columns import (
    CHILDREN,
    ENTRY_FACTOR,
    FACTOR_HIGH,
    FACTOR_LOW,
    FACTOR_SLOPE,
    FIRST_CHILD,
    FRICTION,
    LOCAL,
    POWER_A,
    POWER_B,
    ROUGH,
    SIDE_LINEAR,
)
from airbough_service.core.network.junction import junction_losses
from airbough_service.core.network.operating import operate
from airbough_service.core.network.own_loss import fill_own_losses
from airbough_service.core.network.solver import prepare, solve_next, solve_state
from airbough_service.core.network.status import NO_FLOW, NOT_CONVERGED, OK
from airbough_service.core.network.tree import Tree
from airbough_service.core.network.work import copy_row, scratch

Floats = NDArray[np.float64]
Integers = NDArray[np.int32]

LOWEST = -1.0e300  # Pa; below any need

AT_ONCE = 100_000  # rows solved between two looks at the clock


class Uses(NamedTuple):
    """Where the uncertain terms stand in the packed tree.

    Attributes:
        row, term, amount: each shape (uses,): the LOCAL of a row holds `amount` Pa per (m3/s)^2 of a term.
        rough, friction, power, inside, junction, beside, gate: each shape (n,): the term of the row's roughness,
            friction multiplier, power-law friction, machine resistance, law as a branch, what it costs the straight
            run, gate; -1 where it has none.
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
    beside: Integers
    gate: Integers
    fan: int
    losses: Integers


class Middle(NamedTuple):
    """A tree and a fan before anything is drawn; arrays as of Tree and Fan.

    Attributes:
        table, links: of the packed tree.
        gate: shape (n,), Pa per (m3/s)^2, infinite where shut.
        pieces, terms, quadratic: of the fan.
    """

    table: Floats
    links: Integers
    gate: Floats
    pieces: Floats
    terms: Floats
    quadratic: float


@dataclass(frozen=True, slots=True)
class Draws:
    """What the draws bring: flow of each row, shape (samples, n); solver's status, shape (samples,)."""

    flow: Floats
    status: NDArray[np.int64]


@inner
def drawn(factor: np.ndarray, term: int) -> float:
    """Return what a draw multiplies by: 1 where there is no term."""
    return float(factor[term]) if term >= 0 else 1.0


@compiled
def apply(base: np.ndarray, factor: np.ndarray, uses: Uses, table: np.ndarray) -> None:
    """Fill `table` with one draw of `base`."""
    for run in range(base.shape[0]):
        copy_row(base[run], table[run])
    for use in range(uses.row.shape[0]):
        table[uses.row[use], LOCAL] += (factor[uses.term[use]] - 1.0) * uses.amount[use]
    for run in range(base.shape[0]):
        friction = drawn(factor, uses.friction[run])
        table[run, ROUGH] *= drawn(factor, uses.rough[run])
        table[run, FRICTION] *= friction
        table[run, POWER_A] *= friction * drawn(factor, uses.power[run])
        table[run, POWER_B] *= drawn(factor, uses.inside[run])
        table[run, SIDE_LINEAR] *= drawn(factor, uses.beside[run])
        if uses.junction[run] >= 0:
            for column in (ENTRY_FACTOR, FACTOR_LOW, FACTOR_SLOPE, FACTOR_HIGH):
                table[run, column] *= factor[uses.junction[run]]


@inner
def apply_gates(gate: np.ndarray, factor: np.ndarray, uses: Uses, gates: np.ndarray) -> None:
    """Fill `gates` with one draw of `gate`."""
    for run in range(gate.shape[0]):
        gates[run] = gate[run] * drawn(factor, uses.gate[run])


@compiled
def solve_draws(middle: Middle, uses: Uses, factor: np.ndarray, flows: np.ndarray, statuses: np.ndarray) -> None:
    """Solve every row of factor[samples, terms] into flows[samples, n]."""
    n = middle.gate.shape[0]
    order, slots, work = scratch(n)
    table, gates = np.empty_like(middle.table), np.empty(n)
    pieces, terms = middle.pieces.copy(), middle.terms.copy()
    for s in range(factor.shape[0]):
        apply(middle.table, factor[s], uses, table)
        apply_gates(middle.gate, factor[s], uses, gates)
        of_fan = drawn(factor[s], uses.fan)
        for piece in range(pieces.shape[0]):
            for term in range(2, pieces.shape[1]):
                pieces[piece, term] = middle.pieces[piece, term] * of_fan
        for j in range(terms.shape[0]):
            terms[j, 0] = middle.terms[j, 0] * drawn(factor[s], uses.losses[j])
        prepare(table, middle.links, work)
        statuses[s] = solve_next(
            table, middle.links, gates, pieces, terms, middle.quadratic, 0.0, factor[s, :0], flows[s],
            order, slots, work,
        )[0]  # fmt: skip


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
    middle = Middle(tree.table, tree.links, gate, fan.pieces, fan.terms, fan.net_quadratic)
    flows, statuses = np.zeros((samples, n)), np.zeros(samples, np.int64)
    for part in _blocks(samples, n):
        deadline.check()
        solve_draws(middle, uses, factor[part], flows[part], statuses[part])
    return Draws(flows, statuses)


def flow_of(tree: Tree, fan: Fan, gate: Floats) -> Floats | None:
    """Return the flow of every row at the operating point, m3/s; None where nothing flows at a known point."""
    deadline.check()
    if fan.crosses_once:
        flow = np.zeros(gate.size)
        status = solve_state(
            tree.table, tree.links, gate, fan.pieces, fan.terms, fan.net_quadratic, 0.0, flow
        )  # fmt: skip
        if status != NOT_CONVERGED:
            return flow if status == OK else None
    found = operate(tree, fan, gate)
    return found.flow if found.crossings else None


def settled(draws: Draws) -> NDArray[np.bool_]:
    """Return which draws have an answer on the curve, shape (samples,)."""
    return np.asarray((draws.status == OK) | (draws.status == NO_FLOW))


@inner
def need(table: np.ndarray, links: np.ndarray, gate: np.ndarray, flow: np.ndarray, change: np.ndarray) -> float:
    """Return the fall of total pressure at the fan that given flows need, the deepest arm governing everywhere."""
    n = table.shape[0]
    join, out = junction_losses(table, links, flow), np.empty(n)
    fill_own_losses(table, change, gate, flow, np.arange(n), out)
    for run in range(n - 1, -1, -1):
        above = LOWEST
        first = links[run, FIRST_CHILD]
        for arm in range(first, first + links[run, CHILDREN]):
            if flow[arm] > 0.0:
                above = max(above, out[arm] + join[arm] + change[arm] * flow[arm] * flow[arm])
        out[run] += above if above > LOWEST else 0.0
    return float(out[0])


@compiled
def need_draws(
    middle: Middle, uses: Uses, factor: np.ndarray, flow: np.ndarray, change: np.ndarray, needs: np.ndarray
) -> None:
    """Fill needs[samples] with what the flows need at the fan in each draw."""
    table, gates = np.empty_like(middle.table), np.empty(middle.gate.shape[0])
    for s in range(factor.shape[0]):
        apply(middle.table, factor[s], uses, table)
        apply_gates(middle.gate, factor[s], uses, gates)
        needs[s] = need(table, middle.links, gates, flow, change)


def needed(tree: Tree, gate: Floats, flow: Floats, uses: Uses, factor: Floats) -> Floats:
    """Return what given flows need at the fan in each draw, Pa, shape (samples,)."""
    middle = Middle(tree.table, tree.links, gate, np.zeros((1, 6)), np.zeros((0, 2)), 0.0)
    needs = np.empty(factor.shape[0])
    for part in _blocks(factor.shape[0], gate.size):
        deadline.check()
        need_draws(middle, uses, factor[part], flow, tree.change, needs[part])
    return needs
