"""What flows in each state of a day; every distinct state is solved once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from airbough_service.catalogue.chips import chips
from airbough_service.core import deadline
from airbough_service.core.laws.fan import Fan
from airbough_service.core.laws.transport import chip_time
from airbough_service.core.limits import below
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import (
    Operating,
    operate,
)
from airbough_service.core.network.reaching import greatest_upstream
from airbough_service.core.network.tree import area
from airbough_service.questions.working_day.plan import Plan
from airbough_service.shop.gates import Openings, active, open_hoods, tree_order, way_open, when_open
from airbough_service.shop.pieces import DuctPart
from airbough_service.shop.shop import Shop, ShopRun
from airbough_service.solving.grades import of_hoods, settles, starves
from airbough_service.solving.solved_state import on_curve

Floats = NDArray[np.float64]
Open = frozenset[int]


@dataclass
class Air:
    """The states of one request.

    Attributes:
        shop: the tree.
        fan: its fan.
        plan: the machines.
    """

    shop: Shop
    fan: Fan
    plan: Plan
    _solved: dict[Open, Operating] = field(default_factory=dict)
    _through: dict[tuple[Open, int], tuple[float, ...] | None] = field(default_factory=dict)
    _paths: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _times: dict[Open, list[float]] = field(default_factory=dict)
    _velocities: dict[Open, list[float]] = field(default_factory=dict)
    _active: dict[Open, Sequence[bool]] = field(default_factory=dict)
    _hoods: dict[Open, Sequence[bool]] = field(default_factory=dict)
    _sure: dict[tuple[Open, int], tuple[bool, ...]] = field(default_factory=dict)
    _shut: dict[tuple[Open, int], tuple[bool, ...]] = field(default_factory=dict)

    def openings(self, opened: Open) -> Openings:
        """Return run number -> opening of every gate that a machine moves; the others stay as they are."""
        openings: Openings = {}
        for index, group in enumerate(self.plan.groups):
            if group.always_open or index in opened:
                openings |= group.openings(self._wide)
            else:
                openings |= dict.fromkeys(group.gates, 0.0)
        return openings

    @cached_property
    def _wide(self) -> Openings:
        """The opening of every gate when it is open and the day says nothing else."""
        return when_open(self.shop)

    @cached_property
    def _every(self) -> tuple[Floats, Floats]:
        """Every row's gate coefficient with all machines' gates shut, and with all open."""
        shut = self.openings(frozenset())
        opened = self.openings(frozenset(range(len(self.plan.groups))))
        return self.shop.gates(shut), self.shop.gates(opened)

    @cached_property
    def _rows(self) -> list[list[int]]:
        """The packed rows of each machine's gates."""
        return [[self.shop.hood_row(run) for run in group.gates] for group in self.plan.groups]

    def gates(self, opened: Open) -> Floats:
        """Return every row's gate coefficient in a state, shape (rows,)."""
        shut, every = self._every
        gate = shut.copy()
        for index in opened:
            gate[self._rows[index]] = every[self._rows[index]]
        return gate

    def state(self, opened: Open) -> Operating:
        """Return what flows with the fan on."""
        deadline.check()
        if opened not in self._solved:
            self._solved[opened] = operate(self.shop.tree, self.fan, self.gates(opened))
        return self._solved[opened]

    def flow(self, opened: Open) -> float | None:
        """Return the flow at the fan, m3/s; None where it lies beyond the fan's curve."""
        solved = self.state(opened)
        return None if solved.outcome == "beyond-fan-curve" else float(solved.flow[0])

    def flow_with(self, opened: Open, more: dict[int, float]) -> float:
        """Return the flow at the fan with further gates moved, m3/s; 0 beyond the curve."""
        gates = self.shop.gates(self.openings(opened) | more)
        return float(operate(self.shop.tree, self.fan, gates).flow[0])

    def at_hood(self, opened: Open, hood: int) -> float:
        """Return the flow at a hood, m3/s; 0 beyond the curve."""
        return float(self.state(opened).flow[self.shop.hood_row(hood)])

    def path(self, hood: int) -> tuple[int, ...]:
        """Return the runs from a hood to the collector."""
        if hood not in self._paths:
            self._paths[hood] = self.shop.shape.way(hood)
        return self._paths[hood]

    def is_open(self, opened: Open, hood: int) -> bool:
        """Return whether a hood is open: its machine's gates and every other on the way stand open."""
        if opened not in self._hoods:
            self._hoods[opened] = open_hoods(self.shop, self.openings(opened))
        return self._hoods[opened][hood]

    def active(self, opened: Open) -> Sequence[bool]:
        """Return, by run, whether air is meant to flow there; a leak past a shut gate is not meant."""
        if opened not in self._active:
            self._active[opened] = active(self.shop, self.openings(opened))
        return self._active[opened]

    def velocities(self, opened: Open) -> list[float]:
        """Return the air's velocity in each run, m/s, where it leaks at its slower end; 0 beyond the curve."""
        if opened not in self._velocities:
            flow = self.state(opened).flow
            least = np.minimum(flow[self.shop.end_rows], flow[self.shop.hood_rows])
            self._velocities[opened] = (least / self._areas).tolist()
        return self._velocities[opened]

    @cached_property
    def _areas(self) -> Floats:
        return np.array([area(run.widest.bore) for run in self.shop.runs])

    def shut_on(self, opened: Open, hood: int) -> tuple[bool, ...]:
        """Return, by run of a hood's path, whether a shut gate keeps air from it."""
        key = (opened, hood)
        if key not in self._shut:
            meant = self.active(opened)
            self._shut[key] = tuple(not meant[run] for run in self.path(hood))
        return self._shut[key]

    def through(self, opened: Open, hood: int, *, fan: bool = True) -> tuple[float, ...] | None:
        """Return the chips' time in each run of a hood's path, s; infinite where they lie, None: flows not known."""
        if not fan:
            return (math.inf,) * len(self.path(hood))
        key = (opened, hood)
        if key not in self._through:
            if self.state(opened).outcome == "beyond-fan-curve":
                self._through[key] = None
            else:
                times = self._times.get(opened) or self._passing(opened)
                self._through[key] = tuple(times[run] for run in self.path(hood))
        return self._through[key]

    def _passing(self, opened: Open) -> list[float]:
        """Return the chips' time through each run, s; infinite where no air is meant to flow, or it is too slow."""
        moves = chips()
        times = [
            sum(self._part_time(run, part, velocity) for part in run.parts)
            if meant and not below(velocity, moves.settling)
            else math.inf
            for run, meant, velocity in zip(self.shop.runs, self.active(opened), self.velocities(opened), strict=True)
        ]
        self._times[opened] = times
        return times

    def _part_time(self, run: ShopRun, part: DuctPart, slowest: float) -> float:
        """Return the chips' time through one part of a run, s; `slowest`: the air's velocity in its widest part."""
        moves, length = chips(), run.length
        share = part.length / length if length > 0.0 else 0.0
        velocity = slowest * (run.widest.bore / part.bore) ** 2
        return chip_time(part.length, share * float(run.run.rise or 0.0), velocity, moves.level, moves.upward)

    def sure(self, opened: Open, hood: int) -> tuple[bool, ...]:
        """Return, by run of a hood's path, whether its air reaches the dust's transport velocity; empty without one."""
        key = (opened, hood)
        if key not in self._sure:
            needed, air = float(self._transport[hood]), self.velocities(opened)
            self._sure[key] = tuple(not settles(air[run] / needed) for run in self.path(hood)) if needed > 0.0 else ()
        return self._sure[key]

    def margins(self, opened: Open) -> Floats:
        """Return velocity over the transport velocity of the dust that passes, by run; infinite where not judged."""
        if not on_curve(self.fan, self.state(opened)):
            return np.full(len(self.shop.runs), np.inf)
        self.is_open(opened, 0)
        needed = np.empty((1, len(self.shop.runs)))
        is_open = np.array([self._hoods[opened]])
        greatest_upstream(*tree_order(self.shop), self._transport, is_open, needed)
        air = np.array(self.velocities(opened))
        margins = np.full(len(air), np.inf)
        np.divide(air, needed[0], out=margins, where=needed[0] > 0.0)
        return margins

    @cached_property
    def _transport(self) -> Floats:
        """The transport velocity of each hood's dust, m/s; 0 without."""
        return of_hoods(self.shop)[0]

    def deepest(self, opened: Open) -> tuple[int, float]:
        """Return the run under most suction in a state, and how much, Pa; none beyond the curve."""
        solved = self.state(opened)
        if not on_curve(self.fan, solved):
            return 0, 0.0
        flow = solved.flow
        at_fan = self.fan.left_for_tree(float(flow[0]))
        static = losses(self.shop.tree, self.gates(opened), flow, at_fan).static_pressure
        suction = -static[self.shop.end_rows]
        worst = int(np.argmax(suction))
        return worst, float(suction[worst])

    def starves(self, opened: Open, hood: int) -> bool:
        """Return whether an open hood gets less than its design flow; one without, or one cut off, is never starved."""
        asked = self.shop.request.runs[hood].hood
        if asked is None or asked.flow is None or self.state(opened).outcome == "beyond-fan-curve":
            return False
        return self.is_open(opened, hood) and starves(self.at_hood(opened, hood) / float(asked.flow))

    def shut(self, opened: Open) -> bool:
        """Return whether no hood has a way to the fan but leaks."""
        return not way_open(self.shop, self.openings(opened))

    def way_open(self) -> bool:
        """Return whether some hood stays open when every gate that moves is shut; leakage is no way."""
        return way_open(self.shop, self.openings(frozenset()))
