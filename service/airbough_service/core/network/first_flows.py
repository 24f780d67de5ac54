"""The first guess of every flow, good enough that three Newton steps do."""

from __future__ import annotations

import math

import numpy as np

from airbough_service.core.compiled import inner
from airbough_service.core.laws.fan import fan_pressure
from airbough_service.core.network.columns import (
    EXPONENT_A,
    EXPONENT_B,
    LAW,
    MEET,
    POWER_A,
    POWER_B,
    VP_START,
)
from airbough_service.core.network.joining import join
from airbough_service.core.network.work import (
    ALPHA,
    ARMS,
    BETA,
    CONSTANT,
    FLOW,
    KEPT_POWERS,
    KEPT_Y,
    PROPORTION,
    QUADRATIC,
    ROW,
    RUBBING,
    Y,
)

LEAST_SHARE = 0.1  # of the arms' resistance, which a junction that drags them along leaves in the first guess
HALVINGS = 4  # of the fan's curve before one Newton step: near enough that it lands on the right piece of it
NEAREST, FURTHEST = 0.5, 2.0  # shares of the halved flow that this step may reach
LEAST_OF_SHARE, MOST_OF_SHARE = 0.3, 3.0  # of an arm's share by conductances, that a junction may make of it
USUAL_VELOCITY_PRESSURE = 200.0  # Pa, about 18 m/s: where a loss that is not quadratic is taken as if it were
NO_LOSS = 1.0e-9  # Pa/(m3/s)^2 that a run has at least: one without any loss would have no end of conductance


@inner
def first_at_fan(resistance: float, fan: np.ndarray, terms: np.ndarray, quadratic: float) -> float:
    """Return roughly where the fan meets a tree of this resistance, Pa/(m3/s)^2."""
    low, high = fan[0, 0], fan[fan.shape[0] - 1, 1]
    for _ in range(HALVINGS):
        q = 0.5 * (low + high)
        pressure, slope = fan_pressure(fan, terms, quadratic, q)
        if pressure > resistance * q * q:
            low = q
        else:
            high = q
    q = 0.5 * (low + high)
    pressure, slope = fan_pressure(fan, terms, quadratic, q)
    fall = 2.0 * resistance * q - slope
    if fall > 0.0:
        q = min(max(q + (pressure - resistance * q * q) / fall, NEAREST * q), FURTHEST * q)
    return q


@inner
def first_shares(
    table: np.ndarray, links: np.ndarray, order: np.ndarray, i: int, first: int, count: int, work: np.ndarray
) -> float:
    """Leave each arm's share of the junction's flow in PROPORTION; return the junction's resistance, arms included.

    Arms share by their conductances; then one Newton step, at a flow of 1, heeds what the junction itself does.
    """
    conductance = 0.0
    for k in range(first, first + count):
        work[k, PROPORTION] = 1.0 / math.sqrt(work[k, ALPHA])
        conductance += work[k, PROPORTION]
    plain = 1.0 / (conductance * conductance)
    law = links[order[ROW, i], LAW]
    if law == MEET:
        for k in range(first, first + count):
            work[k, PROPORTION] /= conductance
        return plain
    for k in range(first, first + count):
        q = work[k, PROPORTION] / conductance
        work[k, FLOW], work[k, BETA] = q, 2.0 * work[k, ALPHA] * q
        work[k, ALPHA] *= -q * q
    alpha, beta = join(table, links, law, order, i, first, count, work)
    total = 0.0
    for k in range(first, first + count):
        q = work[k, FLOW]
        work[k, PROPORTION] = min(max(work[k, CONSTANT] + work[k, PROPORTION], LEAST_OF_SHARE * q), MOST_OF_SHARE * q)
        total += work[k, PROPORTION]
    for k in range(first, first + count):
        work[k, PROPORTION] /= total
    return max(alpha + beta, LEAST_SHARE * plain)


@inner
def first_flows(
    table: np.ndarray,
    links: np.ndarray,
    order: np.ndarray,
    live: int,
    work: np.ndarray,
    fan: np.ndarray,
    terms: np.ndarray,
    quadratic: float,
    given: float,
) -> None:
    """Guess every flow: resistances are composed from the hoods to the fan as if every loss were quadratic."""
    child = live
    for i in range(live - 1, -1, -1):
        run = order[ROW, i]
        y = work[run, KEPT_Y]
        work[i, Y] = y
        own = work[i, QUADRATIC] + work[i, RUBBING] / (y * y) + NO_LOSS
        if work[run, KEPT_POWERS] > 0.0:
            q = math.sqrt(USUAL_VELOCITY_PRESSURE / table[run, VP_START])
            own += table[run, POWER_A] * q ** (table[run, EXPONENT_A] - 2.0)
            own += table[run, POWER_B] * q ** (table[run, EXPONENT_B] - 2.0)
        count = order[ARMS, i]
        if count == 1:
            child -= 1
            work[child, PROPORTION] = 1.0
            own += work[child, ALPHA]
        elif count > 1:
            child -= count
            own += first_shares(table, links, order, i, child, count, work)
        work[i, ALPHA] = own
    work[0, FLOW] = given if given > 0.0 else first_at_fan(work[0, ALPHA], fan, terms, quadratic)
    child = 1
    for i in range(live):
        for _ in range(order[ARMS, i]):
            work[child, FLOW] = work[i, FLOW] * work[child, PROPORTION]
            child += 1
