"""Balance at design flows: which run governs at each junction, and what the others need.

The velocity-pressure method meets static pressures (entry-angle law), the others total pressures. Going from the
hoods to the fan, the run that needs the deepest pressure governs; the others either absorb the difference in a gate
or take more flow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.network.columns import (
    CHILDREN,
    ENTRY,
    ENTRY_FACTOR,
    FIRST_CHILD,
    LAW,
    PARENT,
    VP_END,
)
from airbough_service.core.network.junction import junction_at
from airbough_service.core.network.own_loss import fill_own_losses
from airbough_service.core.network.tree import Tree

Floats = NDArray[np.float64]
By: TypeAlias = Literal["gates", "flow"]
Correction: TypeAlias = Literal["square-root", "exact"]

PASSES = 100  # of `exact`; each brings the pressures nearer by the square


@dataclass(frozen=True, slots=True)
class Limits:
    """Ratios of governing to own pressure: up to `left` nothing is done, up to `raised` the flow is raised."""

    left: float
    raised: float

    def action(self, ratio: float) -> Literal["none", "raise-flow", "resize"]:
        """Return what is done with a branch of this ratio."""
        if ratio <= self.left * (1.0 + 1.0e-9):
            return "none"
        return "raise-flow" if ratio <= self.raised * (1.0 + 1.0e-9) else "resize"


@dataclass(frozen=True, slots=True)
class ArmBalance:
    """One run at its junction.

    Attributes:
        row: packed row.
        governs: whether it needs the deepest pressure there.
        pressure: what it needs alone, Pa (static for entry-angle, total otherwise; positive is suction).
        governing: what the junction needs, Pa.
        action: what balances it.
        added: loss that a gate must add, Pa.
    """

    row: int
    governs: bool
    pressure: float
    governing: float
    action: Literal["none", "gate", "raise-flow", "resize"]
    added: float = 0.0

    @property
    def ratio(self) -> float:
        """Governing over own pressure; infinite where the run needs none."""
        return self.governing / self.pressure if self.pressure > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class Balance:
    """The balanced tree.

    Attributes:
        flow: shape (n,), m3/s.
        gate: shape (n,), gate coefficients with what was added.
        at_fan: fall of total pressure that the fan must afford, Pa.
        arms: every run at a junction.
        governing: rows of the governing path, from the fan to the hood.
    """

    flow: Floats
    gate: Floats
    at_fan: float
    arms: list[ArmBalance]
    governing: list[int]


def balance(tree: Tree, gate: Floats, design: Floats, by: By, correction: Correction, limits: Limits) -> Balance:
    """Balance a tree at its design flows.

    Args:
        tree: the packed tree.
        gate: shape (n,), infinite where shut.
        design: shape (n,), design flow of each leaf, m3/s; 0 where shut or at inner runs.
        by: gates absorb, or branches take more flow. Flow is never lowered.
        correction: with `by` flow: by the square root of the pressure ratio, as the manuals print it, or until the
            pressures meet.
        limits: with `by` flow: which branches are left, raised or resized.

    Returns:
        Flows, added gates, governing path and the fan's duty.
    """
    state = _State(tree, _summed(tree, design), gate.copy())
    arms: list[ArmBalance] = []
    for row in range(tree.table.shape[0] - 1, -1, -1):
        deadline.check()
        raised: dict[int, ArmBalance] = {}
        if by == "flow":
            state.resum(row)
            raised = _raise(state, row, correction, limits)
        state.need_of(row)
        arms += [raised.get(arm.row, arm) for arm in _meet(state, row, by, limits)]
    return Balance(state.flow, state.gate, float(state.need[0]), arms, _governing_path(state, arms))


class _State:
    """Flows, own and join losses and needs, kept up from the hoods to the fan."""

    def __init__(self, tree: Tree, flow: Floats, gate: Floats) -> None:
        self.tree, self.flow, self.gate = tree, flow, gate
        self.base = gate.copy()  # gates as they are; what is added changes no run's own need
        self.own = own_losses(tree, flow, gate)
        self.join, self.need = np.zeros_like(flow), np.zeros_like(flow)

    def arms(self, row: int) -> list[int]:
        """Return the rows with flow that run into this one."""
        first, count = int(self.tree.links[row, FIRST_CHILD]), int(self.tree.links[row, CHILDREN])
        return [arm for arm in range(first, first + count) if self.flow[arm] > 0.0]

    def resum(self, row: int) -> None:
        """Sum a run's flow again from its arms, where some of them were raised."""
        if self.tree.links[row, CHILDREN] > 0:
            total = float(sum(self.flow[arm] for arm in self.arms(row)))
            if total != self.flow[row]:
                self.flow[row] = total
                self._renew([row])

    def _renew(self, rows: list[int]) -> None:
        """Work out the own losses of some rows again."""
        tree = self.tree
        fill_own_losses(tree.table, tree.change, self.base, self.flow, np.array(rows, np.int64), self.own)

    def need_of(self, row: int) -> None:
        """Work out the joins above a run, and what it needs at its downstream end; deepest arm governing."""
        junction_at(self.tree.table, self.tree.links, self.flow, row, self.join)
        arms = self.arms(row)
        for arm in arms:
            if len(arms) == 1 and self.tree.links[row, CHILDREN] == 1:
                self.join[arm] = 0.0
        above = max((self.need[arm] + self.joined(arm) for arm in arms), default=0.0)
        self.need[row] = self.own[row] + above

    def joined(self, arm: int) -> float:
        """Return a run's join loss with its change of size, Pa."""
        return float(self.join[arm] + self.tree.change[arm] * self.flow[arm] ** 2)

    def pressure(self, row: int, arm: int) -> float:
        """Return what an arm needs at the junction above `row`: static for entry-angle, total otherwise."""
        if int(self.tree.links[row, LAW]) == ENTRY:
            own = float(self.tree.table[arm, VP_END]) * float(self.flow[arm]) ** 2
            return float(self.need[arm]) + (1.0 + float(self.tree.table[arm, ENTRY_FACTOR])) * own
        return float(self.need[arm]) + self.joined(arm)

    def scale(self, row: int, factor: float) -> None:
        """Scale the flow of a run and of everything upstream, and work out their needs again."""
        deadline.check()
        subtree = [row]
        for here in subtree:
            self.flow[here] *= factor
            subtree.extend(self.arms(here))
        self._renew(subtree)
        for here in reversed(subtree):
            self.need_of(here)


def _summed(tree: Tree, leaves: Floats) -> Floats:
    """Return every run's flow from the leaves'."""
    flow = leaves.copy()
    for row in range(flow.size - 1, 0, -1):
        flow[tree.links[row, PARENT]] += flow[row]
    return flow


def own_losses(tree: Tree, flow: Floats, gate: Floats) -> Floats:
    """Return each run's losses but for its junction, Pa."""
    own = np.empty(flow.size)
    fill_own_losses(tree.table, tree.change, gate, flow, np.arange(flow.size), own)
    return own


def _meet(state: _State, row: int, by: By, limits: Limits) -> list[ArmBalance]:
    """Return who governs at the junction above a run; gates absorb the difference."""
    arms = state.arms(row)
    if len(arms) < 2:
        return []
    own = {arm: state.pressure(row, arm) for arm in arms}
    leader = max(own, key=lambda arm: own[arm])
    governing = own[leader]
    out = []
    for arm in arms:
        short, action, added = governing - own[arm], "none", 0.0
        if arm != leader and by == "gates" and short > 1.0e-9 * abs(governing):
            action, added = "gate", short
            state.gate[arm] += short / state.flow[arm] ** 2
        elif arm != leader and by == "flow":
            ratio = governing / own[arm] if own[arm] > 0.0 else math.inf
            action = limits.action(ratio)
        out.append(ArmBalance(arm, arm == leader, own[arm], governing, action, added))  # type: ignore[arg-type]
    return out


def _raise(state: _State, row: int, correction: Correction, limits: Limits) -> dict[int, ArmBalance]:
    """Raise the flow of the arms above a run that come within reach of the governing one; never lower any.

    Returns:
        The raised arms, as they stood before.
    """
    arms = state.arms(row)
    if len(arms) < 2:
        return {}
    state.need_of(row)
    own = {arm: state.pressure(row, arm) for arm in arms}
    governing = max(own.values())
    chosen = [arm for arm in arms if own[arm] > 0.0 and limits.action(governing / own[arm]) == "raise-flow"]
    before = {arm: ArmBalance(arm, False, own[arm], governing, "raise-flow") for arm in chosen}
    if correction == "square-root":
        for arm in chosen:
            state.scale(arm, math.sqrt(governing / own[arm]))
        state.resum(row)
        return before
    for _ in range(PASSES if chosen else 0):
        worst = 0.0
        for arm in chosen:
            deadline.check()
            state.need_of(row)
            ratio = max(state.pressure(row, other) for other in arms) / state.pressure(row, arm)
            worst = max(worst, ratio - 1.0)
            if ratio > 1.0:
                state.scale(arm, math.sqrt(ratio))
                state.resum(row)
        if worst < 1.0e-12:
            break
    return before


def _governing_path(state: _State, met: list[ArmBalance]) -> list[int]:
    """Return the rows from the fan to the hood along the governing arms."""
    leaders = {item.row for item in met if item.governs}
    path = [0]
    while True:
        arms = state.arms(path[-1])
        if not arms:
            return path
        path.append(next((arm for arm in arms if arm in leaders), arms[0]))
