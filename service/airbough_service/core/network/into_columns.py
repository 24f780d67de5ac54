"""Filling the packed tree from what is given of its runs: their order from the fan, their columns, their places."""

from __future__ import annotations

import math

import numpy as np

from airbough_service.core.compiled import compiled, inner, whole
from airbough_service.core.laws.friction import COLEBROOK
from airbough_service.core.network.columns import (
    AREA_RATIO,
    CHILDREN,
    ENTRY_FACTOR,
    EXPONENT_A,
    EXPONENT_B,
    FACTOR_HIGH,
    FACTOR_JOIN,
    FACTOR_LOW,
    FACTOR_SLOPE,
    FACTOR_STEP,
    FIRST_CHILD,
    FLOW_RATIO,
    FRICTION,
    IS_BRANCH,
    LAW,
    LIFT,
    LOCAL,
    MEET,
    MOMENTUM,
    PARENT,
    POWER_A,
    POWER_B,
    REYNOLDS,
    ROUGH,
    SIDE_DRAG,
    SIDE_LINEAR,
    START,
    VP_END,
    VP_START,
)

START_REYNOLDS = 1.0e5  # for the first guess of 1/sqrt(friction factor) only,
START_ROOT = 7.0  # and 1/sqrt(friction factor) there, roughly
MOST_ARMS = 3  # of a junction under the flow-ratio law

# Columns of what is given of a run, in the order of `tree.given`.
(
    G_PARENT, G_LAW, G_START, G_END, G_BORE, G_LENGTH, G_ROUGHNESS, G_ENTRY, G_PORT, G_FITTINGS, G_CHANGE, G_GATE,
    G_POWER, G_POWER_EXPONENT, G_INSIDE, G_INSIDE_EXPONENT, G_TERMS, G_BRANCH, G_COSINE, G_AREA_RATIO, G_ENTRY_FACTOR,
    G_LOW, G_SLOPE, G_HIGH, G_STEP, G_LIFT, G_LINEAR, G_DRAG, G_MOMENTUM, G_JOIN,
) = range(30)  # fmt: skip
GIVEN = 30  # of these columns

# Columns of a term: which of a run's losses it adds to (0 entry, 1 port, 2 fittings, 3 change), its coefficient, and
# what flow squared is divided by, times the density, for the velocity pressure that it is on, m4.
T_LINE, T_COEFFICIENT, T_OVER = range(3)
TERM = 3  # of these columns

# How it ended.
FILLED, NOT_ONE_ROOT, CYCLE, TOO_MANY_ARMS, NO_CONSTANTS_GIVEN = range(5)


def dynamic(density: float, diameter: float) -> float:
    """Return velocity pressure per flow squared, Pa/(m3/s)^2, in a round bore."""
    area = math.pi * diameter * diameter / 4.0
    return density / (2.0 * area**2)


dynamic_of = inner(dynamic)


@inner
def lay_out(given: np.ndarray, order: np.ndarray, place: np.ndarray) -> int:
    """Fill the runs in breadth-first order from the fan, siblings side by side, and each run's row.

    given: shape (n, columns of what is given); order, place: shape (n,). Returns how it ended.
    """
    n = given.shape[0]
    first, after, roots = np.full(n, -1), np.full(n, -1), 0  # a run's first arm, and the sibling after each
    for run in range(n - 1, -1, -1):
        parent = int(given[run, G_PARENT])
        if parent < 0:
            roots, order[0] = roots + 1, run
        else:
            first[parent], after[run] = run, first[parent]
    if roots != 1:
        return NOT_ONE_ROOT
    reached = 1
    for row in range(n):
        if row == reached:
            return CYCLE
        place[order[row]] = row
        arm = first[order[row]]
        while arm >= 0:
            order[reached] = arm
            reached, arm = reached + 1, after[arm]
    return FILLED


@compiled
def add_terms(terms: np.ndarray, begin: int, count: int, density: float, row: np.ndarray, entry: int) -> None:
    """Add terms to a row's losses, Pa per (m3/s)^2, each to the one that it tells of, from column `entry` on."""
    for k in range(begin, begin + count):
        row[entry + int(terms[k, T_LINE])] += terms[k, T_COEFFICIENT] * (density / terms[k, T_OVER])


@compiled
def fill_row(own: np.ndarray, density: float, viscosity: float, row: np.ndarray) -> None:
    """Fill one row of the table, all zeros, from what is given of its run."""
    bore = own[G_BORE]
    at_bore = dynamic_of(density, bore)
    row[LOCAL] = own[G_ENTRY] + own[G_PORT] + own[G_FITTINGS] + own[G_CHANGE]
    row[REYNOLDS] = density * bore / (math.pi * bore * bore / 4.0 * viscosity)
    row[ROUGH] = own[G_ROUGHNESS] / (3.7 * bore)
    row[VP_START], row[VP_END] = dynamic_of(density, own[G_START]), dynamic_of(density, own[G_END])
    row[START] = -2.0 * math.log10(row[ROUGH] + COLEBROOK * START_ROOT / START_REYNOLDS)
    if own[G_POWER] >= 0.0:
        row[POWER_A], row[EXPONENT_A] = own[G_POWER], own[G_POWER_EXPONENT]
    else:
        row[FRICTION] = own[G_LENGTH] / bore * at_bore
    row[POWER_B], row[EXPONENT_B] = own[G_INSIDE], own[G_INSIDE_EXPONENT]
    fill_arm(own, row)


@compiled
def fill_arm(own: np.ndarray, row: np.ndarray) -> None:
    """Fill a row's columns on how it enters its junction."""
    row[AREA_RATIO], row[ENTRY_FACTOR] = own[G_AREA_RATIO], own[G_ENTRY_FACTOR]
    row[MOMENTUM] = own[G_MOMENTUM] * own[G_AREA_RATIO] * own[G_COSINE]
    if own[G_BRANCH] > 0.0:
        row[FACTOR_LOW], row[FACTOR_SLOPE], row[FACTOR_HIGH] = own[G_LOW], own[G_SLOPE], own[G_HIGH]
        row[FACTOR_STEP], row[FACTOR_JOIN], row[LIFT] = own[G_STEP], own[G_JOIN], own[G_LIFT]
        row[SIDE_LINEAR], row[SIDE_DRAG] = own[G_LINEAR], own[G_DRAG] * row[MOMENTUM]


@compiled
def fill_arms(given: np.ndarray, rows: np.ndarray) -> None:
    """Fill the columns of several rows on how each enters its junction."""
    for row in range(given.shape[0]):
        fill_arm(given[row], rows[row])


@inner
def fill_law(given: np.ndarray, order: np.ndarray, law: int, links: np.ndarray, row: int) -> int:
    """Fill the law of the junction above a row; return how it ended. Arguments as of `fill_all`."""
    count, first, stated = links[row, CHILDREN], links[row, FIRST_CHILD], given[order[row], G_LAW]
    links[row, LAW] = MEET if count < 2 else law if stated < 0.0 else int(stated)
    if links[row, LAW] != FLOW_RATIO:
        return FILLED
    for arm in range(first, first + count):
        if math.isnan(given[order[arm], G_MOMENTUM]):
            return NO_CONSTANTS_GIVEN
    return FILLED if count <= MOST_ARMS else TOO_MANY_ARMS


@compiled
def fill_all(
    given: np.ndarray,
    terms: np.ndarray,
    order: np.ndarray,
    place: np.ndarray,
    density: float,
    viscosity: float,
    law: int,
    table: np.ndarray,
    links: np.ndarray,
    parts: np.ndarray,
) -> int:
    """Fill table and links, all zeros, and order, place and parts; return how it ended.

    given: of each run, its terms not yet added.
    terms: of all runs, in their order.
    law: of every junction whose run gives none; one arm alone is no junction.
    parts: shape (5, n), by row: entry, port, fittings, change and gate.
    """
    ended = lay_out(given, order, place)
    if ended != FILLED:
        return ended
    n, begin = given.shape[0], whole(0)
    for run in range(n):
        count = int(given[run, G_TERMS])
        add_terms(terms, begin, count, density, given[run], whole(G_ENTRY))
        begin += count
    for row in range(n):
        own = given[order[row]]
        fill_row(own, density, viscosity, table[row])
        for part in range(parts.shape[0]):
            parts[part, row] = own[G_ENTRY + part]
        parent = place[int(own[G_PARENT])] if own[G_PARENT] >= 0.0 else -1
        links[row, PARENT], links[row, IS_BRANCH] = parent, own[G_BRANCH] > 0.0
        if parent >= 0:
            if links[parent, CHILDREN] == 0:
                links[parent, FIRST_CHILD] = row
            links[parent, CHILDREN] += 1
    for row in range(n):
        ended = fill_law(given, order, law, links, row)
        if ended != FILLED:
            return ended
    return FILLED
