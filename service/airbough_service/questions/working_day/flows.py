"""What flows in each state of a day; every distinct state is solved once."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import (
    Operating,
    operate,
)
from airbough_service.core.network.tree import area
from airbough_service.questions.working_day.plan import Plan
from airbough_service.shop.gates import Openings, way_open, when_open
from airbough_service.shop.shop import Shop
from airbough_service.solving.operating_point import on_curve
from airbough_service.terms.finding import HOLDS

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
            out = [hood]
            while self.shop.shape.parents[out[-1]] >= 0:
                out.append(self.shop.shape.parents[out[-1]])
            self._paths[hood] = tuple(out)
        return self._paths[hood]

    def through(self, opened: Open, hood: int, *, fan: bool = True) -> tuple[float, ...] | None:
        """Return the time in each run of a hood's path, s: length over velocity; None where flows are not known."""
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
        """Return the time through each run, s; infinite where nothing flows."""
        flow = self.state(opened).flow[self.shop.end_rows]
        volume = np.array([sum(part.length * area(part.bore) for part in run.parts) for run in self.shop.runs])
        moving = flow > 0.0
        times = np.full(flow.shape, np.inf)
        times[moving] = volume[moving] / flow[moving]
        self._times[opened] = times.tolist()
        return self._times[opened]

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
        """Return whether a hood gets less than its design flow; one without is never starved."""
        asked = self.shop.request.runs[hood].hood
        if asked is None or asked.flow is None or self.state(opened).outcome == "beyond-fan-curve":
            return False
        return self.at_hood(opened, hood) < float(asked.flow) * (1.0 - HOLDS)

    def shut(self, opened: Open) -> bool:
        """Return whether no hood has a way to the fan but leaks."""
        return not way_open(self.shop, self.openings(opened))

    def way_open(self) -> bool:
        """Return whether some hood stays open when every gate that moves is shut; leakage is no way."""
        return way_open(self.shop, self.openings(frozenset()))
