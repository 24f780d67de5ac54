"""The compiled loops of sizing: merging labels at a junction, and keeping those that no other beats.

A label is a row of numbers: the pressure needed in each state, then the cost, then the preferred rules broken upstream,
each place by its weight. Less is better in each.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from airbough_service.core.choosing.sites import STEP, Packed
from airbough_service.core.compiled import compiled, inner
from airbough_service.core.limits import HOLDS

DONE = 0
TOO_MANY = 1  # labels for one run and bore
TOO_LONG = 2  # work
PAUSED = 3  # to be called again with the same room
FULL = 4  # likewise, with more room for labels
CHOICE, STAGE, ROW, SIZE, BEGUN = 0, 1, 2, 3, 4  # of Room.place
FRESH, MAKING, MADE = 0, 1, 2  # of Room.place[STAGE]
BROKEN, OBJECTIVE, BY_COST = 0, 1, 2  # of Rules.best
OFF, MUST, BETTER = 0, 1, 2  # of Rules.meet


@inner
def frontier(values: np.ndarray, count: int, two_sided: bool, work_left: int) -> tuple[np.ndarray, int]:
    """Return the rows that no other row beats, and the comparisons made; past `work_left` the rows are not all.

    Args:
        values: shape (at least count, states + 2).
        count: rows in use.
        two_sided: whether more pressure may yet serve better than less, so that only equal pressures compare.
        work_left: comparisons allowed.
    """
    states = values.shape[1] - 2
    total = sums(values, count)
    order = in_order(values, total)
    kept, size, work = np.empty(count, np.int64), 0, 0
    for row in order:
        if work > work_left:
            break
        beaten = False
        for j in range(size):
            work += 1
            other = kept[j]
            beaten = (
                total[other] <= total[row]  # as it is where each pressure is
                and values[other, states] <= values[row, states]
                and values[other, states + 1] <= values[row, states + 1]
            )
            if beaten:
                for s in range(states):
                    if values[other, s] > values[row, s] or (two_sided and values[other, s] != values[row, s]):
                        beaten = False
                        break
            if beaten:
                kept[j], kept[j // 2] = kept[j // 2], other  # what beats much comes to the front
                break
        if not beaten:
            kept[size] = row
            size += 1
    return rising(kept[:size], count), work


@inner
def rising(rows: np.ndarray, count: int) -> np.ndarray:
    """Return rows out of so many in rising order."""
    there = np.zeros(count, np.bool_)
    for row in rows:
        there[row] = True
    return np.flatnonzero(there)


@inner
def thinned(values: np.ndarray, rows: np.ndarray, most: int) -> np.ndarray:
    """Return at most about `most` of the rows, spread evenly over their cost, the best of each column among them."""
    size, columns = rows.size, values.shape[1]
    if size <= most:
        return rows
    order = rows[np.argsort(values[rows, columns - 2], kind="mergesort")]
    chosen = np.zeros(size, np.bool_)
    for k in range(most):
        chosen[(k * (size - 1)) // max(most - 1, 1)] = True
    for column in range(columns):
        chosen[np.argmin(values[order, column])] = True
    return rising(order[chosen], values.shape[0])


@inner
def sums(values: np.ndarray, count: int) -> np.ndarray:
    """Return the sum of the pressures of every row."""
    total = np.zeros(count)
    for row in range(count):
        for s in range(values.shape[1] - 2):
            total[row] += values[row, s]
    return total


@inner
def in_order(values: np.ndarray, total: np.ndarray) -> np.ndarray:
    """Return the rows by preferred rules broken, then cost, then the sum of pressures."""
    states, count = values.shape[1] - 2, total.size
    order = np.argsort(total, kind="mergesort")
    order = order[np.argsort(values[:count, states][order], kind="mergesort")]
    return order[np.argsort(values[:count, states + 1][order], kind="mergesort")]


@compiled
def leading(values: np.ndarray, count: int, most: int) -> np.ndarray:
    """Return the first `most` rows in order, as of `in_order`, and the best of each column; of one row no others."""
    columns = values.shape[1]
    chosen = np.zeros(count, np.bool_)
    first, totals, size = np.empty(most + 1, np.int64), np.empty(most + 1), 0
    best, least = np.zeros(columns, np.int64), np.full(columns, math.inf)
    for row in range(count):
        for column in range(columns):
            if values[row, column] < least[column]:
                best[column], least[column] = row, values[row, column]
        if size == most and not _before(values, row, first[size - 1], -math.inf, math.inf):  # whatever its sum
            continue
        total = 0.0
        for s in range(columns - 2):
            total += values[row, s]
        place = size
        while place > 0 and _before(values, row, first[place - 1], total, totals[place - 1]):
            first[place], totals[place] = first[place - 1], totals[place - 1]
            place -= 1
        first[place], totals[place] = row, total
        size = min(size + 1, most)
    chosen[first[:size]] = True
    if most > 1 and count > 0:
        chosen[best] = True
    return np.flatnonzero(chosen)


@inner
def _before(values: np.ndarray, one: int, other: int, total: float, of_other: float) -> bool:
    """Return whether one row stands before another: by preferred rules broken, cost, and these sums of pressures."""
    states = values.shape[1] - 2
    if values[one, states + 1] != values[other, states + 1]:
        return values[one, states + 1] < values[other, states + 1]
    if values[one, states] != values[other, states]:
        return values[one, states] < values[other, states]
    return total < of_other


class Labels(NamedTuple):
    """The labels of all runs so far.

    Attributes:
        values: shape (n, states + 2), the first of them in use.
        source: shape (n, most arms + 1): of each label, the junction's row within its choice and the arms' labels.
        begin: by group (a run's bore): its first row of `values`.
        end: by group: one past its last row.
        used: shape (1,), labels in use.
    """

    values: np.ndarray
    source: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    used: np.ndarray


class Rules(NamedTuple):
    """What labels are judged by.

    Attributes:
        ceiling: shape (states,): pressure that may not be passed at the fan, Pa.
        wanted: shape (rules, states): pressure that had better not be passed, Pa; infinite but at the fan.
        tolerance: of runs that meet.
        meet: whether they must keep it (MUST), had better (BETTER), or need not (OFF).
        weights: shape (1 + rules,): what a broken place weighs, of runs that meet and of each pressure in `wanted`.
        most: shape (rules,): how often at most a place of `wanted` counts.
        best: broken rules and objective of a known choice, and whether the objective is the cost (0) or the greatest
            need (-1).
        rest: by group, shape (groups, states + 2): the least that is still to come downstream.
        usable: by group: whether any choice goes through it.
    """

    ceiling: np.ndarray
    wanted: np.ndarray
    tolerance: float
    meet: int
    weights: np.ndarray
    most: np.ndarray
    best: np.ndarray
    rest: np.ndarray
    usable: np.ndarray


class Budget(NamedTuple):
    """What may be kept and done.

    Attributes:
        two_sided: as `frontier`.
        most: labels kept.
        thin: whether to keep an even spread of `most` rather than give up.
        work_left: labels and comparisons allowed.
        heavy: what a label counts.
        pause: labels of one choice made in one call.
        most_kept: labels that there may be of all runs.
        leading: with `thin`, whether to keep the first in order instead, without comparing all with all.
    """

    two_sided: bool
    most: int
    thin: bool
    work_left: int
    heavy: int
    pause: int
    most_kept: int
    leading: bool


class Room(NamedTuple):
    """Where the labels of one choice are made; handed in again as it is, a pass that paused goes on.

    Attributes:
        found: shape (rows, states + 2), `place[SIZE]` of them in use.
        source: shape (rows, arms + 1): of each label, the junction's row and the arms' labels.
        at: scratch, shape (arms,).
        place: choice, its stage, row, labels and whether the row is begun; zeros before the first call.
    """

    found: np.ndarray
    source: np.ndarray
    at: np.ndarray
    place: np.ndarray


@compiled
def merge(labels: Labels, site: Packed, rules: Rules, budget: Budget, room: Room) -> tuple[int, int]:
    """Fill the labels of one run in each of its bores; return how it ended, and the work done.

    Ends PAUSED after a choice, or within one, that comes to `pause` labels, and FULL where `labels` has no more room:
    called again with the same room it goes on.
    """
    place, used, work = room.place, labels.used, 0
    while place[CHOICE] < site.own.shape[0]:
        if work >= budget.pause:
            return PAUSED, work
        choice, group = place[CHOICE], site.first + place[CHOICE]
        if place[STAGE] == FRESH:
            labels.begin[group], labels.end[group] = used[0], used[0]
            place[STAGE], place[ROW], place[SIZE], place[BEGUN] = MAKING, site.begins[choice], 0, 0
        if rules.usable[group]:
            if place[STAGE] == MAKING:
                left = (budget.work_left - work) // budget.heavy
                ended, spent = _merge(labels, site, choice, rules, budget, left, room)
                work += spent
                if ended != DONE:
                    return ended, work
                place[STAGE] = MADE
            made = place[SIZE]
            if used[0] + made > budget.most_kept:
                return TOO_MANY, work
            if used[0] + made > labels.values.shape[0]:
                return FULL, work
            labels.values[used[0] : used[0] + made] = room.found[:made]
            labels.source[used[0] : used[0] + made, : room.at.size + 1] = room.source[:made]
            used[0] += made
            labels.end[group] = used[0]
        place[CHOICE], place[STAGE] = choice + 1, FRESH
    return DONE, work


@inner
def _merge(
    labels: Labels, site: Packed, choice: int, rules: Rules, budget: Budget, work_left: int, room: Room
) -> tuple[int, int]:
    """Fill the labels of one run and bore and where each comes from; return how it ended, and the work done.

    work_left: labels and comparisons allowed for it.
    """
    at, place, groups = room.at, room.place, site.groups
    most_rows, first, last = room.found.shape[0], site.begins[choice], site.begins[choice + 1]
    size, work = place[SIZE], 0
    label = np.empty(site.own.shape[1] + 2)
    while place[ROW] < last:
        row = place[ROW]
        some = True
        if place[BEGUN] == 0:
            some = _first(at, groups[row], labels.begin, labels.end)
            place[BEGUN] = 1
        while some:
            if work >= budget.pause:
                place[SIZE] = size
                return PAUSED, work
            work += 1
            if work > work_left:
                return TOO_LONG, work
            if _label(labels.values, at, row, site, choice, rules, label):
                if size == most_rows:
                    size, spent, ended = _compact(room, size, budget, most_rows // 2, work_left - work)
                    work += spent
                    if ended != DONE:
                        return ended, work
                room.found[size] = label
                room.source[size, 0] = row - first
                room.source[size, 1:] = at
                size += 1
            some = _next(at, groups[row], labels.begin, labels.end)
        place[ROW], place[BEGUN] = row + 1, 0
    place[SIZE], spent, ended = _compact(
        room, size, budget, most_rows if budget.thin else budget.most, work_left - work
    )  # fmt: skip
    return ended, work + spent


@inner
def _first(at: np.ndarray, groups: np.ndarray, begin: np.ndarray, end: np.ndarray) -> bool:
    """Set the first label of each arm; return whether each has one."""
    some = True
    for a in range(at.size):
        at[a] = begin[groups[a]]
        some = some and at[a] < end[groups[a]]
    return some


@inner
def _next(at: np.ndarray, groups: np.ndarray, begin: np.ndarray, end: np.ndarray) -> bool:
    """Set the next labels of the arms, as an odometer counts; return whether there were any left."""
    for a in range(at.size - 1, -1, -1):
        at[a] += 1
        if at[a] < end[groups[a]]:
            return True
        at[a] = begin[groups[a]]
    return False


@inner
def _compact(room: Room, size: int, budget: Budget, allowed: int, work_left: int) -> tuple[int, int, int]:
    """Move the labels to keep to the front; return how many, the comparisons made, and how it ended.

    work_left: comparisons allowed.
    """
    kept, work = _kept(room.found, size, budget, work_left)
    if work > work_left:
        return 0, work, TOO_LONG
    if kept.size > allowed:
        return 0, work, TOO_MANY
    room.found[: kept.size] = room.found[kept]
    room.source[: kept.size] = room.source[kept]
    return kept.size, work, DONE


@inner
def _kept(values: np.ndarray, size: int, budget: Budget, work_left: int) -> tuple[np.ndarray, int]:
    """Return the rows to keep and the comparisons made; a thinned set need not be the frontier of anything."""
    if budget.leading:
        return leading(values, size, budget.most), size
    if budget.thin and budget.two_sided:  # hardly a label beats another here; to compare all with all takes too long
        return thinned(values, np.arange(size), budget.most), size
    kept, work = frontier(values, size, budget.two_sided, work_left)
    return (thinned(values, kept, budget.most) if budget.thin else kept), work


@compiled
def most_apart(tolerance: float) -> float:
    """Return the share by which the pressures of runs that meet may differ and the rule on them still holds."""
    return tolerance * (1.0 + HOLDS) + 1.0e-9


@inner
def _label(
    values: np.ndarray, at: np.ndarray, row: int, site: Packed, choice: int, rules: Rules, label: np.ndarray
) -> bool:
    """Fill the label of one set of the arms' labels; return whether it may still end in the best choice.

    Where it may not, by the rule on runs that meet, the ceilings or the best choice known, it is not filled to its end.
    """
    states, arms, rest = site.own.shape[1], at.size, rules.rest[site.first + choice]
    cost, broken = site.cost[choice] + site.row_cost[row], site.broken[choice] + site.row_broken[row]
    for a in range(arms):
        cost += values[at[a], states]
        broken += values[at[a], states + 1]
    if not _may_win(cost + rest[states], broken + rest[states + 1], -math.inf, rules):
        return False
    near, greatest = most_apart(rules.tolerance), -math.inf
    for s in range(states):
        above, deepest, shallowest, flowing = -math.inf, -math.inf, math.inf, 0
        for a in range(arms):
            if site.join[row, a, s] == -math.inf:
                continue
            flowing += 1
            above = max(above, values[at[a], s] + site.join[row, a, s])
            if rules.meet != OFF:
                compared = values[at[a], s] + site.meeting[row, a, s]
                deepest, shallowest = max(deepest, compared), min(shallowest, compared)
        label[s] = site.own[choice, s] + (above if flowing > 0 else 0.0)
        if label[s] + rest[s] > rules.ceiling[s]:
            return False
        greatest = max(greatest, label[s] + rest[s])
        if rules.meet != OFF and flowing > 1 and deepest - shallowest > near * abs(deepest):
            if rules.meet == MUST:
                return False
            broken += rules.weights[0]
        broken += _wished(label[s], s, rules)
    label[states], label[states + 1] = cost, broken
    return _may_win(cost + rest[states], broken + rest[states + 1], greatest, rules)


@inner
def _wished(need: float, state: int, rules: Rules) -> float:
    """Return what the places count where a need passes a pressure wanted."""
    broken = 0.0
    for rule in range(rules.wanted.shape[0]):
        if need > rules.wanted[rule, state]:
            broken += rules.weights[1 + rule] * min(missed(need, rules.wanted[rule, state]), rules.most[rule])
    return broken


@inner
def missed(need: float, wanted: float) -> float:
    """Return how many steps of a pressure wanted, Pa, a greater need goes beyond it, the last one begun."""
    return max(math.ceil((need / wanted - 1.0) / STEP - HOLDS), 1.0) if wanted > 0.0 else math.inf


@inner
def _may_win(cost: float, broken: float, greatest: float, rules: Rules) -> bool:
    """Return whether a choice of at least this cost, rules broken and greatest need is not behind the best known."""
    best = rules.best
    if broken != best[BROKEN]:
        return broken < best[BROKEN]
    reached = cost if best[BY_COST] >= 0.0 else greatest
    return reached <= best[OBJECTIVE] + 1.0e-9 * (1.0 + abs(best[OBJECTIVE]))
