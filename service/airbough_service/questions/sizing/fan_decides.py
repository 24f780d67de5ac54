"""Sizing where the fan decides what flows: choices that given flows suggest are solved with the fan, then fixed.

No proof is made; the bounds are those of what does not depend on the flows.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import (
    SizingBound,
    SizingRemedy,
)
from airbough_service.core import deadline
from airbough_service.core.choosing.bounds import bounds_of
from airbough_service.core.choosing.sizing import (
    Chosen,
    frontier_choices,
)
from airbough_service.core.network.operating import operate
from airbough_service.questions.sizing.answer import currency
from airbough_service.questions.sizing.broken_rules import chosen_options
from airbough_service.questions.sizing.duty import duty
from airbough_service.questions.sizing.fan_solving import (
    Candidate,
    Judge,
)
from airbough_service.questions.sizing.neighbours import Neighbours
from airbough_service.questions.sizing.options import Key
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
)
from airbough_service.questions.sizing.remedies import Search
from airbough_service.questions.sizing.rules import Rules
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import Shelf
from airbough_service.shop import collector
from airbough_service.shop.gates import open_hoods
from airbough_service.shop.shop import Shop
from airbough_service.solving.solved_state import end_pressure
from airbough_service.terms import money

Floats = NDArray[np.float64]
GUIDED: Final = 60  # choices tried of each frontier
MOST: Final = 1200  # choices solved with the fan
MOST_RUNS: Final = 40_000  # runs of all those choices together
MOST_IN_STATES: Final = 2_400_000  # those runs times states
WORK: Final = 2_000_000
WITHOUT_FLOWS: Final = "the rules and the flows; the pressure is the least of the fan's points"


@dataclass(frozen=True, slots=True)
class FanResult:
    """What the search found; `tried` counts the choices solved, `crossed` those whose fan and system cross."""

    best: Candidate | None
    labels: int
    tried: int
    crossed: int
    bound: SizingBound
    remedies: tuple[SizingRemedy, ...]
    how: tuple[str, ...]


@dataclass(slots=True)
class _Search:
    """The choices solved so far, by their bores."""

    maker: Maker
    shelf: Shelf
    rules: Rules
    judge: Judge
    known: dict[tuple[Key, ...], Candidate | None] = field(default_factory=dict)

    @property
    def most(self) -> int:
        """How many choices may be solved."""
        runs = len(self.maker.shop.runs)
        return min(MOST, 1 + MOST_RUNS // runs, 1 + MOST_IN_STATES // (runs * len(self.maker.states)))

    def best(self) -> Candidate | None:
        """Return the best choice that could be solved."""
        objective, best = self.maker.request.objective, None
        for candidate in self.known.values():
            if candidate is not None and (best is None or candidate.before(best, objective)):
                best = candidate
        return best

    def attempt(self, problem: Problem, chosen: Chosen) -> Candidate | None:
        """Solve a choice with the fan, unless it was solved or the limit is reached."""
        bores = tuple(option.key for option in chosen_options(problem, chosen))
        deadline.check()
        if bores not in self.known and len(self.known) < self.most:
            self.known[bores] = self.judge.solved(problem, chosen)
        return self.known.get(bores)


def by_fan(maker: Maker, shelf: Shelf, rules: Rules) -> FanResult:
    """Return the best choice found for what the fan moves, with a bound.

    Raises:
        TooManySetsError: as `Maker.problem`.
    """
    any_flow = Rules(rules.must & {"no_narrowing"}, frozenset())
    free = maker.problem(shelf, any_flow)
    cost = float(bounds_of(free.sites).inlet[len(maker.states)])
    bound = SizingBound(
        price=money.at_least(cost if np.isfinite(cost) else 0.0, currency(maker.request)),
        fan_static_pressure=_least_pressure(maker),
        preferred_broken=0,
        relaxation=WITHOUT_FLOWS,
    )
    search = _Search(maker, shelf, rules, Judge(maker, rules))
    guide = [state.flow for state in maker.states]
    if any(not flow.any() for flow in guide) or _some_flow_missing(maker):
        guide = _starting_flows(maker)
    for _ in range(2):
        _guided(search, guide)
        best = search.best()
        if best is None:
            break
        guide = list(best.flows)
    _improve(search, free)
    best = search.best()
    crossed = sum(candidate is not None for candidate in search.known.values())
    others: tuple[SizingRemedy, ...] = ()
    stock = Search(maker, shelf, rules if search.known else any_flow)
    if best is None or not best.holds:
        others = tuple(stock.fans()) if search.known else stock.of_stock()
    tried = len(search.known)
    return FanResult(best, tried, tried, crossed, bound, (*_remedies(search), *others), tuple(stock.tried))


def _least_pressure(maker: Maker) -> float:
    """Return a pressure that the curve does not go below, Pa: between its points it has no dip of its own."""
    fan = maker.duty.fan
    assert fan is not None
    knots = [(float(piece[1]), end_pressure(fan, float(piece[1]))) for piece in fan.pieces]
    knots.append((fan.lowest, end_pressure(fan, fan.lowest)))
    without_off = [pressure + fan.quadratic * flow * flow for flow, pressure in knots]
    return min(without_off) - fan.quadratic * fan.highest**2


def _some_flow_missing(maker: Maker) -> bool:
    return any(
        run.run.hood is not None
        and run.run.hood.flow is None
        and not all(state.flow[run.index] for state in maker.states)
        for run in maker.shop.runs
    )


def _starting_flows(maker: Maker) -> list[Floats]:
    """Return what the fan moves through the tree in bores from the middle of the stock."""
    shop = maker.shop
    fan = collector.build(shop)
    out = []
    for state in maker.states:
        operating = operate(shop.tree, fan, shop.gates(state.openings))
        flow = operating.flow[shop.end_rows]
        if not flow.any():  # beyond the curve: the hoods share its last flow
            flow = _shared_out(shop, state, fan.highest)
        out.append(flow)
    return out


def _shared_out(shop: Shop, state: State, total: float) -> Floats:
    """Return the flows where each open hood takes an equal share."""
    flow = np.zeros(len(shop.runs))
    hoods = np.flatnonzero(open_hoods(shop, state.openings))
    for index in hoods:
        at = int(index)
        while at >= 0:
            flow[at] += total / len(hoods)
            at = shop.shape.parents[at]
    return flow


def _guided(search: _Search, flows: list[Floats]) -> None:
    """Try the choices that are best for given flows, under fewer and fewer rules."""
    maker = search.maker
    states = tuple(replace(state, flow=flow, design=flow) for state, flow in zip(maker.states, flows, strict=True))
    options = maker.options.at_flows(states)
    guided = maker.guided(states, options, duty(maker.request, maker.shop, states))
    firm = search.rules.must - {"meeting_without_gates"}
    speed = frozenset({"transport_velocity", "upper_velocity"})
    for must in dict.fromkeys((firm | {"design_flow"}, firm, firm - speed, frozenset({"no_narrowing"}) & firm)):
        problem = guided.problem(search.shelf, search.rules.alone(frozenset(must)))
        for chosen in frontier_choices(problem.sites, problem.aim, GUIDED, WORK)[: 2 * GUIDED]:
            search.attempt(problem, chosen)


def _improve(search: _Search, free: Problem) -> None:
    """Change one run at a time as long as the best choice gets better."""
    objective = search.maker.request.objective
    best = search.best()
    better = best is not None
    neighbours = Neighbours(free)
    while better and best is not None:
        better = False
        bores = {option.run.index: option.bore for option in chosen_options(best.problem, best.chosen)}
        for near in neighbours.of(bores):
            if len(search.known) >= search.most:
                return
            candidate = search.attempt(free, near)
            if candidate is not None and candidate.beats(best, objective):
                best, better = candidate, True
                break


def _remedies(search: _Search) -> tuple[SizingRemedy, ...]:
    """Return the fewest rules whose dropping lets one of the choices solved do; nothing where one does already."""
    sets: dict[frozenset[str], Candidate] = {}
    for candidate in search.known.values():
        if candidate is not None:
            rules = candidate.rules_missed(search.rules)
            held = sets.get(rules)
            if held is None or candidate.short < held.short:
                sets[rules] = candidate
    if not sets or frozenset() in sets:
        return ()
    fewest = min(len(rules) for rules in sets)
    return tuple(
        SizingRemedy(
            drop=tuple(sorted(rules)),
            broken=tuple(item for item in candidate.broken(search.maker.states, search.rules) if item.weight == "must"),
            fewest=False,
        )
        for rules, candidate in sets.items()
        if len(rules) == fewest
    )
