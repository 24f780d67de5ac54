"""Where no bores keep every rule: the fewest rules to drop, or bores and pieces to stock, that would allow some."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import Final

from airbough.wire.sizing import SizingRemedy
from airbough_service.core.choosing.sizing import (
    Outcome,
    solve,
)
from airbough_service.questions.sizing.answer import pieces
from airbough_service.questions.sizing.broken_rules import (
    broken_rules,
    chosen_kits,
    chosen_options,
)
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
    TooManySetsError,
)
from airbough_service.questions.sizing.rules import Rules
from airbough_service.questions.sizing.stock import (
    Part,
    Shelf,
    metres,
    nanometres,
)

MOST_SETS: Final = 50_000  # sets of bores listed in all trials of one kind
WORK: Final = 5_000_000
LABELS: Final = 500


@dataclass(slots=True)
class Search:
    """Tries changes of rules and stock, within limits."""

    maker: Maker
    shelf: Shelf
    rules: Rules
    tried: list[str] = field(default_factory=list)

    def remedies(self) -> tuple[SizingRemedy, ...]:
        """Return what would allow a choice; `tried` then says what was tried."""
        return (*self._rules(), *self._sizes(), *self._pieces())

    def _allows(self, shelf: Shelf, rules: Rules, *, fewest: bool = False) -> tuple[Problem, Outcome] | None:
        """Return the problem and a choice, or with `fewest` the cheapest, where one was found."""
        if not self.maker.every_run_has_one(shelf, rules):
            return None
        try:
            problem = self.maker.problem(shelf, rules)
        except TooManySetsError:
            return None
        outcome = solve(problem.sites, problem.aim, LABELS, WORK, any_will_do=not fewest)
        return None if outcome.best is None else (problem, outcome)

    def _rules(self) -> Iterator[SizingRemedy]:
        """Give every set of the fewest rules to drop."""
        names = sorted(self.rules.must)
        trials, end = 0, self.maker.made + MOST_SETS
        for number in range(1, len(names) + 1):
            found = []
            for dropped in combinations(names, number):
                if self.maker.made > end:
                    break
                trials += 1
                kept = self.rules.without(frozenset(dropped))
                allowed = self._allows(self.shelf, kept)
                if allowed is not None:
                    problem, outcome = allowed
                    assert outcome.best is not None
                    judged = Rules(frozenset(dropped), frozenset())
                    places = broken_rules(self.maker, problem, outcome.best, judged)
                    found.append(SizingRemedy(drop=dropped, broken=places))
            if found:
                self.tried.append(f"dropped {number} of {len(names)} rules, in {trials} trials")
                yield from found
                return
        ended = "until the limit of work" if self.maker.made > end else "every set of them"
        self.tried.append(f"dropped some of {len(names)} rules, {ended}, in {trials} trials, and none allows a choice")

    def _sizes(self) -> Iterator[SizingRemedy]:
        """Give every set of the fewest bores to stock."""
        sizes, whose = self._candidates()
        trials, end = 0, self.maker.made + MOST_SETS
        for number in (1, 2):
            found = []
            for added in combinations(sizes, number):
                if self.maker.made > end:
                    break
                trials += 1
                if self._allows(self.shelf.with_sizes(frozenset(map(nanometres, added))), self.rules) is not None:
                    found.append(SizingRemedy(add_diameters=added))
            if found:
                self.tried.append(f"added {number} of {len(sizes)} diameters {whose}, in {trials} trials")
                yield from found
                return
        ended = "then the limit of work was reached" if self.maker.made > end else "one and two at a time"
        self.tried.append(
            f"added diameters of {len(sizes)} {whose}, {ended}, in {trials} trials, and none allows a choice"
        )

    def _candidates(self) -> tuple[list[float], str]:
        """Return the bores to try, m, and whose they are."""
        stocked = sorted({bore for _, bore in self.shelf.ducts})
        if self.maker.request.trade_sizes:
            asked = sorted({nanometres(float(size)) for size in self.maker.request.trade_sizes} - set(stocked))
            return [metres(size, self.shelf.preset) for size in asked], "of the trade sizes given"
        between = [(low + high) // 2 for low, high in pairwise(stocked)]
        return [metres(size, self.shelf.preset) for size in between], "midway between those of the stock"

    def _pieces(self) -> Iterator[SizingRemedy]:
        """Give the fewest fittings and gates to stock in the bores that are there."""
        allowed = self._allows(self.shelf.with_anything(), Rules(self.rules.must, frozenset()), fewest=True)
        if allowed is None:
            self.tried.append("added any fittings and gates in the stock's diameters, and none allows a choice")
            return
        problem, outcome = allowed
        assert outcome.best is not None
        parts: list[Part] = []
        for option, kit in zip(chosen_options(problem, outcome.best), chosen_kits(problem, outcome.best), strict=True):
            parts += [part for part in (*option.parts, *kit.parts) if part.price_each == 1.0 and part.at is None]
        self.tried.append("added any fittings and gates in the stock's diameters, the fewest by count")
        unpriced = (Part(part.kind, part.count, None, fitting_length=part.fitting_length) for part in parts)
        yield SizingRemedy(add_pieces=pieces(unpriced, self.maker.request.units), fewest=outcome.exact)
