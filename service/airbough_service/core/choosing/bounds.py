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
    out = np.full(states + 2, math.inf)
    if len(groups) == 0:
        return out
    above = inside[groups]  # rows, arms, columns
    cost = choice.row_cost + above[:, :, states].sum(axis=1)
    broken = choice.row_broken + above[:, :, states + 1].sum(axis=1)
    out[states], out[states + 1] = choice.cost + cost.min(), choice.broken + broken.min()
    if not math.isfinite(out[states]):
        return np.full(states + 2, math.inf)
    if groups.shape[1] == 0:
        out[:states] = choice.own
        return out
    fits = np.isfinite(cost)
    need = (above[fits][:, :, :states] + choice.join[fits]).max(axis=1).min(axis=0)
    out[:states] = choice.own + np.where(np.isfinite(need), need, 0.0)
    return out


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
