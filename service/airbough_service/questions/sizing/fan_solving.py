"""One choice of bores solved with the fan in every state, and where it breaks rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import BrokenRule
from airbough_service.core.choosing.sites import counted
from airbough_service.core.choosing.sizing import TIE, Chosen
from airbough_service.core.limits import above, below
from airbough_service.core.network.tree import area
from airbough_service.questions.sizing.broken_rules import (
    Place,
    chosen_options,
    narrowings,
    weighed,
)
from airbough_service.questions.sizing.fan_flows import Fan, Moved
from airbough_service.questions.sizing.options import limits_of
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
)
from airbough_service.questions.sizing.rules import CLEARED, Rules
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import nanometres

Floats = NDArray[np.float64]
LEAST_LIMIT = 1.0e-3  # Pa: of a limit of none every pressure is far above it
OF_RUNS = ("transport_velocity", "upper_velocity", "design_flow")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A choice solved with the fan.

    Attributes:
        problem, chosen: the choice; its needs are not those of the fan's flows.
        names: of its runs, those that it gained last.
        pressures: fan static pressure in each state, Pa.
        flows: by state, of each run of the request, m3/s.
        shares: by rule of OF_RUNS, shape (states, runs): the share of its limit by which it is missed; 0 where it is
            not.
        narrowed: runs that flow into narrower ones.
        strong: shape (states,), the share by which the pressure is above what is available; 0 where it is not.
        short: by how much those that must hold do not, as shares of their limits, summed.
        wished: places where the other rules do not, each by what it counts.
    """

    problem: Problem
    chosen: Chosen
    names: tuple[str, ...]
    pressures: Floats
    flows: tuple[Floats, ...]
    shares: dict[str, Floats]
    narrowed: tuple[Place, ...]
    strong: Floats
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

    def beats(self, other: Candidate, objective: str) -> bool:
        """Return whether this choice is better by more than rounding, so that units do not decide."""
        for own, its in zip(self.key(objective), other.key(objective), strict=True):
            if abs(own - its) > TIE * max(abs(own), abs(its)):
                return own < its
        return False

    def before(self, other: Candidate, objective: str) -> bool:
        """Return whether this choice is taken: the better one; of equals that with the narrower bores."""
        if self.beats(other, objective) or other.beats(self, objective):
            return self.beats(other, objective)
        return self.bores < other.bores

    @property
    def bores(self) -> tuple[tuple[int, int], ...]:
        """By run, its number and bore, nm."""
        options = chosen_options(self.problem, self.chosen)
        return tuple(sorted((option.run.index, nanometres(option.bore)) for option in options))

    def rules_missed(self, rules: Rules) -> frozenset[str]:
        """Return the rules that must hold and do not."""
        missed = {rule for rule, shares in self.shares.items() if shares.any()}
        missed |= {place.rule for place in self.narrowed} | ({"pressure_available"} if self.strong.any() else set())
        return frozenset(missed & rules.must)

    def places(self, states: Sequence[State]) -> Iterator[Place]:
        """Give the places where rules do not hold."""
        yield from self.narrowed
        for number, state in enumerate(states):
            for column, name in enumerate(self.names):
                for rule in OF_RUNS:
                    share = float(self.shares[rule][number, column])
                    if share > 0.0:
                        yield Place(rule, name, state.name, share)
            if self.strong[number] > 0.0:
                yield Place("pressure_available", None, state.name, float(self.strong[number]))

    def broken(self, states: Sequence[State], rules: Rules) -> tuple[BrokenRule, ...]:
        """Return the places with their weight."""
        return weighed(self.places(states), rules)


class Judge:
    """Solves choices of one request with its fan and judges them by its rules; what no choice changes is kept."""

    def __init__(self, maker: Maker, rules: Rules) -> None:
        """Take the limits of every run in every state: not a number where it is not judged."""
        self.maker, self.rules, self.fan = maker, rules, Fan(maker)
        self.weights = maker.weights(rules)
        runs = range(len(maker.shop.runs))
        limits = [[limits_of(maker.request, state, index, 1.0) for index in runs] for state in maker.states]
        self.low, self.high = (np.array([[pair[k] for pair in of] for of in limits], float) for k in (0, 1))
        hoods = np.array([run.run.hood is not None for run in maker.shop.runs])
        self.design = np.array([state.design for state in maker.states]) * hoods
        self.judged = np.array([state.active for state in maker.states]).sum(axis=0)

    def solved(self, problem: Problem, chosen: Chosen) -> Candidate | None:
        """Return a choice solved with the fan; None where fan and system do not cross on the curve in some state."""
        moved = self.fan.moves(problem, chosen)
        if moved is None:
            return None
        shares = self._shares(moved)
        narrowed = tuple(narrowings(self.maker, problem, chosen))
        limit = self.maker.request.limits.pressure_available
        strong = np.zeros(len(moved.pressure))
        if limit is not None:
            over = moved.pressure / max(float(limit), LEAST_LIMIT) - 1.0
            strong = np.where(above(moved.pressure, float(limit)), np.maximum(over, np.finfo(float).tiny), 0.0)
        narrow = np.array([place.share for place in narrowed], float)
        by_rule = shares | {"no_narrowing": narrow, "pressure_available": strong}
        return Candidate(
            problem=problem,
            chosen=chosen,
            names=tuple(run.id for run in moved.runs),
            pressures=moved.pressure,
            flows=tuple(moved.flow[:, : len(self.maker.shop.runs)]),
            shares=shares,
            narrowed=narrowed,
            strong=strong,
            short=float(sum(by_rule[rule].sum() for rule in by_rule if rule in self.rules.must)),
            wished=self._wished(by_rule, moved.of_request),
        )

    def _shares(self, moved: Moved) -> dict[str, Floats]:
        """Return by what share of their limits the rules on flows are missed; 0 where they hold."""
        of = moved.of_request
        low, high = self.low[:, of], self.high[:, of]
        slowest = moved.least / np.array([area(run.widest.bore) for run in moved.runs])
        speed = moved.flow / np.array([area(run.narrowest.bore) for run in moved.runs])
        design = np.where(np.arange(len(of)) < len(self.maker.shop.runs), self.design[:, of], 0.0)
        flows = moved.flow > 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            return {
                "transport_velocity": np.where(flows & below(slowest, low), 1.0 - slowest / low, 0.0),
                "upper_velocity": np.where(flows & above(speed, high), speed / high - 1.0, 0.0),
                "design_flow": np.where((design > 0.0) & below(moved.least, design), 1.0 - moved.least / design, 0.0),
            }

    def _wished(self, shares: dict[str, Floats], of_request: list[int]) -> float:
        """Return what the places of rules that are no musts count; what another state clears counts less."""
        total = 0.0
        for rule, share in shares.items():
            weight = self.weights.get(rule, 0.0)
            counts = np.where(share > 0.0, counted(share), 0.0)
            counts = np.minimum(counts, self.rules.most(rule))
            if rule == "transport_velocity" and weight:
                cleared = (share > 0.0).sum(axis=0) < self.judged[of_request]
                total += self.weights[CLEARED] * float(counts[:, cleared].sum())
                counts = counts[:, ~cleared]
            total += weight * float(counts.sum())
        return total
