"""One choice of bores solved with the fan in every state, and where it breaks rules."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import (
    BrokenRule,
    SizingRequest,
)
from airbough_service.core.choosing.sizing import Chosen
from airbough_service.core.network.operating import operate
from airbough_service.questions.sizing.broken_rules import (
    Place,
    chosen_options,
    sized,
    weighed,
)
from airbough_service.questions.sizing.options import limits_of
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
    Rules,
    narrows,
)
from airbough_service.questions.sizing.states import State
from airbough_service.shop import collector
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving.tree_answer import velocity
from airbough_service.terms.finding import HOLDS

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A choice solved with the fan.

    Attributes:
        problem, chosen: the choice; its needs are not those of the fan's flows.
        pressures: fan static pressure in each state, Pa.
        flows: by state, of each run, m3/s.
        places: where rules do not hold.
        short: by how much those that must hold do not, as shares of their limits, summed.
        prefer_broken: places where preferred rules do not.
    """

    problem: Problem
    chosen: Chosen
    pressures: Floats
    flows: tuple[Floats, ...]
    places: tuple[Place, ...]
    short: float
    prefer_broken: int

    @property
    def holds(self) -> bool:
        """Whether every rule that must hold does."""
        return self.short == 0.0

    def key(self, objective: str) -> tuple[float, ...]:
        """Return what the search makes least, first things first."""
        pair = (self.chosen.cost, float(self.pressures.max()))
        return (self.short, self.prefer_broken, *(pair if objective == "cost" else pair[::-1]))

    def broken(self, rules: Rules) -> tuple[BrokenRule, ...]:
        """Return the places with their weight."""
        return weighed(self.places, rules)


def solved(maker: Maker, problem: Problem, chosen: Chosen, rules: Rules) -> Candidate | None:
    """Return a choice solved with the fan; None where fan and system do not cross on the curve in some state."""
    shop = build(sized(maker.request, maker, problem, chosen))
    fan = collector.build(shop)
    pressures, flows = [], []
    places: list[tuple[Place, float]] = [(place, 1.0) for place in _narrowings(maker, problem, chosen)]
    for state in maker.states:
        operating = operate(shop.tree, fan, shop.gates(state.openings))
        if not operating.crossings:
            return None
        flow = operating.flow[shop.end_rows]
        pressure = fan.static_pressure(float(operating.flow[0]))
        flows.append(flow)
        pressures.append(pressure)
        places += _places(maker.request, shop, state, flow, pressure)
    short = sum(share for (rule, _, _), share in places if rule in rules.must)
    prefer = sum(rule in rules.prefer for (rule, _, _), _ in places)
    by_place = tuple(place for place, _ in places)
    return Candidate(problem, chosen, np.array(pressures), tuple(flows), by_place, short, prefer)


def _narrowings(maker: Maker, problem: Problem, chosen: Chosen) -> Iterator[Place]:
    by_run = dict(zip(problem.order, chosen_options(problem, chosen), strict=True))
    for index, option in by_run.items():
        parent = maker.shop.shape.parents[index]
        if parent >= 0 and narrows(option, by_run[parent]):
            yield "no_narrowing", option.run.id, None


def _places(
    request: SizingRequest, shop: Shop, state: State, flow: Floats, pressure: float
) -> Iterator[tuple[Place, float]]:
    """Give the places of one state where a rule does not hold, and the share of its limit by which it does not."""
    for run in shop.runs:
        speed = velocity(run, float(flow[run.index]))
        low, high = limits_of(request, state, run.index, float(flow[run.index]))
        if low is not None and speed < low * (1.0 - HOLDS):
            yield ("transport_velocity", run.id, state.name), 1.0 - speed / low
        if high is not None and speed > high * (1.0 + HOLDS):
            yield ("upper_velocity", run.id, state.name), speed / high - 1.0
        design = float(state.flow[run.index])
        if run.run.hood is not None and design > 0.0 and flow[run.index] < design * (1.0 - HOLDS):
            yield ("design_flow", run.id, state.name), 1.0 - float(flow[run.index]) / design
    limit = request.limits.pressure_available
    if limit is not None and pressure > float(limit) * (1.0 + HOLDS):
        yield ("pressure_available", None, state.name), pressure / max(float(limit), 1.0) - 1.0
