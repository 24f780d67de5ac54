"""Sizing answered: given flows exactly where the frontier allows, the fan's by search with a bound."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from airbough.wire.answer import Finding, HoodTold, RunTold, Suggestion
from airbough.wire.problem import Fault
from airbough.wire.sizing import BrokenRule, SizingAnswer, SizingBound, SizingRequest
from airbough_service.core.sizing import Outcome, solve
from airbough_service.edge import geometry, judging, sources, told
from airbough_service.edge.finding import finding, ordered, show
from airbough_service.edge.refusal import Refusal
from airbough_service.edge.shop import Shop, build
from airbough_service.edge.sizing import engine, telling
from airbough_service.edge.sizing.checks import prepared, rules_of
from airbough_service.edge.sizing.duty import duty
from airbough_service.edge.sizing.fan_decides import FanResult, by_fan
from airbough_service.edge.sizing.judging import broken_rules, chosen_kits, chosen_options, document, sized
from airbough_service.edge.sizing.options import Options
from airbough_service.edge.sizing.problem import Maker, Problem, Rules, TooManySetsError
from airbough_service.edge.sizing.remedies import Search
from airbough_service.edge.sizing.states import State, states
from airbough_service.edge.sizing.stock import Shelf

WORK: Final = 200_000_000  # labels made and compared; about two seconds


def answer(request: SizingRequest) -> SizingAnswer:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of the tree, else of stock, states, rules and fan, each with its path.
    """
    shop, shelf, fixed = prepared(request)
    all_states = states(request, shop)
    maker = Maker(request, shop, all_states, Options(request, shop, all_states, fixed), duty(request, shop, all_states))
    rules = rules_of(request)
    try:
        if request.flows == "fan":
            return _by_fan(maker, shelf, rules)
        problem = maker.problem(shelf, rules)
    except TooManySetsError:
        detail = "so many bores may meet that their sets cannot be listed; stock fewer, or fix some runs"
        raise Refusal("not-computable", [Fault(path="stock.ducts", code="too-many-sets", detail=detail)]) from None
    outcome = solve(problem.sites, problem.aim, request.frontier_limit, WORK)
    if outcome.best is None:
        return _none(maker, shelf, rules, outcome)
    return _sized(maker, problem, rules, outcome)


def _bound(outcome: Outcome) -> SizingBound:
    return SizingBound(
        price=outcome.cost,
        fan_static_pressure=outcome.pressure,
        preferred_broken=outcome.broken,
        relaxation=outcome.relaxation,
    )


def _sized(maker: Maker, problem: Problem, rules: Rules, outcome: Outcome) -> SizingAnswer:
    """Answer with the bores for given flows, checked by the engine."""
    request, best = maker.request, outcome.best
    assert best is not None
    tree = sized(request, maker, problem, best)
    fan = maker.duty.fan is not None
    checks = engine.checked(tree, maker.states, design=True, fan=fan)
    broken = broken_rules(maker, problem, best, rules)
    options, kits = chosen_options(problem, best), chosen_kits(problem, best)
    flows = [state.flow for state in maker.states]
    runs = telling.runs(options, kits, flows, maker.states, maker.options.fixed)
    complete = all(piece.price is not None for run in runs for piece in run.pieces)
    first = checks[0].balance
    assert first is not None
    items = engine.findings(checks, maker.states, design=True)
    items += _short(maker, best.need) + _preferred(request, broken) + _unproved(request, outcome.exact, outcome.relaxation)
    items += [] if complete else [_unpriced(request)]
    return SizingAnswer(
        **_shared(request, build(tree), first.runs, first.hoods, items),
        outcome="sized",
        proof="exact" if outcome.exact else "gap",
        objective=request.objective,
        labels=outcome.labels,
        work=outcome.work,
        sizes=runs,
        states=telling.states(maker.states, best.need, maker.duty, checks),
        price=best.cost,
        price_complete=complete,
        currency=request.currency,
        fan_static_pressure=best.pressure,
        preferred_broken=best.broken,
        broken=broken,
        lower_bound=_bound(outcome),
        document=document(tree),
    )


def _none(maker: Maker, shelf: Shelf, rules: Rules, outcome: Outcome) -> SizingAnswer:
    """Answer that no bores keep every rule, and what would allow some."""
    request, search = maker.request, Search(maker, shelf, rules)
    remedies = search.remedies()
    message = "no choice of bores from the stock keeps every rule that it must"
    if not outcome.exact:
        message = "no choice of bores that keeps every rule was found; that there is none is not proved"
    item = finding(request.units, "no-size-fits", message, suggestion=Suggestion(text=_advice(request, search, remedies)))
    return SizingAnswer(
        **_shared(request, maker.shop, (), (), [item, *_unproved(request, outcome.exact, outcome.relaxation)]),
        outcome="no-solution",
        proof="exact" if outcome.exact else "gap",
        objective=request.objective,
        labels=outcome.labels,
        work=outcome.work,
        currency=request.currency,
        remedies=remedies,
        tried="; ".join(search.tried),
    )


def _advice(request: SizingRequest, search: Search, remedies: tuple[Any, ...]) -> str:
    """Return the remedies as a sentence."""
    ways = []
    for remedy in remedies:
        if remedy.drop:
            ways.append("drop " + " and ".join(remedy.drop))
        if remedy.add_diameters:
            ways.append("stock " + " and ".join(show(request.units, "diameter", size) for size in remedy.add_diameters))
        if remedy.add_pieces:
            ways.append(f"stock {len(remedy.add_pieces)} more kinds of fittings or gates")
    return "; or ".join(ways) if ways else "tried in vain: " + "; ".join(search.tried)


def _by_fan(maker: Maker, shelf: Shelf, rules: Rules) -> SizingAnswer:
    """Answer with the bores for what the fan moves."""
    request = maker.request
    result = by_fan(maker, shelf, rules)
    shared = {
        "proof": "gap",
        "objective": request.objective,
        "labels": result.labels,
        "work": result.tried,
        "currency": request.currency,
        "lower_bound": result.bound,
        "remedies": result.remedies,
    }
    if result.best is None or not result.best.holds:
        message = "no choice of bores that keeps every rule was found; that there is none is not proved"
        how = f"{result.tried} choices were solved with the fan; no bores or pieces were added to the stock"
        item = finding(request.units, "no-size-fits", message, suggestion=Suggestion(text=how))
        found = [item, *_unproved(request, False, result.bound.relaxation)]
        return SizingAnswer(**_shared(request, maker.shop, (), (), found), **shared, outcome="no-solution", tried=how)
    return _fan_sized(maker, rules, result, shared)


def _fan_sized(maker: Maker, rules: Rules, result: FanResult, shared: dict[str, Any]) -> SizingAnswer:
    request, best = maker.request, result.best
    assert best is not None
    tree = sized(request, maker, best.problem, best.chosen)
    checks = engine.checked(tree, maker.states, design=False, fan=True)
    solved = [check.solved for check in checks]
    flows = [np.zeros(len(tree.runs)) if one is None else one.operating.flow[one.shop.tree.place[: len(tree.runs)]]
             for one in solved]  # fmt: skip
    options, kits = chosen_options(best.problem, best.chosen), chosen_kits(best.problem, best.chosen)
    runs = telling.runs(options, kits, flows, maker.states, maker.options.fixed)
    complete = all(piece.price is not None for run in runs for piece in run.pieces)
    broken = best.broken(rules)
    items = engine.findings(checks, maker.states, design=False)
    items += _preferred(request, broken) + _unproved(request, False, result.bound.relaxation)
    items += [] if complete else [_unpriced(request)]
    first = solved[0]
    at_fan = moved_duty(maker, flows)
    return SizingAnswer(
        **_shared(request, build(tree), () if first is None else first.runs, () if first is None else first.hoods, items),
        **shared,
        outcome="sized",
        sizes=runs,
        states=telling.states(maker.states, best.pressures, at_fan, checks),
        price=best.chosen.cost,
        price_complete=complete,
        fan_static_pressure=float(best.pressures.max()),
        preferred_broken=best.prefer_broken,
        broken=broken,
        document=document(tree),
    )


def moved_duty(maker: Maker, flows: list[Any]) -> Any:
    """Return the duty with the flows that the fan moves."""
    roots = list(maker.shop.shape.roots)
    given = maker.request.limits.pressure_available
    available = None if given is None else np.full(len(flows), float(given))
    return replace(maker.duty, flow=np.array([float(flow[roots].sum()) for flow in flows]), available=available)


def _shared(
    request: SizingRequest, shop: Shop, runs: tuple[RunTold, ...], hoods: tuple[HoodTold, ...], items: list[Finding]
) -> dict[str, Any]:
    """Return what every tree answer carries."""
    words = ("nonconductive-duct",) if any(item.code == "nonconductive-duct" for item in items) else ()
    return {
        "engine": told.engine(request),
        "units": {},
        "preset": request.units,
        "air": shop.air,
        "name": request.name,
        "runs": runs,
        "hoods": hoods,
        "findings": ordered(items),
        "sources": sources.told((passport.source, passport.how) for passport in told.used(shop)),
        "cautions": told.cautions(shop, words),
    }


def _short(maker: Maker, need: Any) -> list[Finding]:
    """Return a finding for each state in which the fan has less than is needed."""
    known, preset = maker.duty.of_fan, maker.request.units
    if known is None:
        return []
    out = []
    for state, needed, there in zip(maker.states, need, known, strict=True):
        if np.isnan(there) or needed <= there * (1.0 + judging.HOLDS):
            continue
        message = (
            f"at the design flow of {state.name} the sized tree needs {show(preset, 'pressure', float(needed))}; "
            f"the fan has {show(preset, 'pressure', float(there))}"
        )
        out.append(
            finding(
                preset, "fan-falls-short", message, at="collector.fan", state=state.name,
                quantity="fan_static_pressure", kind="pressure", value=float(needed), maximum=float(there),
                suggestion=Suggestion(text="make pressure_available a rule, or choose another fan"),
            )
        )  # fmt: skip
    return out


def _preferred(request: SizingRequest, broken: tuple[BrokenRule, ...]) -> list[Finding]:
    """Return a finding for each preferred rule that does not hold everywhere."""
    out = []
    for rule in dict.fromkeys(item.rule for item in broken):
        places = [item for item in broken if item.rule == rule]
        first = places[0]
        where = " in ".join(part for part in (first.run, first.state) if part)
        message = f"{rule.replace('_', ' ')} does not hold at {len(places)} places, first {where}"
        count = float(len(places))
        item = finding(
            request.units, "preferred-rule-broken", message, at=f"rules.{rule}", quantity="places", value=count, maximum=0.0
        )
        out.append(item)
    return out


def _unproved(request: SizingRequest, exact: bool, relaxation: str) -> list[Finding]:
    """Return the note that the choice may not be the best."""
    if exact:
        return []
    message = f"these bores may not be the best; the bound comes from {relaxation}"
    advice = Suggestion(text="raise frontier_limit, make more rules must, fix some runs, or stock fewer bores")
    return [finding(request.units, "sizing-not-proved", message, suggestion=advice)]


def _unpriced(request: SizingRequest) -> Finding:
    message = "fixed runs keep pieces that are not in the stock; the price is without them"
    return finding(request.units, "piece-not-priced", message, at="fixed")
