"""Where no bores keep every rule: the fewest rules to drop, or bores and pieces to stock, that would allow some."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Final

from msgspec import structs

from airbough.wire.sizing import NeededDuty, SizingRemedy, SizingRequest
from airbough_service.catalogue.sizes import nominal_diameters
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
from airbough_service.questions.sizing.rules import OF_FAN, Rules
from airbough_service.questions.sizing.stock import (
    Part,
    Shelf,
    metres,
    nanometres,
)
from airbough_service.terms.finding import plain, show

MOST_SETS: Final = 50_000  # sets of bores listed in all trials of one kind
MOST_IN_STATES: Final = 20 * MOST_SETS  # those sets times states
WORK: Final = 5_000_000
LABELS: Final = 500
MOST_NAMED: Final = 3


@dataclass(slots=True)
class Search:
    """Tries changes of rules and stock, within limits."""

    maker: Maker
    shelf: Shelf
    rules: Rules
    tried: list[str] = field(default_factory=list)

    @property
    def _most_sets(self) -> int:
        """How many sets of bores are listed in all trials of one kind, in so many states."""
        return min(MOST_SETS, MOST_IN_STATES // len(self.maker.states))

    def remedies(self) -> tuple[SizingRemedy, ...]:
        """Return what would allow a choice; `tried` then says what was tried."""
        return (*self._rules(), *self._sizes(), *self._pieces(), *self.fans())

    def of_stock(self) -> tuple[SizingRemedy, ...]:
        """Return what to stock so that there is a choice at all."""
        return (*self._sizes(), *self._pieces())

    def _easiest(self) -> Maker:
        """Return the maker of problems whose answer needs the least pressure."""
        return replace(self.maker, request=structs.replace(self.maker.request, objective="fan-pressure"))

    def fans(self) -> Iterator[SizingRemedy]:
        """Give what another fan must do at the design flows, in the easiest bores that keep the other rules."""
        maker, of_fan = self.maker, self.rules.must & OF_FAN
        given = maker.request.limits.pressure_available
        flows = all(state.flow.any() for state in maker.states)
        if not of_fan or maker.duty.fan is None or given is not None or not flows:
            return
        easiest = self._easiest()
        kept = Rules(self.rules.must - of_fan, frozenset())
        try:
            problem = easiest.problem(self.shelf, kept)
        except TooManySetsError:
            return
        best = solve(problem.sites, problem.aim, LABELS, WORK, bounding=False).best
        self.tried.append("looked for the fan that all design flows need")
        if best is not None:
            duties = zip(maker.states, maker.duty.flow, best.need, strict=True)
            needed = tuple(
                NeededDuty(state=state.name, flow=float(flow), fan_static_pressure=float(need))
                for state, flow, need in duties
            )
            yield SizingRemedy(fan=needed, fewest=False)

    def _allows(
        self, shelf: Shelf, rules: Rules, *, fewest: bool = False, easiest: bool = False
    ) -> tuple[Problem, Outcome] | None:
        """Return the problem and a choice, or with `fewest` the best, where one was found; `easiest`: by pressure."""
        if not self.maker.every_run_has_one(shelf, rules):
            return None
        try:
            maker = self._easiest() if easiest else self.maker
            problem = maker.problem(shelf, rules)
            self.maker.made = max(self.maker.made, maker.made)
        except TooManySetsError:
            return None
        outcome = solve(problem.sites, problem.aim, LABELS, WORK, any_will_do=not fewest, bounding=False)
        return None if outcome.best is None else (problem, outcome)

    def _rules(self) -> Iterator[SizingRemedy]:
        """Give every set of the fewest rules to drop."""
        names = sorted(self.rules.must)
        trials, end = 0, self.maker.made + self._most_sets
        for number in range(1, len(names) + 1):
            found = []
            for dropped in combinations(names, number):
                if self.maker.made > end:
                    break
                trials += 1
                kept = self.rules.without(frozenset(dropped))
                easiest = bool(OF_FAN.intersection(dropped))
                allowed = self._allows(self.shelf, kept, fewest=True, easiest=easiest)
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
        """Give every set of the fewest bores to stock; of the catalogue's those nearest to the stock's."""
        nominal = not self.maker.request.trade_sizes
        sizes, whose = self._candidates()
        trials, end = 0, self.maker.made + self._most_sets
        for number in (1, 2):
            found: list[SizingRemedy] = []
            for added in combinations(sizes, number):
                if self.maker.made > end or (nominal and len(found) == MOST_NAMED):
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
        listed = {nanometres(size) for size in nominal_diameters(self.shelf.preset)[0]} - set(stocked)
        near = sorted(listed, key=lambda size: (min((abs(size - one) for one in stocked), default=0), size))
        return [metres(size, self.shelf.preset) for size in near], "of the catalogue's nominal ones"

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
            parts += [part for part in (*option.parts, *kit.parts) if part.cost_each == 1.0 and part.at is None]
        self.tried.append("added any fittings and gates in the stock's diameters, the fewest by count")
        unpriced = (Part(part.kind, part.count, fitting_length=part.fitting_length) for part in parts)
        yield SizingRemedy(add_pieces=pieces(unpriced, self.maker.request), fewest=outcome.exact)


def advice(request: SizingRequest, remedies: tuple[SizingRemedy, ...], tried: list[str]) -> str:
    """Return the remedies as a sentence."""
    ways = []
    for remedy in remedies:
        if remedy.drop:
            ways.append("drop " + " and ".join(map(plain, remedy.drop)))
        if remedy.add_pieces:
            ways.append("stock " + _named(request, remedy))
        if remedy.fan:
            most = max(remedy.fan, key=lambda duty: duty.fan_static_pressure)
            ways.append(
                f"a fan that gives {show(request.units, 'pressure', most.fan_static_pressure)} at "
                f"{show(request.units, 'flow', most.flow)} ({most.state})"
            )
    sizes = [remedy.add_diameters for remedy in remedies if remedy.add_diameters]
    if sizes:
        one = "one of " if len(sizes) > 1 else ""
        told = [" and ".join(show(request.units, "diameter", size) for size in added) for added in sizes[:MOST_NAMED]]
        ways.append(f"stock {one}{', '.join(told)}" + (" or others" if len(sizes) > MOST_NAMED else ""))
    return "; or ".join(ways) if ways else "tried in vain: " + "; ".join(tried)


def _named(request: SizingRequest, remedy: SizingRemedy) -> str:
    """Return the pieces to stock, a few by name."""
    if len(remedy.add_pieces) > MOST_NAMED:
        return f"{len(remedy.add_pieces)} more kinds of fittings or gates"
    out = []
    for piece in remedy.add_pieces:
        sizes = " x ".join(show(request.units, "diameter", bore) for bore in piece.diameters)
        angle = "" if piece.angle is None else f", {piece.angle:g} deg"
        out.append(f"{'an' if piece.type[0] in 'aeo' else 'a'} {plain(piece.type)} of {sizes}{angle}")
    return " and ".join(out)
