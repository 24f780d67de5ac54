"""What flows in each state of a day; every distinct state is solved once."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from airbough_service.core.fan import Fan
from airbough_service.core.losses import losses
from airbough_service.core.operating import Operating, operate
from airbough_service.core.tree import area
from airbough_service.edge.duty_cycle_machines import Plan
from airbough_service.edge.judging import HOLDS
from airbough_service.edge.shop import Shop

Open = frozenset[int]


@dataclass(slots=True)
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

    def openings(self, opened: Open) -> dict[int, float]:
        """Return run number -> opening of every gate that a machine moves; the others stay as they are."""
        openings: dict[int, float] = {}
        for index, group in enumerate(self.plan.groups):
            stands_open = group.always_open or index in opened
            openings.update(dict.fromkeys(group.gates, group.opening if stands_open else 0.0))
        return openings

    def state(self, opened: Open) -> Operating:
        """Return what flows with the fan on."""
        if opened not in self._solved:
            self._solved[opened] = operate(self.shop.tree, self.fan, self.shop.gates(self.openings(opened)))
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
        return float(self.state(opened).flow[self.shop.row(hood)])

    def path(self, hood: int) -> tuple[int, ...]:
        """Return the runs from a hood to the collector."""
        out = [hood]
        while self.shop.shape.parents[out[-1]] >= 0:
            out.append(self.shop.shape.parents[out[-1]])
        return tuple(out)

    def through(self, opened: Open, hood: int, *, fan: bool = True) -> tuple[float, ...] | None:
        """Return the time in each run of a hood's path, s: length over velocity; None where flows are not known."""
        if not fan:
            return tuple(math.inf for _ in self.path(hood))
        key = (opened, hood)
        if key not in self._through:
            self._through[key] = self._times(opened, hood)
        return self._through[key]

    def _times(self, opened: Open, hood: int) -> tuple[float, ...] | None:
        solved = self.state(opened)
        if solved.outcome == "beyond-fan-curve":
            return None
        times = []
        for index in self.path(hood):
            run, flow = self.shop.runs[index], float(solved.flow[self.shop.row(index)])
            volume = float(run.run.length) * area(run.start)
            times.append(volume / flow if flow > 0.0 else math.inf)
        return tuple(times)

    def deepest(self, opened: Open) -> tuple[int, float]:
        """Return the run under most suction in a state, and how much, Pa; none beyond the curve."""
        solved = self.state(opened)
        if solved.outcome == "beyond-fan-curve":
            return 0, 0.0
        flow = solved.flow
        at_fan = self.fan.left_for_tree(float(flow[0]))
        static = losses(self.shop.tree, self.shop.gates(self.openings(opened)), flow, at_fan).static_pressure
        suctions = [-float(static[self.shop.row(run.index)]) for run in self.shop.runs]
        worst = max(range(len(suctions)), key=suctions.__getitem__)
        return worst, suctions[worst]

    def starves(self, opened: Open, hood: int) -> bool:
        """Return whether a hood gets less than its design flow; one without is never starved."""
        asked = self.shop.request.runs[hood].hood
        if asked is None or asked.flow is None or self.state(opened).outcome == "beyond-fan-curve":
            return False
        return self.at_hood(opened, hood) < float(asked.flow) * (1.0 - HOLDS)

    def way_open(self) -> bool:
        """Return whether some hood stays open when every gate that moves is shut; leakage is no way."""
        runs = self.shop.request.runs
        shut = {run for group in self.plan.groups if group.moves for run in group.gates}
        moved = {run for group in self.plan.groups for run in group.gates}
        for index, run in enumerate(runs):
            if run.gate is not None and index not in moved and float(run.gate.opening) == 0.0:
                shut.add(index)
        return any(run.hood is not None and shut.isdisjoint(self.path(index)) for index, run in enumerate(runs))
