"""Sizing where the fan decides what flows: choices that given flows suggest are solved with the fan, then mended.

No proof is made; the bounds are those of what does not depend on the flows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import BrokenRule, SizingBound, SizingRemedy, SizingRequest
from airbough_service.core.operating import operate
from airbough_service.core.sizing import Chosen, frontier_choices
from airbough_service.core.sizing_bounds import bounds_of
from airbough_service.edge import fans
from airbough_service.edge.judging import HOLDS
from airbough_service.edge.shop import Shop, build
from airbough_service.edge.sizing.duty import duty
from airbough_service.edge.sizing.judging import Place, chosen_options, sized, weighed
from airbough_service.edge.sizing.options import Options, limits_of
from airbough_service.edge.sizing.problem import Maker, Problem, Rules, narrows
from airbough_service.edge.sizing.states import State
from airbough_service.edge.sizing.stock import Shelf
from airbough_service.edge.told import is_open, velocity

Floats = NDArray[np.float64]
GUIDED: Final = 60  # choices tried of each frontier
MOST: Final = 400  # choices solved with the fan
WORK: Final = 20_000_000
WITHOUT_FLOWS: Final = "the rules and the flows; the pressure is the least of the fan's points"


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


@dataclass(frozen=True, slots=True)
class FanResult:
    """What the search found; `tried` counts the choices solved."""

    best: Candidate | None
    labels: int
    tried: int
    bound: SizingBound
    remedies: tuple[SizingRemedy, ...]


@dataclass(slots=True)
class _Search:
    """The choices solved so far, by their bores."""

    maker: Maker
    shelf: Shelf
    rules: Rules
    known: dict[tuple[float, ...], Candidate | None] = field(default_factory=dict)

    def best(self) -> Candidate | None:
        """Return the best choice that could be solved."""
        objective = self.maker.request.objective
        solved = [candidate for candidate in self.known.values() if candidate is not None]
        return min(solved, key=lambda candidate: candidate.key(objective), default=None)

    def attempt(self, problem: Problem, chosen: Chosen) -> Candidate | None:
        """Solve a choice with the fan, unless it was solved or the limit is reached."""
        bores = tuple(option.run.start for option in chosen_options(problem, chosen))
        if bores not in self.known and len(self.known) < MOST:
            self.known[bores] = _solved(self.maker, problem, chosen, self.rules)
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
        price=cost if np.isfinite(cost) else 0.0,
        fan_static_pressure=_least_pressure(maker),
        preferred_broken=0,
        relaxation=WITHOUT_FLOWS,
    )
    search = _Search(maker, shelf, rules)
    guide = [state.flow for state in maker.states]
    if any(not flow.any() for flow in guide) or _some_flow_missing(maker):
        guide = _starting_flows(maker)
    for _ in range(2):
        _guided(search, guide)
        best = search.best()
        if best is None:
            break
        guide = list(best.flows)
    _mend(search, free)
    best = search.best()
    return FanResult(best, len(search.known), len(search.known), bound, _remedies(search))


def _least_pressure(maker: Maker) -> float:
    """Return a fan static pressure that the curve does not go below, Pa: between its points it has no dip of its own."""
    fan = maker.duty.fan
    assert fan is not None
    knots = [(float(piece[1]), fan.static_pressure(float(piece[1]))) for piece in fan.pieces]
    knots.append((fan.lowest, fan.static_pressure(fan.lowest)))
    without_off = [pressure + fan.quadratic * flow * flow for flow, pressure in knots]
    return min(without_off) - fan.quadratic * fan.highest**2


def _some_flow_missing(maker: Maker) -> bool:
    return any(
        run.run.hood is not None and run.run.hood.flow is None and not all(state.flow[run.index] for state in maker.states)
        for run in maker.shop.runs
    )


def _starting_flows(maker: Maker) -> list[Floats]:
    """Return what the fan moves through the tree in bores from the middle of the stock."""
    shop = maker.shop
    fan = fans.build(shop)
    out = []
    for state in maker.states:
        operating = operate(shop.tree, fan, shop.gates(state.openings))
        flow = operating.flow[shop.tree.place[: len(shop.runs)]]
        if not flow.any():  # beyond the curve: the hoods share its last flow
            flow = _shared_out(shop, state, fan.highest)
        out.append(flow)
    return out


def _shared_out(shop: Shop, state: State, total: float) -> Floats:
    """Return the flows where each open hood takes an equal share."""
    flow = np.zeros(len(shop.runs))
    open_hoods = [run.index for run in shop.runs if run.run.hood is not None and is_open(run, state.openings)]
    for index in open_hoods:
        at = index
        while at >= 0:
            flow[at] += total / len(open_hoods)
            at = shop.shape.parents[at]
    return flow


def _guided(search: _Search, flows: list[Floats]) -> None:
    """Try the choices that are best for given flows, under fewer and fewer rules."""
    maker = search.maker
    states = tuple(replace(state, flow=flow) for state, flow in zip(maker.states, flows, strict=True))
    options = Options(maker.request, maker.shop, states, maker.options.fixed)
    guided = Maker(maker.request, maker.shop, states, options, duty(maker.request, maker.shop, states))
    firm = search.rules.must - {"meeting_without_gates"}
    speed = frozenset({"transport_velocity", "upper_velocity"})
    for must in dict.fromkeys((firm | {"design_flow"}, firm, firm - speed, frozenset({"no_narrowing"}) & firm)):
        problem = guided.problem(search.shelf, Rules(frozenset(must), search.rules.prefer - {"meeting_without_gates"}))
        for chosen in frontier_choices(problem.sites, problem.aim, GUIDED, WORK)[: 2 * GUIDED]:
            search.attempt(problem, chosen)


def _mend(search: _Search, free: Problem) -> None:
    """Change one run at a time as long as the best choice gets better."""
    objective = search.maker.request.objective
    best = search.best()
    better = best is not None
    while better and best is not None and len(search.known) < MOST:
        better = False
        bores = {option.run.index: option.run.start for option in chosen_options(best.problem, best.chosen)}
        for near in _neighbours(free, bores):
            candidate = search.attempt(free, near)
            if candidate is not None and candidate.key(objective) < best.key(objective):
                best, better = candidate, True
                break


def _neighbours(problem: Problem, bores: dict[int, float]) -> Iterator[Chosen]:
    """Give the choices in which one run, or all from one to the collector, have the next smaller or larger bore."""
    numbers = []
    for site, index in enumerate(problem.order):
        near = [abs(option.run.start - bores[index]) for option in problem.options[site]]
        if not near:
            return
        numbers.append(int(np.argmin(near)))
    for moving in _moves(problem):
        for step in (-1, 1):
            moved = [number + step * (site in moving) for site, number in enumerate(numbers)]
            if all(0 <= number < len(problem.options[site]) for site, number in enumerate(moved)):
                chosen = _composed(problem, moved)
                if chosen is not None:
                    yield chosen


def _moves(problem: Problem) -> Iterator[frozenset[int]]:
    """Give the sets of sites that move together: each alone, then each path from a site to the collector."""
    into = {arm: number for number, site in enumerate(problem.sites[:-1]) for arm in site.arms}
    for site in range(len(problem.order)):
        yield frozenset({site})
    for site in range(len(problem.order)):
        path = [site]
        while path[-1] in into:
            path.append(into[path[-1]])
        if len(path) > 1:
            yield frozenset(path)


def _composed(problem: Problem, numbers: list[int]) -> Chosen | None:
    """Return the choice of these bores with the cheapest way to join them; None where the stock has none."""
    rows, cost = [], 0.0
    choice = [*numbers, 0]
    for number, site in enumerate(problem.sites):
        own = site.choices[choice[number]]
        fits = np.flatnonzero((own.arms == [choice[arm] for arm in site.arms]).all(axis=1))
        if fits.size == 0:
            return None
        row = int(fits[np.argmin(own.row_cost[fits])])
        rows.append(row)
        cost += own.cost + float(own.row_cost[row])
    return Chosen(tuple(choice), tuple(rows), np.zeros(problem.aim.ceiling.size), cost, 0)


def _solved(maker: Maker, problem: Problem, chosen: Chosen, rules: Rules) -> Candidate | None:
    """Return a choice solved with the fan; None where fan and system do not cross on the curve in some state."""
    shop = build(sized(maker.request, maker, problem, chosen))
    fan = fans.build(shop)
    pressures, flows = [], []
    places: list[tuple[Place, float]] = [(place, 1.0) for place in _narrowings(maker, problem, chosen)]
    for state in maker.states:
        operating = operate(shop.tree, fan, shop.gates(state.openings))
        if not operating.crossings:
            return None
        flow = operating.flow[shop.tree.place[: len(shop.runs)]]
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


def _remedies(search: _Search) -> tuple[SizingRemedy, ...]:
    """Return the fewest rules whose dropping lets one of the choices solved do; nothing where one does already."""
    sets: dict[frozenset[str], Candidate] = {}
    for candidate in search.known.values():
        if candidate is not None:
            rules = frozenset(item.rule for item in candidate.broken(search.rules) if item.weight == "must")
            held = sets.get(rules)
            if held is None or len(candidate.places) < len(held.places):
                sets[rules] = candidate
    if not sets or frozenset() in sets:
        return ()
    fewest = min(len(rules) for rules in sets)
    return tuple(
        SizingRemedy(
            drop=tuple(sorted(rules)),
            broken=tuple(item for item in candidate.broken(search.rules) if item.weight == "must"),
            fewest=False,
        )
        for rules, candidate in sets.items()
        if len(rules) == fewest
    )
