"""What no choice of bores goes below: the least upstream of each run and bore, and the least still to come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.choosing.sites import Packed, Site, packed
from airbough_service.core.compiled import compiled, inner

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Bounds:
    """Bounds by group, a run's bore; columns are the need in each state, the cost, and the broken rules.

    Attributes:
        packed: the sites that they are of.
        inside: shape (groups, states + 2), the least up to the run's end; infinite where no choice exists.
        rest: same shape, the least that is added from there to the fan.
        usable: shape (groups,), whether any choice goes through the group.
    """

    packed: tuple[Packed, ...]
    inside: Floats
    rest: Floats
    usable: NDArray[np.bool_]

    @property
    def inlet(self) -> Floats:
        """The least of all at the fan, each number for itself."""
        return np.asarray(self.inside[-1])


def bounds_of(sites: Sequence[Site]) -> Bounds:
    """Return the bounds; each number is the least for itself, so together they may belong to no one choice."""
    own = packed(sites)
    states = sites[-1].own.shape[1]
    inside = np.full((own[-1].first + sites[-1].count, states + 2), math.inf)
    for site in own:
        fill_inside(site, inside)
    rest = np.full_like(inside, math.inf)
    rest[-1] = 0.0
    for site in own[::-1]:
        if site.groups.shape[1]:
            fill_rest(site, inside, rest)
    usable = np.isfinite(inside[:, states]) & np.isfinite(rest[:, states])
    return Bounds(tuple(own), inside, rest, usable)


@compiled
def fill_inside(site: Packed, inside: np.ndarray) -> None:
    """Fill the least up to the end of a run in each of its bores."""
    states = site.own.shape[1]
    for choice in range(site.own.shape[0]):
        out = inside[site.first + choice]
        _least_rows(site, site.begins[choice], site.begins[choice + 1], inside, out)
        if not np.isfinite(out[states]):
            out[:] = math.inf
            continue
        for state in range(states):
            out[state] = site.own[choice, state] + (out[state] if np.isfinite(out[state]) else 0.0)
        out[states] += site.cost[choice]
        out[states + 1] += site.broken[choice]


@inner
def _least_rows(site: Packed, begin: int, end: int, inside: np.ndarray, out: np.ndarray) -> None:
    """Lower `out` to the least need, cost and broken of some rows."""
    groups, states = site.groups, site.own.shape[1]
    for row in range(begin, end):
        cost, broken = 0.0, 0.0
        for arm in range(groups.shape[1]):
            cost += inside[groups[row, arm], states]
            broken += inside[groups[row, arm], states + 1]
        out[states] = min(out[states], site.row_cost[row] + cost)
        out[states + 1] = min(out[states + 1], site.row_broken[row] + broken)
        if not np.isfinite(cost):
            continue
        for state in range(states):
            need = -math.inf
            for arm in range(groups.shape[1]):
                need = max(need, inside[groups[row, arm], state] + site.join[row, arm, state])
            out[state] = min(out[state], need)


@compiled
def fill_rest(site: Packed, inside: np.ndarray, rest: np.ndarray) -> None:
    """Tell the arms of a run what is still to come for them through each of its bores: lower `rest` of their groups."""
    groups, states = site.groups, site.own.shape[1]
    for choice in range(site.own.shape[0]):
        come = rest[site.first + choice]
        if not np.isfinite(come[states]):
            continue
        for row in range(site.begins[choice], site.begins[choice + 1]):
            cost, broken = site.row_cost[row], site.row_broken[row]
            for arm in range(groups.shape[1]):
                cost += inside[groups[row, arm], states]
                broken += inside[groups[row, arm], states + 1]
            if not np.isfinite(cost):
                continue
            for arm in range(groups.shape[1]):
                group = groups[row, arm]
                for state in range(states):
                    added = site.join[row, arm, state] + site.own[choice, state] + come[state]
                    rest[group, state] = min(rest[group, state], added)
                others = cost - inside[group, states] + site.cost[choice] + come[states]
                rest[group, states] = min(rest[group, states], others)
                others = broken - inside[group, states + 1] + site.broken[choice] + come[states + 1]
                rest[group, states + 1] = min(rest[group, states + 1], others)
