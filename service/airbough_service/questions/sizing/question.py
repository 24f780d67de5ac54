"""Sizing answered: given flows exactly where the frontier allows, the fan's by search with a bound."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from typing import Final

from airbough.wire.answer import Suggestion
from airbough.wire.problem import Fault
from airbough.wire.sizing import (
    SizingAnswer,
    SizingBound,
    SizingRequest,
)
from airbough_service.core.choosing.sites import MOST_STEPS
from airbough_service.core.choosing.sizing import (
    Outcome,
    bounded,
    solve,
)
from airbough_service.questions.sizing import (
    answer as telling,
)
from airbough_service.questions.sizing import (
    engine,
)
from airbough_service.questions.sizing.broken_rules import (
    broken_rules,
    chosen_kits,
    chosen_options,
    document,
    entering,
    gained,
    sized,
)
from airbough_service.questions.sizing.checks import (
    prepared,
)
from airbough_service.questions.sizing.duty import duty
from airbough_service.questions.sizing.findings import (
    left_out,
    missed,
    next_sizes,
    preferred,
    price_gaps,
    short,
    too_narrow,
    unproved,
)
from airbough_service.questions.sizing.leak_allowance import allowed, allowing
from airbough_service.questions.sizing.meetings import Meetings
from airbough_service.questions.sizing.options import Options
from airbough_service.questions.sizing.pairs import pairs
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
    TooManySetsError,
)
from airbough_service.questions.sizing.question_fan import answer_by_fan
from airbough_service.questions.sizing.remedies import Search, advice
from airbough_service.questions.sizing.rules import Rules, by_fan, rules_of
from airbough_service.questions.sizing.shallow import as_needed, can_be, shallow
from airbough_service.questions.sizing.shared import shared
from airbough_service.questions.sizing.states import states
from airbough_service.questions.sizing.stock import Shelf
from airbough_service.terms import money
from airbough_service.terms.finding import (
    finding,
)
from airbough_service.terms.refusal import Refusal

WORK: Final = 100_000_000  # labels made and compared; about a second
ROUNDS: Final = 24  # of allowances for leaks, and of shallower suctions
SHALLOWER: Final = 0.95  # of a pressure that is too deep


def answer(request: SizingRequest) -> SizingAnswer:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of the tree, else of stock, states, rules and fan, each with its path.
    """
    shop, shelf, fixed = prepared(request)
    all_states = states(request, shop)
    options = Options(request, shop, all_states, fixed)
    meetings = Meetings(request, shop, options)
    maker = Maker(request, shop, all_states, options, duty(request, shop, all_states), meetings)
    rules = rules_of(request)
    try:
        if by_fan(request):
            return answer_by_fan(maker, shelf, rules)
        return _at_design_flows(maker, shelf, rules)
    except TooManySetsError as error:
        raise Refusal("not-computable", [_too_many(error, request)]) from None


def _too_many(error: TooManySetsError, request: SizingRequest) -> Fault:
    """Return the fault of sets that cannot be listed."""
    if error.in_states:
        detail = "so many diameters may meet that their sets cannot be listed in so many states"
        detail += "; name fewer states" if request.states else ", one for each machine; name those that ask for most"
        return Fault(path="states", code="too-many-sets", detail=f"{detail}, stock fewer diameters, or fix some runs")
    detail = "so many diameters may meet that their sets cannot be listed; stock fewer, or fix some runs"
    return Fault(path="stock.ducts", code="too-many-sets", detail=detail)


def _at_design_flows(maker: Maker, shelf: Shelf, rules: Rules) -> SizingAnswer:
    """Answer for given flows; with leaks the flows are raised until the sized tree leaks no more than was allowed.

    Where the best draws more suction than one density can answer, the best below that is looked for: exactly where the
    suction at the inlet alone is too deep, else step by step.
    """
    refused: Refusal | None = None
    held = stepped = falls_short = False  # the last of what leaks in, the allowance to the last
    for _ in range(ROUNDS):
        problem = maker.problem(shelf, rules)
        outcome = _chosen(maker, problem, held=held)
        if outcome.best is None and refused is not None:
            raise refused
        if outcome.best is None:
            return _none(maker, shelf, rules, outcome)
        tree = engine.ready(sized(maker.request, maker, problem, outcome.best))
        try:
            checks = engine.checked(tree, maker.states, design=True, fan=maker.duty.fan is not None)
        except Refusal as refusal:
            refused, stepped = refusal, held or not can_be(problem)
            held, maker = (
                not stepped,
                replace(maker, deepest=SHALLOWER * outcome.best.pressure if stepped else math.inf),
            )
            continue
        raised = allowing(maker, checks)
        if raised is None:
            break
        maker = raised
    else:
        if refused is not None:
            raise refused
        falls_short = True
    if not outcome.exact:
        outcome = bounded(problem.sites, problem.aim, outcome, maker.request.frontier_limit, WORK)
    if stepped or falls_short:
        outcome = replace(outcome, exact=False)
    return _sized(maker, problem, rules, outcome, tree, checks)


def _chosen(maker: Maker, problem: Problem, *, held: bool) -> Outcome:
    """Return the best choice; `held`: of those whose suction at the inlet one density answers."""
    asked = shallow(maker, problem) if held else problem
    outcome = solve(asked.sites, asked.aim, maker.request.frontier_limit, WORK, bounding=False)
    if held and outcome.best is not None:
        return replace(outcome, best=as_needed(problem, outcome.best))
    return outcome


def _bound(
    outcome: Outcome, broken: int, heaviest: float, price: Decimal | None, request: SizingRequest
) -> SizingBound:
    """Return the bound; `price`: of the choice, where all of it has one."""
    least = None if price is None else min(price, money.at_least(outcome.cost, telling.currency(request)))
    return SizingBound(
        price=price if outcome.exact else least,
        fan_static_pressure=outcome.pressure,
        preferred_broken=broken if outcome.exact else math.ceil(outcome.broken / (heaviest * MOST_STEPS)),
        relaxation=outcome.relaxation,
    )


def _sized(
    maker: Maker, problem: Problem, rules: Rules, outcome: Outcome, tree: engine.Ready, checks: list[engine.Checked]
) -> SizingAnswer:
    """Answer with the bores for given flows, checked by the engine."""
    request, best = maker.request, outcome.best
    assert best is not None
    broken = broken_rules(maker, problem, best, rules)
    options, kits = chosen_options(problem, best), chosen_kits(problem, best)
    flows, wyes = [state.flow for state in maker.states], gained(maker, problem, best)
    as_built = entering(maker, problem, best)
    runs = telling.runs(as_built, kits, flows, maker.states, maker.options.fixed, request, wyes)
    price, complete = telling.total(options, kits, request)
    first = checks[0].balance
    assert first is not None
    items = engine.findings(checks, maker.states, design=True)
    items += short(maker, best.need, rules) + preferred(request, broken)
    items += unproved(request, outcome.exact, outcome.relaxation)
    items += too_narrow(maker, options)
    without = left_out(request, options)
    items += next_sizes(request, options, kits, wyes) + price_gaps(request, runs, without, complete=complete)
    return SizingAnswer(
        **shared(request, tree.shop, first.runs, first.hoods, items),
        outcome="sized",
        proof="exact" if outcome.exact else "gap",
        objective=request.objective,
        labels=outcome.labels,
        work=outcome.work,
        sizes=runs,
        states=telling.states(maker.states, best.need, maker.duty, checks, allowed(maker)),
        price=None if request.stock is None else price,
        price_complete=complete and not without,
        currency=telling.currency(request),
        fan_static_pressure=best.pressure,
        preferred_broken=sum(item.weight != "must" for item in broken),
        broken=broken,
        pairs=pairs(request, maker.shop, tree),
        lower_bound=_bound(
            outcome, len(broken), max([1.0, *maker.weights(rules).values()]), price if complete else None, request
        ),
        document=document(tree.tree),
    )


def _none(maker: Maker, shelf: Shelf, rules: Rules, outcome: Outcome) -> SizingAnswer:
    """Answer that no bores keep every rule, and what would allow some."""
    request, search = maker.request, Search(maker, shelf, rules)
    remedies = search.remedies()
    by = missed(remedies)
    message = f"no choice of diameters from the stock keeps every rule that it must{by}"
    if not outcome.exact:
        message = f"no choice of diameters that keeps every rule was found; that there is none is not proved{by}"
    item = finding(
        request.units, "no-size-fits", message, suggestion=Suggestion(text=advice(request, remedies, search.tried))
    )
    return SizingAnswer(
        **shared(request, maker.shop, (), (), [item]),
        outcome="no-solution",
        proof="exact" if outcome.exact else "gap",
        objective=request.objective,
        labels=outcome.labels,
        work=outcome.work,
        currency=telling.currency(request),
        remedies=remedies,
        tried="; ".join(search.tried),
    )
