"""What no choice of bores goes below: the least upstream of each run and bore, and the least still to come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.choosing.sites import (
    Choice,
    Site,
    first_groups,
)
from airbough_service.core.compiled import compiled

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bounds:
    """Bounds by group, a run's bore; columns are the need in each state, the cost, and the broken rules.

    Attributes:
        inside: shape (groups, states + 2), the least up to the run's end; infinite where no choice exists.
        rest: same shape, the least that is added from there to the fan.
        usable: shape (groups,), whether any choice goes through the group.
    """

    inside: Floats
    rest: Floats
    usable: NDArray[np.bool_]

    @property
    def inlet(self) -> Floats:
        """The least of all at the fan, each number for itself."""
        return np.asarray(self.inside[-1])


def bounds_of(sites: Sequence[Site]) -> Bounds:
    """Return the bounds; each number is the least for itself, so together they may belong to no one choice."""
    firsts = np.array(first_groups(sites))
    states = sites[-1].choices[0].own.size
    inside = np.full((firsts[-1], states + 2), math.inf)
    for number, site in enumerate(sites):
        bases = firsts[list(site.arms)]
        for option, choice in enumerate(site.choices):
            inside[firsts[number] + option] = _inside(choice, choice.arms + bases, inside)
    rest = np.full_like(inside, math.inf)
    rest[-1] = 0.0
    for number in range(len(sites) - 1, -1, -1):
        bases = firsts[list(sites[number].arms)]
        for option, choice in enumerate(sites[number].choices):
            _spread(choice, choice.arms + bases, inside, rest, firsts[number] + option)
    usable = np.isfinite(inside[:, states]) & np.isfinite(rest[:, states])
    return Bounds(inside, rest, usable)


def _inside(choice: Choice, groups: NDArray[np.int64], inside: Floats) -> Floats:
    """Return the least up to the end of one run and bore."""
    states = choice.own.size
    if groups.shape[1] == 0 and len(groups):
        own = (choice.cost + choice.row_cost.min(), choice.broken + choice.row_broken.min())
        return np.append(choice.own, own)
    out = np.full(states + 2, math.inf)
    _least_rows(choice.join, choice.row_cost, choice.row_broken, groups, inside, out)
    if not math.isfinite(out[states]):
        return np.full(states + 2, math.inf)
    out[:states] = choice.own + np.where(np.isfinite(out[:states]), out[:states], 0.0)
    out[states:] += (choice.cost, choice.broken)
    return out


@compiled
def _least_rows(
    join: np.ndarray, row_cost: np.ndarray, row_broken: np.ndarray, groups: np.ndarray, inside: np.ndarray,
    out: np.ndarray,
) -> None:  # fmt: skip
    """Lower `out` to the least need, cost and broken of every row."""
    states = out.size - 2
    for row in range(groups.shape[0]):
        cost, broken = 0.0, 0.0
        for arm in range(groups.shape[1]):
            cost += inside[groups[row, arm], states]
            broken += inside[groups[row, arm], states + 1]
        out[states] = min(out[states], row_cost[row] + cost)
        out[states + 1] = min(out[states + 1], row_broken[row] + broken)
        if not np.isfinite(cost):
            continue
        for state in range(states):
            need = -math.inf
            for arm in range(groups.shape[1]):
                need = max(need, inside[groups[row, arm], state] + join[row, arm, state])
            out[state] = min(out[state], need)


def _spread(choice: Choice, groups: NDArray[np.int64], inside: Floats, rest: Floats, group: int) -> None:
    """Tell the arms of one run and bore what is still to come for them through it."""
    states = choice.own.size
    if groups.shape[1] == 0 or len(groups) == 0 or not math.isfinite(rest[group, states]):
        return
    _spread_rows(choice.join, choice.own, choice.row_cost, choice.row_broken, groups, inside, rest,
                 np.append(rest[group], (choice.cost, choice.broken)))  # fmt: skip


@compiled
def _spread_rows(
    join: np.ndarray,
    own: np.ndarray,
    row_cost: np.ndarray,
    row_broken: np.ndarray,
    groups: np.ndarray,
    inside: np.ndarray,
    rest: np.ndarray,
    come: np.ndarray,
) -> None:
    """Lower `rest` of the arms' groups by every row; come: what is still to come, then cost and broken of the bore."""
    states = own.size
    for row in range(groups.shape[0]):
        cost, broken = row_cost[row], row_broken[row]
        for arm in range(groups.shape[1]):
            cost += inside[groups[row, arm], states]
            broken += inside[groups[row, arm], states + 1]
        if not np.isfinite(cost):
            continue
        for arm in range(groups.shape[1]):
            group = groups[row, arm]
            for state in range(states):
                added = join[row, arm, state] + own[state] + come[state]
                rest[group, state] = min(rest[group, state], added)
            others = cost - inside[group, states] + come[states + 2] + come[states]
            rest[group, states] = min(rest[group, states], others)
            others = broken - inside[group, states + 1] + come[states + 3] + come[states + 1]
            rest[group, states + 1] = min(rest[group, states + 1], others)
