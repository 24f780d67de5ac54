"""One choice of bores solved with the fan in every state, and where it breaks rules."""

from __future__ import annotations

from collections import Counter
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
    narrowings,
    sized,
    stands_for,
    weighed,
)
from airbough_service.questions.sizing.options import fastest, limits_of
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
)
from airbough_service.questions.sizing.rules import CLEARED, Rules
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
        wished: places where the other rules do not, each by what it counts.
    """

    problem: Problem
    chosen: Chosen
    pressures: Floats
    flows: tuple[Floats, ...]
    places: tuple[Place, ...]
    short: float
    wished: float

    @property
    def holds(self) -> bool:
        """Whether every rule that must hold does."""
        return self.short == 0.0

    def key(self, objective: str) -> tuple[float, ...]:
        """Return what the search makes least, first things first."""
        pair = (self.chosen.cost, float(self.pressures.max()))
        return (self.short, self.wished, *(pair if objective == "cost" else pair[::-1]))

    def broken(self, rules: Rules) -> tuple[BrokenRule, ...]:
        """Return the places with their weight."""
        return weighed(self.places, rules)


def solved(maker: Maker, problem: Problem, chosen: Chosen, rules: Rules) -> Candidate | None:
    """Return a choice solved with the fan; None where fan and system do not cross on the curve in some state."""
    tree = sized(maker.request, maker, problem, chosen)
    shop, of_request = build(tree), stands_for(maker.request, tree)
    fan = collector.build(shop)
    pressures, flows = [], []
    places = list(narrowings(maker, problem, chosen))
    for state in maker.states:
        operating = operate(shop.tree, fan, shop.gates(state.openings))
        if not operating.crossings:
            return None
        flow = operating.flow[shop.end_rows]
        pressure = fan.static_pressure(float(operating.flow[0]))
        flows.append(flow[: len(maker.shop.runs)])
        pressures.append(pressure)
        least = np.minimum(flow, operating.flow[shop.hood_rows])
        places += _places(maker.request, shop, of_request, state, (least, flow), pressure)
    short = sum(1.0 if place.share is None else place.share for place in places if place.rule in rules.must)
    number = {run.id: of_request[run.index] for run in shop.runs}
    wished = _wished(maker, places, number, rules)
    return Candidate(problem, chosen, np.array(pressures), tuple(flows), tuple(places), short, wished)


def _wished(maker: Maker, places: list[Place], number: dict[str, int], rules: Rules) -> float:
    """Return what the places of rules that are no musts count; what another state clears counts less.

    Args:
        maker: with states and weights.
        places: where rules do not hold.
        number: by id of a run, that of the request whose air it carries.
        rules: by weight.
    """
    weights = maker.weights(rules)
    slow = Counter(place.run for place in places if place.rule == "transport_velocity")
    total = 0.0
    for place in places:
        rule = place.rule
        if rule == "transport_velocity" and place.run is not None:
            judged = sum(bool(state.served[number[place.run]]) for state in maker.states)
            rule = CLEARED if slow[place.run] < judged else rule
        total += weights.get(rule, 0.0) * rules.counts(place.rule, place.share)
    return total


def _places(
    request: SizingRequest,
    shop: Shop,
    of_request: list[int],
    state: State,
    flows: tuple[Floats, Floats],
    pressure: float,
) -> Iterator[Place]:
    """Give the places of one state where a rule does not hold.

    Args:
        request: in SI.
        shop: the sized tree.
        of_request: by its run, the run of the request whose air it carries.
        state: with its limits and design flows.
        flows: the least and the greatest in each run, m3/s.
        pressure: fan static pressure, Pa.
    """
    least, flow = flows
    for run in shop.runs:
        slowest, speed = velocity(run, float(least[run.index])), fastest(run, float(flow[run.index]))
        low, high = limits_of(request, state, of_request[run.index], float(flow[run.index]))
        if low is not None and slowest < low * (1.0 - HOLDS):
            yield Place("transport_velocity", run.id, state.name, 1.0 - slowest / low)
        if high is not None and speed > high * (1.0 + HOLDS):
            yield Place("upper_velocity", run.id, state.name, speed / high - 1.0)
        design = float(state.asked[run.index]) if run.run.hood is not None else 0.0
        if design > 0.0 and least[run.index] < design * (1.0 - HOLDS):
            yield Place("design_flow", run.id, state.name, 1.0 - float(least[run.index]) / design)
    limit = request.limits.pressure_available
    if limit is not None and pressure > float(limit) * (1.0 + HOLDS):
        yield Place("pressure_available", None, state.name, pressure / max(float(limit), 1.0) - 1.0)
