"""Balance at design flows: which run governs at each junction, and what the others need.

The velocity-pressure method meets static pressures (entry-angle law), the others total pressures. Going from the
hoods to the fan, the run that needs the deepest pressure governs; the others either absorb the difference in a gate
or take more flow.

A leak is a row of its own at the middle of its run (`core.network.parted_runs`), into which C p^n flows at the suction
p there (`leak_flows`). It adds to the flow downstream and follows from the pressures, so with leaks the passes are
repeated until both agree; a leak asks for nothing itself. C is of 1 Pa: the class's figure times the wall's surface
(`shop.run_leaks`), or the caller's.
"""

from __future__ import annotations

import math
from typing import Any, Final, Literal, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.compiled import compiled, whole
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.core.limits import above, most_held
from airbough_service.core.network import meeting
from airbough_service.core.network.columns import (
    CHILDREN,
    FIRST_CHILD,
    PARENT,
    VP_END,
)
from airbough_service.core.network.junction import junction_at
from airbough_service.core.network.leak_steps import leak_flows, mixed, nearer
from airbough_service.core.network.own_loss import fill_own_losses
from airbough_service.core.network.tree import Tree

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
By: TypeAlias = Literal["gates", "flow"]
Correction: TypeAlias = Literal["square-root", "exact"]
Action: TypeAlias = Literal["none", "gate", "raise-flow", "resize"]

PASSES = 100  # of `exact`; each brings the pressures nearer by the square
LEAK_PASSES = 200  # each brings the leaks nearer by the share that leaks
LATE = 10  # passes after which the next are mixed
DECIDED = 20  # passes after which the branches raised stay those: at a limit leaks may make one come and go
SETTLED = 1.0e-13  # change of a leak, as a share of the flow at the fan, that is none


class Limits(NamedTuple):
    """Ratios of governing to own pressure: up to `left` nothing is done, up to `raised` the flow is raised."""

    left: float
    raised: float

    def action(self, ratio: float) -> Literal["none", "raise-flow", "resize"]:
        """Return what is done with a branch of this ratio."""
        if not above(ratio, self.left):
            return "none"
        return "resize" if above(ratio, self.raised) else "raise-flow"


class Places(NamedTuple):
    """Where a tree leaks, and where gates are, by packed row.

    Attributes:
        leaks: rows of leaks.
        gate: shape (n,), of each run's end the row where the gate of the branch that ends there is: a leaking run's
            other end, or a row further up, with no junction between.
        may_stand: shape (n,), of each run's end whether a gate may stand there.
    """

    leaks: Integers
    gate: Integers
    may_stand: NDArray[np.bool_]


class ArmBalance(NamedTuple):
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
    action: Action
    added: float = 0.0

    @property
    def ratio(self) -> float:
        """Governing over own pressure; infinite where the run needs none."""
        return self.governing / self.pressure if self.pressure > 0.0 else math.inf


class Balance(NamedTuple):
    """The balanced tree.

    Attributes:
        flow: shape (n,), m3/s.
        from_hoods: shape (n,), of the flow what comes from open hoods, m3/s.
        need: shape (n,), fall of total pressure that each run needs at its end, added gates apart, Pa.
        gate: shape (n,), gate coefficients with what was added.
        at_fan: fall of total pressure that the fan must afford, Pa.
        arms: every run at a junction.
        governing: rows of the governing path, from the fan to the hood.
    """

    flow: Floats
    from_hoods: Floats
    need: Floats
    gate: Floats
    at_fan: float
    arms: list[ArmBalance]
    governing: list[int]


class Way(NamedTuple):
    """How a tree is balanced.

    Attributes:
        by: gates absorb, or branches take more flow. Flow is never lowered.
        correction: with `by` flow: by the square root of the pressure ratio, as the manuals print it, or until the
            pressures meet.
        limits: which branches are left, raised or resized.
        places: of leaks and gates; None where nothing leaks and a gate may stand anywhere.
    """

    by: By
    correction: Correction
    limits: Limits
    places: Places | None = None


def balance(tree: Tree, gate: Floats, design: Floats, way: Way) -> Balance:
    """Balance a tree at its design flows.

    Args:
        tree: the packed tree.
        gate: shape (n,), infinite where shut.
        design: shape (n,), design flow of each leaf, m3/s; 0 where shut, at leaks and at inner runs.
        way: by gates or by flow, and where.

    Returns:
        Flows, added gates, governing path and the fan's duty.

    Raises:
        DidNotConvergeError: leaks and pressures do not agree in the end.
    """
    task = _Task(tree, gate, design, way, way.places or _anywhere(gate.size))
    leaks = task.places.leaks
    if leaks.size == 0:
        return _told(*_pass(task, None))
    leaked: Floats | None = None
    tries: list[tuple[Floats, Floats]] = []
    for number in range(LEAK_PASSES):
        state, arms = _pass(task, leaked)
        if number == DECIDED:
            raised = frozenset(arm.row for arm in arms if arm.action == "raise-flow")
            task, tries = task._replace(raised=raised), []
        before = state.flow[leaks]
        leaked = nearer(tree, leaks, state.flow, state.suction(), *state.idle(leaks))
        if np.abs(leaked - before).max() <= SETTLED * state.flow[0]:
            return _told(state, arms)
        if number >= LATE:
            tries = [*tries, (before, leaked)]
            leaked = mixed(tries)
    raise DidNotConvergeError("leaks and pressures of a balance do not agree")


def _told(state: _State, arms: list[ArmBalance]) -> Balance:
    """Return the balance that a pass came to."""
    need = float(state.need[0])
    return Balance(state.flow, state.from_hoods, state.need, state.gate, need, arms, _governing_path(state, arms))


def _anywhere(rows: int) -> Places:
    """Return the places of a tree that does not leak, gates anywhere."""
    return Places(np.empty(0, np.int64), np.arange(rows), np.ones(rows, np.bool_))


class _Task(NamedTuple):
    """What is to be balanced; as `balance` has it."""

    tree: Tree
    gate: Floats
    design: Floats
    way: Way
    places: Places
    raised: frozenset[int] | None = None  # rows whose flow is raised; None to go by the limits


def _pass(task: _Task, leaked: Floats | None) -> tuple[_State, list[ArmBalance]]:
    """Go once from the hoods to the fan.

    Args:
        task: what is to be balanced.
        leaked: what each leak lets in, m3/s; None to take it from what the runs upstream need.
    """
    tree, places = task.tree, task.places
    leaves = np.zeros_like(task.design)
    if leaked is not None:
        leaves[places.leaks] = leaked
    moving = task.way.by == "flow" or (places.leaks.size > 0 and leaked is None)
    state = _State(tree, task.design.copy(), leaves, task.gate.copy(), moving=moving)
    deadline.check()
    if not moving:
        meeting.meet_all(*_junctions(state, task), state.met)
        return state, _arms(state.met, {})
    leaks = set(places.leaks.tolist()) if leaked is None else set()
    raised: dict[int, ArmBalance] = {}
    for row in range(tree.table.shape[0] - 1, -1, -1):
        deadline.check()
        if leaks:
            state.guess_leak(row, leaks)
        state.resum(row)
        if task.way.by == "flow":
            raised |= _raise(state, row, task)
        state.need_of(row)
        meeting.meet(*_junctions(state, task), row, state.met)
    return state, _arms(state.met, raised)


_Junctions: TypeAlias = tuple[Any, Any, Any, Any, Any, Any, Any, bool]


def _junctions(state: _State, task: _Task) -> _Junctions:
    """Return what `meeting.meet` takes but for its row."""
    tree, places, limits = task.tree, task.places, task.way.limits
    gates, held = (state.gate, places.gate, places.may_stand), (most_held(limits.left), most_held(limits.raised))
    return tree.table, tree.links, tree.change, state.flowing, state.lines, gates, held, task.way.by == "flow"


def _arms(met: Floats, raised: dict[int, ArmBalance]) -> list[ArmBalance]:
    """Return every run at a junction from what `meeting` told; those raised as they stood before."""
    rows = np.flatnonzero(met[:, meeting.MEETS])
    return [
        raised.get(row) or ArmBalance(row, governs == 1.0, own, governing, _ACTIONS[int(action)], added)
        for row, (_, governs, own, governing, action, added) in zip(rows.tolist(), met[rows].tolist(), strict=True)
    ]


_ACTIONS: Final[tuple[Action, ...]] = ("none", "gate", "raise-flow", "resize")  # by their numbers in `meeting`


class _State:
    """Flows, own and join losses and needs, kept up from the hoods to the fan."""

    def __init__(self, tree: Tree, from_hoods: Floats, leaked: Floats, gate: Floats, *, moving: bool) -> None:
        """Begin with what hoods take and what leaks in, each where it enters; `moving`: whether flows change later."""
        self.tree, self.gate, self.moving = tree, gate, moving
        self.from_hoods, self.leaked = from_hoods, leaked  # of the flow: what hoods take, and what leaks in
        self.base = gate.copy()  # gates as they are; what is added changes no run's own need
        self.lines, self.met = np.zeros((meeting.LINES, gate.size)), np.zeros((gate.size, meeting.COLUMNS))
        # `added`, by rows below a branch's gate: what that must lose besides, Pa.
        self.flow, self.own, self.join, self.need, self.added = self.lines
        begin(tree.table, tree.links, tree.change, gate, (from_hoods, leaked), (self.flow, self.own, self.join))
        self.flowing = from_hoods > 0.0  # which stays so
        self._arms: dict[int, list[int]] = {}  # by row, those that were asked for

    def suction(self) -> Floats:
        """Return the total suction at each row's end, Pa, as the hoods upstream ask for it with the gates added.

        What the governing run at a junction asks for stands there; where none asks, what is left of it further on.
        """
        out, above = np.zeros_like(self.flow), np.zeros_like(self.flow)
        for row in range(out.size):
            parent = int(self.tree.links[row, PARENT])
            if self.from_hoods[row] > 0.0:
                out[row] = self.need[row]
                above[row] = self.need[row] - self.own[row] + self.added[row]
                continue
            if parent >= 0:
                out[row] = above[parent] - self.joined(row)
            above[row] = 0.0 if math.isinf(self.base[row]) else out[row] - self.own[row]
        return out

    def idle(self, leaks: Integers) -> tuple[Floats, NDArray[np.bool_]]:
        """Return what each idle row loses with its junction, Pa, and which rows are idle and not shut off.

        A leak's own loss is the suction it asks for and is left out.
        """
        moving = (self.from_hoods <= 0.0) & np.isfinite(self.base)
        own = np.where(moving, self.own, 0.0)
        own[leaks] = 0.0
        return own + self.join + self.tree.change * self.flow**2, moving

    def children(self, row: int) -> range:
        """Return the rows that run into this one."""
        first = int(self.tree.links[row, FIRST_CHILD])
        return range(first, first + int(self.tree.links[row, CHILDREN]))

    def arms(self, row: int) -> list[int]:
        """Return the rows that run into this one from open hoods."""
        known = self._arms.get(row)
        if known is None:
            known = self._arms[row] = [arm for arm in self.children(row) if self.flowing[arm]]
        return known

    def resum(self, row: int) -> None:
        """Sum a run's flow again from its arms, where some of them were raised."""
        children = self.children(row)
        if not children:
            return
        self.from_hoods[row] = float(sum(self.from_hoods[arm] for arm in children))
        self.leaked[row] = float(sum(self.leaked[arm] for arm in children))
        total = self.from_hoods[row] + self.leaked[row]
        if total != self.flow[row]:
            self.flow[row] = total
            self._renew([row])

    def guess_leak(self, row: int, leaks: set[int]) -> None:
        """Let in at a run's middle what its upstream half, known by now, asks for there."""
        arms = self.arms(row)
        for leak in leaks.intersection(self.children(row)) if arms else ():
            above = arms[0]
            static = self.need[above] + float(self.tree.table[above, VP_END]) * self.flow[above] ** 2
            at = np.array([leak])
            self.leaked[leak] = self.flow[leak] = leak_flows(self.tree, at, np.array([static]))[0]
            self._renew([leak])

    def _renew(self, rows: list[int]) -> None:
        """Work out the own losses of some rows again."""
        tree = self.tree
        fill_own_losses(tree.table, tree.change, self.base, self.flow, np.array(rows, np.int64), self.own)

    def need_of(self, row: int) -> None:
        """Work out the joins above a run, and what it needs at its downstream end; deepest arm governing."""
        if self.moving:
            junction_at(self.tree.table, self.tree.links, self.flow, row, self.join)
        meeting.fill_need(self.tree.links, self.tree.change, self.flowing, self.lines, row)

    def joined(self, arm: int) -> float:
        """Return a run's join loss with its change of size, Pa."""
        return float(meeting.joined(self.tree.change, self.lines, arm))

    def pressure(self, row: int, arm: int) -> float:
        """Return what an arm needs at the junction above `row`: static for entry-angle, total otherwise."""
        tree = self.tree
        return float(meeting.pressure_of(tree.table, tree.links, tree.change, self.lines, row, arm))

    def scale(self, row: int, factor: float) -> None:
        """Scale what the hoods upstream of a run take, and work out the needs there again."""
        deadline.check()
        subtree = [row]
        for here in subtree:
            self.from_hoods[here] *= factor
            self.flow[here] = self.from_hoods[here] + self.leaked[here]
            subtree.extend(self.arms(here))
        self._renew(subtree)
        for here in reversed(subtree):
            self.need_of(here)


@compiled
def begin(
    table: np.ndarray,
    links: np.ndarray,
    change: np.ndarray,
    gate: np.ndarray,
    entering: tuple[np.ndarray, np.ndarray],
    out: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """Sum what enters at the leaves down to the fan, and fill flow, own losses and losses of junctions, each by row.

    entering: what hoods take and what leaks in, m3/s; summed where it stands. out: flow, own and join, zeros.
    """
    flow, own, join = out
    for row in range(flow.size - 1, -1, -1):
        for part in entering:
            if row > 0:
                part[links[row, PARENT]] += part[row]
            flow[row] += part[row]
    fill_own_losses(table, change, gate, flow, np.arange(flow.size), own)
    for row in range(flow.size):
        junction_at(table, links, flow, whole(row), join)


def own_losses(tree: Tree, flow: Floats, gate: Floats) -> Floats:
    """Return each run's losses but for its junction, Pa."""
    own = np.empty(flow.size)
    fill_own_losses(tree.table, tree.change, gate, flow, np.arange(flow.size), own)
    return own


def _raise(state: _State, row: int, task: _Task) -> dict[int, ArmBalance]:
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
    limits, decided = task.way.limits, task.raised
    chosen = [
        arm
        for arm in arms
        if own[arm] > 0.0
        and (limits.action(governing / own[arm]) == "raise-flow" if decided is None else arm in decided)
    ]
    before = {arm: ArmBalance(arm, False, own[arm], governing, "raise-flow") for arm in chosen}
    if task.way.correction == "square-root":
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


def short_of(tree: Tree, gate: Floats, flow: Floats, need: Floats, row: int, arm: int) -> float:
    """Return the share of what the others at a junction need by which one arm needs less; below 0 where it needs more.

    Args:
        tree: packed; but for the arm and its junction it may be cut short.
        gate: shape (n,), Pa per (m3/s)^2.
        flow: shape (n,), m3/s.
        need: shape (n,), of every run at its end, Pa; the arm's own is worked out from those upstream of it.
        row: that the arms flow into.
        arm: which.
    """
    found = meeting.short_of(tree.table, tree.links, tree.change, gate, flow, need, row, arm)
    return float(found)


def _governing_path(state: _State, met: list[ArmBalance]) -> list[int]:
    """Return the rows from the fan to the hood along the governing arms."""
    leaders, path, flowing = {item.row for item in met if item.governs}, [0], state.flowing.tolist()
    first, count = state.tree.links[:, FIRST_CHILD].tolist(), state.tree.links[:, CHILDREN].tolist()
    while arms := [arm for arm in range(first[path[-1]], first[path[-1]] + count[path[-1]]) if flowing[arm]]:
        path.append(next((arm for arm in arms if arm in leaders), arms[0]))
    return path
