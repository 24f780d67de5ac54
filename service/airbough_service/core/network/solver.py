"""Solving: one state of a tree with a fan or with a given flow, and many states in one compiled loop.

Method: each run's loss is linearised in its flow and eliminated from the hoods to the fan, so that the whole tree
is one straight line, pressure = alpha + beta * flow, at the fan. Its crossing with the fan's tangent gives the
flow; going back up gives every run's. That is Newton's method on all flows at once, in O(runs) a step. The unknown
1/sqrt(f) of Colebrook's equation takes one Newton step of its own in each.

Only runs with an open hood upstream take part, so a state is compacted first: its live runs stand side by side in
`work`, parents before children, siblings together. `order` holds their rows in the table and how many live runs flow
into each, so that a walk from either end needs no pointers. Some columns of `work` stay with the table's rows from
state to state: what a state settled on is where the next one starts.
"""

from __future__ import annotations

import math

import numpy as np

from airbough_service.core.compiled import compiled, inner, whole
from airbough_service.core.laws.curve import power_loss
from airbough_service.core.laws.fan import fan_pressure
from airbough_service.core.laws.friction import COLEBROOK, TURBULENT_START, root_step
from airbough_service.core.network.columns import (
    CHILDREN,
    EXPONENT_A,
    EXPONENT_B,
    FIRST_CHILD,
    FRICTION,
    LAW,
    LOCAL,
    PARENT,
    POWER_A,
    POWER_B,
    REYNOLDS,
    ROUGH,
    START,
)
from airbough_service.core.network.first_flows import first_flows
from airbough_service.core.network.joining import join
from airbough_service.core.network.junction import lone_arm
from airbough_service.core.network.own_loss import slow_loss
from airbough_service.core.network.status import BEYOND_HIGH, BEYOND_LOW, NO_FLOW, NOT_CONVERGED, OK
from airbough_service.core.network.work import (
    ALPHA,
    ARMS,
    BETA,
    CONSTANT,
    FLOW,
    KEPT_LONE,
    KEPT_PER_FLOW,
    KEPT_POWERS,
    KEPT_Y,
    PER_FLOW,
    PROPORTION,
    QUADRATIC,
    ROW,
    RUBBING,
    WALL,
    Y,
    scratch,
)

SETTLED = 4.0e-6  # greatest relative change of a flow after which the next, its square, is far below the residual
RESIDUAL = 1.0e-10  # what that square may weigh in the pressures; a tenth of the residual promised
STEADY = 4.0e-5  # and greatest relative step of a 1/sqrt(f), likewise

LEAST_STIFFNESS = 0.1  # share of the tree's slope that is left against a fan whose curve rises as steeply
NO_SLOPE = 1.0e-9  # Pa per m3/s, where even that is nothing
LEAST_AT_FAN = 0.3  # share of the flow at the fan that is left in one step towards the curve's beginning
LEAST_OF_ARM, MOST_OF_ARM = 0.2, 5.0  # shares of an arm's flow that one step may reach: further, no tangent is trusted
STEPS = 25  # of Newton before a state is tried again with damping; of damped ones as many more as they are shorter
ATTEMPTS = 6  # of which the first is warm, the second cold, and each further one damped
_NO_ROOTS = np.empty((0, 0))
DAMPING = 0.4  # of each attempt by the one before: what swings between two flows settles with one of the five


@inner
def prepare(table: np.ndarray, links: np.ndarray, work: np.ndarray) -> None:
    """Fill the columns that stay from state to state, before the first one."""
    for run in range(table.shape[0]):
        work[run, KEPT_Y] = table[run, START]
    keep_losses(table, links, work)


@inner
def keep_losses(table: np.ndarray, links: np.ndarray, work: np.ndarray) -> None:
    """Fill the columns that stay from state to state, but for every 1/sqrt(f)."""
    for run in range(table.shape[0]):
        keep_loss(table, links, run, work)


@inner
def keep_loss(table: np.ndarray, links: np.ndarray, run: int, work: np.ndarray) -> None:
    """Fill one row of the columns that stay from state to state, but for its 1/sqrt(f)."""
    work[run, KEPT_PER_FLOW] = COLEBROOK / table[run, REYNOLDS]
    work[run, KEPT_POWERS] = table[run, POWER_A] + table[run, POWER_B]
    parent = links[run, PARENT]
    work[run, KEPT_LONE] = 0.0
    if parent >= 0 and links[parent, CHILDREN] > 1:
        work[run, KEPT_LONE] = lone_arm(table, links, links[parent, LAW], run, parent)


@inner
def open_runs(
    table: np.ndarray, links: np.ndarray, gate: np.ndarray, order: np.ndarray, slots: np.ndarray, work: np.ndarray
) -> int:
    """Compact a state: find the runs with an open hood upstream, and their losses; return how many they are.

    gate[n]: quadratic coefficient of each run's gate; infinite where it is shut.
    """
    n = table.shape[0]
    slots[:] = 0
    for run in range(n - 1, -1, -1):
        if math.isinf(gate[run]) or (slots[run] == 0 and links[run, CHILDREN] > 0):
            slots[run] = -1
        elif run > 0:
            slots[links[run, PARENT]] += 1
    if slots[0] < 0:
        return 0
    order[ROW, 0] = 0
    live, i = 1, 0
    while i < live:
        run = order[ROW, i]
        count = slots[run]
        order[ARMS, i] = count
        work[i, QUADRATIC] = table[run, LOCAL] + gate[run]
        if i > 0 and slots[links[run, PARENT]] == 1:
            work[i, QUADRATIC] += work[run, KEPT_LONE]
        work[i, RUBBING] = table[run, FRICTION]
        work[i, PER_FLOW] = work[run, KEPT_PER_FLOW]
        work[i, WALL] = table[run, ROUGH]
        i += 1
        if count > 0:
            first = links[run, FIRST_CHILD]
            for child in range(first, first + links[run, CHILDREN]):
                if slots[child] >= 0:
                    order[ROW, live] = child
                    live += 1
    return live


@inner
def other_losses(table: np.ndarray, run: int, q: float, powers: float, y: float) -> tuple[float, float]:
    """Return the losses, and their slope, that few runs have: slow friction (y > 0), power-law friction, a machine."""
    loss, slope = 0.0, 0.0
    if y > 0.0:
        loss, slope = slow_loss(table, whole(run), q, y)
    if powers > 0.0:
        if table[run, POWER_A] > 0.0:
            more, steeper = power_loss(table[run, POWER_A], table[run, EXPONENT_A], q)
            loss, slope = loss + more, slope + steeper
        if table[run, POWER_B] > 0.0:
            more, steeper = power_loss(table[run, POWER_B], table[run, EXPONENT_B], q)
            loss, slope = loss + more, slope + steeper
    return loss, slope


@inner
def linearise(table: np.ndarray, links: np.ndarray, order: np.ndarray, live: int, work: np.ndarray) -> float:
    """Fill ALPHA and BETA of every live run: the pressure at its downstream end against its flow.

    Takes one Newton step of every 1/sqrt(f) and returns the greatest, relative.
    """
    widest = 0.0
    child = live
    for i in range(live - 1, -1, -1):
        q = work[i, FLOW]
        slope = work[i, QUADRATIC] * q
        loss = slope * q
        slope *= 2.0
        slow = 0.0
        if work[i, RUBBING] > 0.0:
            y, b = work[i, Y], work[i, PER_FLOW] / q
            if b < COLEBROOK / TURBULENT_START:
                step, steep = root_step(work[i, WALL], b, y)
                if abs(step) > widest * y:
                    widest = abs(step) / y
                y -= step
                work[i, Y] = y
                friction = work[i, RUBBING] * q / (y * y)
                loss += friction * q
                slope += 2.0 * friction * steep
            else:
                slow = y
        run = order[ROW, i]
        if slow > 0.0 or work[run, KEPT_POWERS] > 0.0:
            more, steeper = other_losses(table, run, q, work[run, KEPT_POWERS], slow)
            loss += more
            slope += steeper
        alpha, beta = loss - slope * q, slope
        count = order[ARMS, i]
        if count > 0:
            child -= count
            if count == 1:
                a, b = work[child, ALPHA], work[child, BETA]
            else:
                a, b = join(table, links, links[run, LAW], order, i, child, count, work)
            alpha += a
            beta += b
        work[i, ALPHA], work[i, BETA] = alpha, beta
    return widest


@inner
def next_at_fan(
    old: float, alpha: float, beta: float, fan: np.ndarray, terms: np.ndarray, quadratic: float
) -> tuple[float, int, float]:
    """Return where the fan's tangent meets the tree's, held to the curve; a status; and how a relative error of the
    flow weighs in the pressures, which near the end of a curve is much.
    """
    lowest, highest = fan[0, 0], fan[fan.shape[0] - 1, 1]
    pressure, slope = fan_pressure(fan, terms, quadratic, old)
    stiffness = beta - slope
    if stiffness <= LEAST_STIFFNESS * abs(beta):
        stiffness = LEAST_STIFFNESS * abs(beta) + NO_SLOPE
    target = (pressure - slope * old - alpha + (stiffness - beta + slope) * old) / stiffness
    lever = (abs(beta) + abs(slope)) * old / max(pressure, 1.0)
    if target >= highest:
        return highest, BEYOND_HIGH, lever
    if target <= lowest:
        return max(lowest, LEAST_AT_FAN * old), BEYOND_LOW, lever
    return target, OK, lever


@inner
def share_out(order: np.ndarray, live: int, work: np.ndarray, damping: float, worst: float) -> float:
    """Move every flow to its share, from the fan to the hoods; return the greatest relative change."""
    child = 1
    for i in range(live):
        count = order[ARMS, i]
        if count == 1:
            work[child, FLOW] = work[i, FLOW]
        elif count > 1:
            total, held = 0.0, False
            for k in range(child, child + count):
                before = work[k, FLOW]
                after = work[k, CONSTANT] + work[k, PROPORTION] * work[i, FLOW]
                after = before + damping * (after - before)
                if after < LEAST_OF_ARM * before:
                    after, held = LEAST_OF_ARM * before, True
                elif after > MOST_OF_ARM * before:
                    after, held = MOST_OF_ARM * before, True
                if not abs(after - before) <= worst * after:  # also where not a number
                    worst = abs(after - before) / after
                work[k, FLOW] = after
                total += after
            if held:  # keeps mass exact to rounding
                scale = work[i, FLOW] / total
                for k in range(child, child + count):
                    work[k, FLOW] *= scale
        child += count
    return worst


@inner
def newton(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    live: int,
    work: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
    limit: int,
    damping: float,
) -> tuple[int, int]:
    """Iterate to the flows; return a status and the number of iterations. given > 0: the flow at the fan is fixed."""
    for iteration in range(limit):
        widest = linearise(table, links, order, live, work)
        old, status, target, lever = work[0, FLOW], OK, given, 2.0
        if given <= 0.0:
            target, status, lever = next_at_fan(old, work[0, ALPHA], work[0, BETA], fan, terms, quadratic)
        work[0, FLOW] = old + damping * (target - old)
        worst = share_out(order, live, work, damping, abs(target - old) / old)
        if worst < SETTLED * damping and widest < STEADY and lever * worst * worst < RESIDUAL:
            return status, iteration + 1
    return NOT_CONVERGED, limit


@inner
def settle(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    live: int,
    work: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
) -> tuple[int, int]:
    """Solve one compacted state, from a cold start and with ever more damping where plain Newton does not settle."""
    spent = 0
    damping = 1.0
    for attempt in range(ATTEMPTS):
        if attempt == 1:
            for i in range(live):
                work[order[ROW, i], KEPT_Y] = table[order[ROW, i], START]
        first_flows(table, links, order, live, work, fan, terms, quadratic, given)
        status, iterations = newton(
            table, links, order, live, work, fan, terms, quadratic, given, int(STEPS / damping), damping
        )
        spent += iterations
        if status != NOT_CONVERGED:
            return status, spent
        if attempt > 0:
            damping *= DAMPING
    return NOT_CONVERGED, spent


@inner
def hand_over(order: np.ndarray, live: int, work: np.ndarray, flow: np.ndarray) -> None:
    """Write the flows of a state to their rows, and keep what the next state starts from."""
    flow[:] = 0.0
    for i in range(live):
        flow[order[ROW, i]] = work[i, FLOW]
        work[order[ROW, i], KEPT_Y] = work[i, Y]


@inner
def begin_near(near: np.ndarray, order: np.ndarray, live: int, work: np.ndarray) -> bool:
    """Begin a compacted state from the flows near[n] of one much like it; return whether it has one for every run."""
    known = True
    for i in range(live):
        row = order[ROW, i]
        known = known and near[row] > 0.0
        work[i, FLOW], work[i, Y] = near[row], work[row, KEPT_Y]
    return known


@inner
def solve_next(
    table: np.ndarray,
    links: np.ndarray,
    gate: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
    near: np.ndarray,
    flow: np.ndarray,
    order: np.ndarray,
    slots: np.ndarray,
    work: np.ndarray,
) -> tuple[int, int]:
    """Solve a state into flow[n] from what the one before left in the scratch; return a status and the iterations.

    near: flows of a state much like it, from which two steps often do; empty where there is none.
    """
    live = open_runs(table, links, gate, order, slots, work)
    if live == 0:
        flow[:] = 0.0
        return NO_FLOW, 0
    status, iterations = NOT_CONVERGED, whole(0)
    if near.size > 0 and begin_near(near, order, live, work):
        status, iterations = newton(
            table, links, order, live, work, fan, terms, quadratic, given, whole(STEPS), 1.0
        )  # fmt: skip
    if status == NOT_CONVERGED:
        status, iterations = settle(table, links, order, live, work, fan, terms, quadratic, given)
    hand_over(order, live, work, flow)
    return status, iterations


@compiled
def solve_states(
    table: np.ndarray,
    links: np.ndarray,
    gates: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
    flows: np.ndarray,
    statuses: np.ndarray,
    iterations: np.ndarray,
    roots: np.ndarray,
) -> None:
    """Solve every row of gates[states, n] into flows[states, n], and into roots the 1/sqrt(f) that each run came to.

    roots: shape (states, n), or (0, n) where they are not asked for; in idle runs of no meaning.
    """
    order, slots, work = scratch(table.shape[0])
    prepare(table, links, work)
    for s in range(gates.shape[0]):
        statuses[s], iterations[s] = solve_next(
            table, links, gates[s], fan, terms, quadratic, given, fan[0, :0], flows[s], order, slots, work
        )  # fmt: skip
        if roots.shape[0] > 0:
            for run in range(table.shape[0]):
                roots[s, run] = work[run, KEPT_Y]
        if statuses[s] > NO_FLOW:
            prepare(table, links, work)


def solve_state(
    table: np.ndarray,
    links: np.ndarray,
    gate: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
    flow: np.ndarray,
) -> int:
    """Solve one state of the gates into flow[n]; return its status."""
    status = np.empty(1, np.int64)
    solve_states(
        table, links, gate[None], fan, terms, quadratic, given, flow[None], status, np.empty(1, np.int64), _NO_ROOTS
    )  # fmt: skip
    return int(status[0])
