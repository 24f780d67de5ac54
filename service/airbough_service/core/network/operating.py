"""Operating points: where the fan's curve and the system's cross, for one state of the gates."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled, inner, whole
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.core.laws.fan import Fan, fan_pressure
from airbough_service.core.network.solver import (
    hand_over,
    linearise,
    newton,
    open_runs,
    prepare,
    settle,
    solve_state,
)
from airbough_service.core.network.status import BEYOND_HIGH, BEYOND_LOW, NO_FLOW, NOT_CONVERGED
from airbough_service.core.network.tree import Tree
from airbough_service.core.network.work import (
    ALPHA,
    BETA,
    FLOW,
    Scratch,
    scratch,
)

Floats = NDArray[np.float64]
Outcome: TypeAlias = Literal["operating-point", "several-operating-points", "beyond-fan-curve", "no-flow"]

AT_ONCE = 100_000  # rows solved between two looks at the clock
NODES = 48  # at which a tree is solved where the curve has more points to be searched at
NEAR = 0.01  # share of what the fan affords within which of a crossing a tree is solved at every point
POINTS_A_PIECE = 16  # how finely a curve that may be crossed more than once is searched for crossings
WARM_STEPS = 8  # of Newton from the flows of the point before, before a point is solved afresh
MOST_HALVINGS = 200  # of the flows between which a crossing lies
NEAR_ENDS, NEAREST_ENDS = 1.0e-14, 4.0e-16  # share of the flow by which these are the same; where no double is between


class Crossing(NamedTuple):
    """A crossing of fan and system: flow in m3/s, fan static pressure in Pa."""

    flow: float
    pressure: float
    stable: bool


class Operating(NamedTuple):
    """What flows in one state.

    Attributes:
        outcome: the contract's word.
        flow: shape (n,), m3/s; zeros unless something flows at a known point.
        crossings: in order of flow.
        flow_at_least: beyond the curve's end: its last flow.
        flow_at_most: before the curve's beginning: its first flow.
        pressure_needed: fan static pressure that the system needs at that end, Pa.
    """

    outcome: Outcome
    flow: Floats
    crossings: tuple[Crossing, ...] = ()
    flow_at_least: float | None = None
    flow_at_most: float | None = None
    pressure_needed: float | None = None


@compiled
def fan_pressures(pieces: np.ndarray, terms: np.ndarray, quadratic: float, flows: np.ndarray) -> np.ndarray:
    """Return what a fan leaves at each flow, Pa."""
    out = np.empty(flows.shape[0])
    for s in range(flows.shape[0]):
        out[s] = fan_pressure(pieces, terms, quadratic, flows[s])[0]
    return out


@inner
def need_at(table: np.ndarray, links: np.ndarray, live: int, room: Scratch, flow: float, before: float) -> float:
    """Return the fall of total pressure over a compacted tree at a flow at the fan, Pa; not a number: not solved.

    before: the flow at the fan that `room` holds the solution of; the flows in proportion are a better start than any
    guess. 0: it holds none.
    """
    no_fan, no_terms = np.zeros((1, 6)), np.zeros((0, 2))
    status = NOT_CONVERGED
    if before > 0.0:
        for k in range(live):
            room.work[k, FLOW] *= flow / before
        status = newton(
            table, links, room.order, live, room.work, no_fan, no_terms, 0.0, flow, whole(WARM_STEPS), 1.0
        )[0]  # fmt: skip
    if status == NOT_CONVERGED:
        status = settle(table, links, room.order, live, room.work, no_fan, no_terms, 0.0, flow)[0]
    if status == NOT_CONVERGED:
        return np.nan
    linearise(table, links, room.order, live, room.work)
    return room.work[0, ALPHA] + room.work[0, BETA] * flow


@compiled
def follow(table: np.ndarray, links: np.ndarray, gate: np.ndarray, flows: np.ndarray, flow: np.ndarray) -> np.ndarray:
    """Return what `system_curve` does, and fill flow[n] with what flows in each run at the last flow at the fan."""
    room = scratch(table.shape[0])
    prepare(table, links, room.work)
    live = open_runs(table, links, gate, room.order, room.slots, room.work)
    out, before = np.zeros(flows.shape[0]), 0.0
    flow[:] = 0.0
    for i in range(flows.shape[0]):
        if flows[i] > 0.0 and live > 0:
            out[i] = need_at(table, links, live, room, flows[i], before)
            if np.isnan(out[i]):  # nothing rests on part of a curve
                out[i:] = np.nan
                break
            before = flows[i]
    if before > 0.0:
        hand_over(room.order, live, room.work, flow)
    return out


@compiled
def crossing_between(
    table: np.ndarray,
    links: np.ndarray,
    gate: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    ends: tuple[float, float],
    surplus: tuple[float, float],
) -> float:
    """Return where the fan's surplus over the need vanishes between two flows that it has unlike signs at, m3/s.

    Illinois' false position, bounded (Dowell and Jarratt, BIT 11, 1971); not a number where a flow is not solved.
    """
    room = scratch(table.shape[0])
    prepare(table, links, room.work)
    live = open_runs(table, links, gate, room.order, room.slots, room.work)
    low, high = ends
    at_low, at_high = surplus
    rising, side, before = at_low > 0.0, 0, 0.0
    for _ in range(MOST_HALVINGS):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        if not low < middle < high:
            middle = 0.5 * (low + high)
        value = fan_pressure(fan, terms, quadratic, middle)[0] - need_at(table, links, live, room, middle, before)
        if value == 0.0 or high - low <= NEAREST_ENDS * high:
            return middle
        if np.isnan(value):
            return value
        before = middle
        if (value > 0.0) == rising:
            low, at_low = middle, value
            at_high = 0.5 * at_high if side == 1 else at_high
            side = 1
        else:
            high, at_high = middle, value
            at_low = 0.5 * at_low if side == -1 else at_low
            side = -1
        if high - low <= NEAR_ENDS * high:
            break
    return 0.5 * (low + high)


def system_curve(table: Floats, links: NDArray[np.int32], gate: Floats, flows: Floats) -> Floats:
    """Return the fall of total pressure over the tree at each given flow at the fan, Pa; not a number: not solved."""
    return np.asarray(follow(table, links, gate, flows, np.empty(table.shape[0])))


def flows_at(tree: Tree, gate: Floats, at_fan: float) -> tuple[Floats, float]:
    """Return every run's flow when the fan draws `at_fan` m3/s, and the fall of total pressure over the tree, Pa.

    Raises:
        DidNotConvergeError: no distribution of the flow was found.
    """
    flow = np.empty(tree.table.shape[0])
    need = float(follow(tree.table, tree.links, gate, np.array([at_fan], np.float64), flow)[0])
    if math.isnan(need):
        raise DidNotConvergeError("the flows did not settle")
    return flow, need


def operate(tree: Tree, fan: Fan, gate: Floats) -> Operating:
    """Return what flows in one state of the gates.

    Args:
        tree: the packed tree, any discharge included.
        fan: what the fan leaves for it.
        gate: shape (n,), Pa per (m3/s)^2, infinite where shut.

    Raises:
        DidNotConvergeError: never seen on a valid tree.
    """
    deadline.check()
    n = tree.table.shape[0]
    flow = np.zeros(n)
    status = solve_state(
        tree.table, tree.links, gate, fan.pieces, fan.terms, fan.net_quadratic, 0.0, flow
    )  # fmt: skip
    if status == NO_FLOW:
        return Operating("no-flow", np.zeros(n))
    if status == NOT_CONVERGED or not fan.crosses_once:
        return _search(tree, fan, gate)
    if status == BEYOND_HIGH:
        return _beyond(tree, fan, gate, high=True)
    if status == BEYOND_LOW:
        return _beyond(tree, fan, gate, high=False)
    at_fan = float(flow[0])
    return Operating("operating-point", flow, (Crossing(at_fan, fan.static_pressure(at_fan), True),))


def _beyond(tree: Tree, fan: Fan, gate: Floats, *, high: bool) -> Operating:
    """Return the outcome of a crossing that lies off the curve."""
    end = fan.highest if high else fan.lowest
    over_tree = float(system_curve(tree.table, tree.links, gate, np.array([end]))[0])
    needed = over_tree + fan.collector_loss(end) - fan.recovery * end * end
    return Operating(
        "beyond-fan-curve",
        np.zeros(tree.table.shape[0]),
        flow_at_least=end if high else None,
        flow_at_most=None if high else end,
        pressure_needed=needed,
    )


def _search(tree: Tree, fan: Fan, gate: Floats) -> Operating:
    """Search the whole curve for crossings; runs take the stable one of least flow."""
    grid = np.unique(np.linspace(fan.pieces[:, 0], fan.pieces[:, 1], POINTS_A_PIECE + 1))
    surplus = _searched(tree, fan, gate, grid)
    if not np.isfinite(surplus).all():
        raise DidNotConvergeError("the system curve could not be followed")
    crossings = []
    at_rest = (grid[:-1] == 0.0) & (surplus[:-1] == 0.0)  # nothing given, nothing needed, nothing flows: no crossing
    for i in np.flatnonzero(((surplus[1:] > 0.0) != (surplus[:-1] > 0.0)) & ~at_rest):
        deadline.check()
        ends, signs = (float(grid[i]), float(grid[i + 1])), (float(surplus[i]), float(surplus[i + 1]))
        solved = (tree.table, tree.links, gate, fan.pieces, fan.terms, fan.net_quadratic)
        at = float(crossing_between(*solved, ends, signs))
        if math.isnan(at):
            raise DidNotConvergeError("the system curve could not be followed")
        crossings.append(Crossing(at, fan.static_pressure(at), bool(surplus[i] > 0.0)))
    if not crossings:
        return _beyond(tree, fan, gate, high=bool(surplus[-1] > 0.0))
    stable = [crossing for crossing in crossings if crossing.stable] or crossings
    flow, _ = flows_at(tree, gate, stable[0].flow)
    outcome: Outcome = "operating-point" if len(crossings) == 1 else "several-operating-points"
    return Operating(outcome, flow, tuple(crossings))


def _afforded(fan: Fan, flows: Floats) -> Floats:
    """Return what the fan leaves for the tree at each flow, Pa."""
    return np.asarray(fan_pressures(fan.pieces, fan.terms, fan.net_quadratic, flows))


def _searched(tree: Tree, fan: Fan, gate: Floats, grid: Floats) -> Floats:
    """Return the surplus at every point, Pa: solved near crossings; elsewhere need over flow squared is interpolated.

    That share changes by a few percent over the whole curve, so that the interpolation is far nearer than NEAR.
    """
    if grid.size <= NODES:
        return _surplus(tree, fan, gate, grid)
    first = int(grid[0] <= 0.0)
    early = first + 2 ** np.arange(int(math.log2(grid.size - first)))
    nodes = np.unique(np.concatenate([[first], early, np.linspace(first, grid.size - 1, NODES - 8).astype(int)]))
    afforded = _afforded(fan, grid)
    need = afforded[nodes] - _surplus(tree, fan, gate, grid[nodes])
    if not (np.isfinite(need).all() and (need > 0.0).all()):
        return _surplus(tree, fan, gate, grid)
    at = np.log(grid[first:])
    surplus = afforded.copy()
    surplus[first:] -= np.exp(np.interp(at, at[nodes - first], np.log(need) - 2.0 * at[nodes - first]) + 2.0 * at)
    near = np.abs(surplus) <= NEAR * np.abs(afforded)
    crossed = np.flatnonzero((surplus[1:] > 0.0) != (surplus[:-1] > 0.0))
    near[crossed] = near[crossed + 1] = True
    if near.any():
        surplus[near] = _surplus(tree, fan, gate, grid[near])
    return surplus


def _surplus(tree: Tree, fan: Fan, gate: Floats, flows: Floats) -> Floats:
    """Return what the fan affords less what the tree needs, Pa."""
    afforded = _afforded(fan, flows)
    block = max(1, AT_ONCE // gate.size)
    needed = []
    for first in range(0, flows.size, block):
        deadline.check()
        needed.append(system_curve(tree.table, tree.links, gate, flows[first : first + block]))
        if not np.isfinite(needed[-1]).all():
            return np.full(flows.size, np.nan)
    return afforded - np.concatenate(needed)


def curve_samples(fan: Fan, flows: Floats) -> Floats:
    """Return fan static pressure at flows, Pa; shape of `flows`."""
    return np.asarray(fan_pressures(fan.pieces, fan.terms[:0], fan.quadratic, np.asarray(flows, float)))
