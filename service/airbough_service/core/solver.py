"""Solving: one state of a tree with a fan or with a given flow, and many states in one compiled loop."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from airbough_service.core.columns import (
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
    VP_START,
)
from airbough_service.core.kernel import (
    BEYOND_HIGH,
    BEYOND_LOW,
    NO_FLOW,
    NOT_CONVERGED,
    OK,
    TURBULENT_START,
    TWO_OVER_LN10,
    arm_pressures,
    entry_recovery,
    fan_pressure,
    lone_arm,
    pair_pressures,
    slow_friction,
)

_compiled = njit(cache=True, error_model="numpy", nogil=True)

# Columns of the work array, one row a run.
QUADRATIC, HEAD, ALPHA, BETA, CONSTANT, PROPORTION, Y = 0, 1, 2, 3, 4, 5, 6
WORK_COLUMNS = 7


@_compiled
def open_runs(
    table: np.ndarray, links: np.ndarray, gate: np.ndarray, order: np.ndarray, slots: np.ndarray, work: np.ndarray
) -> int:
    """Find the runs with an open hood upstream, hoods first, and their quadratic losses in this state.

    gate[n]: quadratic coefficient of each run's gate; infinite where it is shut. Fills order[:m] with runs, parents
    before children; slots[first child ...] with each run's live children, their number in order[n + run].
    """
    n = table.shape[0]
    for run in range(n - 1, -1, -1):
        children = links[run, CHILDREN]
        count = 0
        if children > 0 and not math.isinf(gate[run]):
            first = links[run, FIRST_CHILD]
            for child in range(first, first + children):
                if order[n + child] >= 0:
                    slots[first + count] = child
                    count += 1
        if math.isinf(gate[run]) or (children > 0 and count == 0):
            count = -1
        order[n + run] = count
    if order[n] < 0:
        return 0
    work[0, QUADRATIC] = table[0, LOCAL] + gate[0]
    order[0] = 0
    live, i = 1, 0
    while i < live:
        run = order[i]
        i += 1
        first, count = links[run, FIRST_CHILD], order[n + run]
        for k in range(first, first + count):
            arm = slots[k]
            work[arm, QUADRATIC] = table[arm, LOCAL] + gate[arm]
            order[live] = arm
            live += 1
        if count == 1 and links[run, CHILDREN] > 1:
            work[slots[first], QUADRATIC] += lone_arm(table, links, links[run, LAW], slots[first], run)
    return live


@_compiled
def first_flows(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    slots: np.ndarray,
    live: int,
    work: np.ndarray,
    flow: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
) -> None:
    """Guess every flow by composing conductances from the hoods to the fan, with a rough friction factor."""
    n = table.shape[0]
    for i in range(live - 1, -1, -1):
        run = order[i]
        y = table[run, START]
        work[run, Y] = y
        own = work[run, QUADRATIC] + table[run, FRICTION] / (y * y)
        if table[run, POWER_A] > 0.0 or table[run, POWER_B] > 0.0:
            q = math.sqrt(200.0 / table[run, VP_START])  # the flow at 200 Pa of velocity pressure
            own += table[run, POWER_A] * q ** (table[run, EXPONENT_A] - 2.0)
            own += table[run, POWER_B] * q ** (table[run, EXPONENT_B] - 2.0)
        count = order[n + run]
        if count > 0:
            first = links[run, FIRST_CHILD]
            conductance = 0.0
            for k in range(first, first + count):
                conductance += work[slots[k], ALPHA]
            own += 1.0 / (conductance * conductance)
        work[run, ALPHA] = 1.0 / math.sqrt(own + 1.0e-9)
    top = 0
    if given > 0.0:
        flow[top] = given
    else:
        resistance = 1.0 / (work[top, ALPHA] * work[top, ALPHA])
        low, high = fan[0, 0], fan[fan.shape[0] - 1, 1]
        for _ in range(6):
            q = 0.5 * (low + high)
            if fan_pressure(fan, terms, quadratic, q)[0] > resistance * q * q:
                low = q
            else:
                high = q
        flow[top] = 0.5 * (low + high)
    for i in range(live):
        run = order[i]
        count = order[n + run]
        if count > 0:
            first = links[run, FIRST_CHILD]
            conductance = 0.0
            for k in range(first, first + count):
                conductance += work[slots[k], ALPHA]
            for k in range(first, first + count):
                flow[slots[k]] = flow[run] * work[slots[k], ALPHA] / conductance


@_compiled
def run_loss(table: np.ndarray, work: np.ndarray, run: int, q: float) -> tuple[float, float]:
    """Return a run's own loss in Pa and its slope; takes one Newton step of 1/sqrt(f)."""
    reynolds = table[run, REYNOLDS] * q
    loss = work[run, QUADRATIC] * q * q
    slope = 2.0 * work[run, QUADRATIC] * q
    if table[run, FRICTION] > 0.0:
        base = table[run, FRICTION] * q * q
        if reynolds > TURBULENT_START:
            y = work[run, Y]
            b = 2.51 / reynolds
            argument = table[run, ROUGH] + b * y
            bend = TWO_OVER_LN10 * b / argument
            y -= (y + TWO_OVER_LN10 * math.log(argument)) / (1.0 + bend)
            work[run, Y] = y
            friction = base / (y * y)
            loss += friction
            slope += 2.0 * friction / (q * (1.0 + bend))
        else:
            factor, bend = slow_friction(table[run, ROUGH], reynolds, work[run, Y])
            loss += base * factor
            slope += base * factor * (2.0 + bend) / q
    if table[run, POWER_A] > 0.0:
        term = table[run, POWER_A] * q ** table[run, EXPONENT_A]
        loss += term
        slope += term * table[run, EXPONENT_A] / q
    if table[run, POWER_B] > 0.0:
        term = table[run, POWER_B] * q ** table[run, EXPONENT_B]
        loss += term
        slope += term * table[run, EXPONENT_B] / q
    return loss, slope


@_compiled
def join_pair(
    table: np.ndarray, links: np.ndarray, law: int, run: int, one: int, two: int, work: np.ndarray, flow: np.ndarray
) -> tuple[float, float]:
    """Eliminate a flow-ratio junction of two arms; return alpha and beta of the pressure below it."""
    q1, q2 = flow[one], flow[two]
    j1, j2, j11, j12, j21, j22 = pair_pressures(table, links, law, run, one, two, q1, q2)
    c1 = work[one, ALPHA] + j1 - j11 * q1 - j12 * q2
    c2 = work[two, ALPHA] + j2 - j21 * q1 - j22 * q2
    m11, m22 = work[one, BETA] + j11, work[two, BETA] + j22
    own = work[one, BETA] + work[two, BETA]
    stiffness = m11 - j21 - j12 + m22
    if stiffness < 0.1 * own:  # a junction that would run away: step less
        stiffness = 0.1 * own
    constant, proportion = (c2 - c1) / stiffness, (m22 - j12) / stiffness
    work[one, CONSTANT], work[one, PROPORTION] = constant, proportion
    work[two, CONSTANT], work[two, PROPORTION] = -constant, 1.0 - proportion
    return c1 + m11 * constant - j12 * constant, m11 * proportion + j12 * (1.0 - proportion)


@_compiled
def join_many(
    table: np.ndarray, links: np.ndarray, law: int, run: int, arms: np.ndarray, work: np.ndarray, flow: np.ndarray
) -> tuple[float, float]:
    """Eliminate a flow-ratio junction of three arms; return alpha and beta of the pressure below it."""
    count = arms.shape[0]
    flows = np.empty(count)
    total = 0.0
    for k in range(count):
        flows[k] = flow[arms[k]]
        total += flows[k]
    loss, slopes = arm_pressures(table, links, law, run, arms, flows, total)
    matrix = np.empty((count, count))
    right = np.empty((count, 2))
    for k in range(count):
        right[k, 0], right[k, 1] = 1.0, work[arms[k], ALPHA] + loss[k]
        for m in range(count):
            matrix[k, m] = slopes[k, m]
            right[k, 1] -= slopes[k, m] * flows[m]
        matrix[k, k] += work[arms[k], BETA]
    eliminate(matrix, right)
    ones, constants = 0.0, 0.0
    for k in range(count):
        ones += right[k, 0]
        constants += right[k, 1]
    for k in range(count):
        work[arms[k], PROPORTION] = right[k, 0] / ones
        work[arms[k], CONSTANT] = right[k, 0] * constants / ones - right[k, 1]
    return constants / ones, 1.0 / ones


@_compiled
def eliminate(matrix: np.ndarray, right: np.ndarray) -> None:
    """Solve matrix * x = right in place by Gauss with partial pivoting; x is left in `right`."""
    n = matrix.shape[0]
    for k in range(n):
        best = k
        for i in range(k + 1, n):
            if abs(matrix[i, k]) > abs(matrix[best, k]):
                best = i
        if best != k:
            for j in range(n):
                matrix[k, j], matrix[best, j] = matrix[best, j], matrix[k, j]
            for j in range(right.shape[1]):
                right[k, j], right[best, j] = right[best, j], right[k, j]
        for i in range(k + 1, n):
            share = matrix[i, k] / matrix[k, k]
            for j in range(k, n):
                matrix[i, j] -= share * matrix[k, j]
            for j in range(right.shape[1]):
                right[i, j] -= share * right[k, j]
    for k in range(n - 1, -1, -1):
        for j in range(right.shape[1]):
            value = right[k, j]
            for i in range(k + 1, n):
                value -= matrix[k, i] * right[i, j]
            right[k, j] = value / matrix[k, k]


@_compiled
def join_entry(
    table: np.ndarray, run: int, arms: np.ndarray, work: np.ndarray, flow: np.ndarray
) -> tuple[float, float]:
    """Eliminate an entry-angle junction; return alpha and beta of the total pressure below it."""
    weight, constants, total = 0.0, 0.0, 0.0
    for k in range(arms.shape[0]):
        arm = arms[k]
        q = flow[arm]
        total += q
        own = (1.0 + table[arm, ENTRY_FACTOR]) * table[arm, VP_END]
        beta = work[arm, BETA] + 2.0 * own * q
        alpha = work[arm, ALPHA] - own * q * q
        work[arm, ALPHA], work[arm, BETA] = alpha, beta
        weight += 1.0 / beta
        constants += alpha / beta
    recovery, resultant, into_is_less = entry_recovery(table, run, arms, flow)
    alpha_out, beta_out = constants / weight, 1.0 / weight
    if into_is_less:
        slope = 2.0 * table[run, VP_START] * total
        alpha_out += recovery  # recovery is quadratic: value - slope * total = -recovery
        beta_out -= slope
    for k in range(arms.shape[0]):
        arm = arms[k]
        beta = work[arm, BETA]
        work[arm, PROPORTION] = 1.0 / (weight * beta)
        work[arm, CONSTANT] = (constants / weight - work[arm, ALPHA]) / beta
        if not into_is_less:
            q = flow[arm]
            slope = (3.0 * table[arm, VP_END] * q * q - resultant) / total
            alpha_out -= slope * (work[arm, CONSTANT] - q)
            beta_out -= slope * work[arm, PROPORTION]
    if not into_is_less:
        alpha_out -= recovery
    return alpha_out, beta_out


@_compiled
def join_meet(
    slots: np.ndarray, first: int, count: int, work: np.ndarray
) -> tuple[float, float]:
    """Eliminate a junction where total pressures meet; return alpha and beta below it."""
    weight, constants = 0.0, 0.0
    for k in range(first, first + count):
        inverse = 1.0 / work[slots[k], BETA]
        weight += inverse
        constants += work[slots[k], ALPHA] * inverse
    for k in range(first, first + count):
        arm = slots[k]
        work[arm, PROPORTION] = 1.0 / (weight * work[arm, BETA])
        work[arm, CONSTANT] = (constants / weight - work[arm, ALPHA]) / work[arm, BETA]
    return constants / weight, 1.0 / weight


@_compiled
def linearise(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    slots: np.ndarray,
    live: int,
    work: np.ndarray,
    flow: np.ndarray,
) -> None:
    """Fill ALPHA and BETA of every live run: the pressure at its downstream end against its flow."""
    n = table.shape[0]
    for i in range(live - 1, -1, -1):
        run = order[i]
        q = flow[run]
        loss, slope = run_loss(table, work, run, q)
        alpha, beta = loss - slope * q, slope
        count = order[n + run]
        if count > 0:
            first = links[run, FIRST_CHILD]
            law = links[run, LAW]
            if count == 1:
                arm = slots[first]
                a, b = work[arm, ALPHA], work[arm, BETA]
                work[arm, CONSTANT], work[arm, PROPORTION] = 0.0, 1.0
            elif law == MEET:
                a, b = join_meet(slots, first, count, work)
            elif law == ENTRY:
                a, b = join_entry(table, run, slots[first : first + count], work, flow)
            elif count == 2:
                a, b = join_pair(table, links, law, run, slots[first], slots[first + 1], work, flow)
            else:
                a, b = join_many(table, links, law, run, slots[first : first + count], work, flow)
            alpha += a
            beta += b
        work[run, ALPHA], work[run, BETA] = alpha, beta


@_compiled
def newton(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    slots: np.ndarray,
    live: int,
    work: np.ndarray,
    flow: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
    limit: int,
    damping: float,
) -> tuple[int, int]:
    """Iterate to the flows; return a status and the number of iterations. given > 0: the flow at the fan is fixed."""
    n = table.shape[0]
    top = 0
    lowest, highest = fan[0, 0], fan[fan.shape[0] - 1, 1]
    for iteration in range(limit):
        linearise(table, links, order, slots, live, work, flow)
        old = flow[top]
        status = OK
        if given > 0.0:
            target = given
        else:
            pressure, slope = fan_pressure(fan, terms, quadratic, old)
            stiffness = work[top, BETA] - slope
            if stiffness <= 0.1 * abs(work[top, BETA]):
                stiffness = 0.1 * abs(work[top, BETA]) + 1.0e-9
            target = (pressure - slope * old - work[top, ALPHA] + (stiffness - work[top, BETA] + slope) * old) / stiffness
            if target >= highest:
                status, target = BEYOND_HIGH, highest
            elif target <= lowest:
                status, target = BEYOND_LOW, max(lowest, 0.3 * old)
        worst = abs(target - old) / old
        flow[top] = old + damping * (target - old)
        for i in range(live):
            run = order[i]
            count = order[n + run]
            if count == 0:
                continue
            first = links[run, FIRST_CHILD]
            total = 0.0
            for k in range(first, first + count):
                arm = slots[k]
                before = flow[arm]
                after = work[arm, CONSTANT] + work[arm, PROPORTION] * flow[run]
                after = before + damping * (after - before)
                if after < 0.2 * before:
                    after = 0.2 * before
                elif after > 5.0 * before:
                    after = 5.0 * before
                change = abs(after - before) / after
                if not change <= worst:  # also where not a number
                    worst = change
                flow[arm] = after
                total += after
            scale = flow[run] / total  # 1 but for a bounded step; keeps mass exact to rounding
            for k in range(first, first + count):
                flow[slots[k]] *= scale
        if worst < 2.0e-6 * damping:
            return status, iteration + 1
    return NOT_CONVERGED, limit


@_compiled
def settle(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    slots: np.ndarray,
    live: int,
    work: np.ndarray,
    flow: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
) -> tuple[int, int]:
    """Solve one compacted state from a cold start, with ever more damping where plain Newton does not settle."""
    spent = 0
    damping = 1.0
    for _ in range(5):
        first_flows(table, links, order, slots, live, work, flow, fan, terms, quadratic, given)
        status, iterations = newton(
            table, links, order, slots, live, work, flow, fan, terms, quadratic, given, int(25 / damping), damping
        )
        spent += iterations
        if status != NOT_CONVERGED:
            return status, spent
        damping *= 0.4
    return NOT_CONVERGED, spent


@_compiled
def solve_state(
    table: np.ndarray,
    links: np.ndarray,
    gate: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
    flow: np.ndarray,
    order: np.ndarray,
    slots: np.ndarray,
    work: np.ndarray,
) -> tuple[int, int]:
    """Solve one state of the gates into flow[n]; return a status and the iterations spent."""
    flow[:] = 0.0
    live = open_runs(table, links, gate, order, slots, work)
    if live == 0:
        return NO_FLOW, 0
    return settle(table, links, order, slots, live, work, flow, fan, terms, quadratic, given)


@_compiled
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
) -> None:
    """Solve every row of gates[states, n] into flows[states, n]."""
    n = table.shape[0]
    order = np.empty(2 * n, np.int32)
    slots = np.empty(n, np.int32)
    work = np.empty((n, WORK_COLUMNS))
    for s in range(gates.shape[0]):
        statuses[s], iterations[s] = solve_state(
            table, links, gates[s], fan, terms, quadratic, given, flows[s], order, slots, work
        )


def warm() -> None:
    """Compile everything that a request may call; see ``core.warm``."""
    from airbough_service.core import warm as warming

    warming.warm()
