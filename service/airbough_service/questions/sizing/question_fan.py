"""Sizing answered where the fan decides what flows."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
from msgspec import structs

from airbough.wire.answer import Suggestion
from airbough.wire.sizing import SizingAnswer, SizingBound
from airbough_service.questions.sizing import (
    answer,
    engine,
)
from airbough_service.questions.sizing.broken_rules import (
    chosen_kits,
    chosen_options,
    document,
    entering,
    gained,
    sized,
)
from airbough_service.questions.sizing.duty import Duty
from airbough_service.questions.sizing.fan_decides import (
    FanResult,
    by_fan,
)
from airbough_service.questions.sizing.findings import (
    left_out,
    missed,
    next_sizes,
    preferred,
    price_gaps,
    too_narrow,
    unproved,
)
from airbough_service.questions.sizing.pairs import pairs
from airbough_service.questions.sizing.problem import (
    Maker,
)
from airbough_service.questions.sizing.remedies import advice
from airbough_service.questions.sizing.rules import Rules
from airbough_service.questions.sizing.shared import shared
from airbough_service.questions.sizing.stock import Shelf
from airbough_service.terms.finding import finding


def answer_by_fan(maker: Maker, shelf: Shelf, rules: Rules) -> SizingAnswer:
    """Answer with the bores for what the fan moves."""
    request = maker.request
    result = by_fan(maker, shelf, rules)
    common: dict[str, Any] = {
        "proof": "gap",
        "objective": request.objective,
        "labels": result.labels,
        "work": result.tried,
        "currency": answer.currency(request),
        "lower_bound": result.bound,
        "remedies": result.remedies,
    }
    if result.best is None or not result.best.holds:
        return _none(maker, result, common)
    return _fan_sized(maker, rules, result, common)


def _none(maker: Maker, result: FanResult, common: dict[str, Any]) -> SizingAnswer:
    """Answer that no choice was found, by how much it misses, and what would allow one."""
    request = maker.request
    if not result.tried:
        message = "from this stock the tree cannot be built in any diameters"
    elif not result.crossed:
        message = "in each choice that was solved the fan's curve ends before it meets the system in some state"
    else:
        message = "no choice of diameters that keeps every rule was found; that there is none is not proved"
    message += missed(result.remedies)
    how = f"{result.tried} choices were solved with the fan"
    tried = [how, *result.how]
    text = advice(request, result.remedies, tried)
    if result.tried and not result.crossed:
        text = "give the curve's points up to free delivery, or stock other diameters"
    item = finding(request.units, "no-size-fits", message, suggestion=Suggestion(text=text))
    told = shared(request, maker.shop, (), (), [item])
    return SizingAnswer(**told, **common, outcome="no-solution", tried="; ".join(tried))


def _fan_sized(maker: Maker, rules: Rules, result: FanResult, common: dict[str, Any]) -> SizingAnswer:
    request, best = maker.request, result.best
    assert best is not None
    tree = engine.ready(sized(request, maker, best.problem, best.chosen))
    checks = engine.checked(tree, maker.states, design=False, fan=True)
    solved = [check.solved for check in checks]
    flows = [np.zeros(len(tree.tree.runs)) if one is None else one.operating.flow[one.shop.end_rows]
             for one in solved]  # fmt: skip
    options, kits = chosen_options(best.problem, best.chosen), chosen_kits(best.problem, best.chosen)
    wyes = gained(maker, best.problem, best.chosen)
    as_built = entering(maker, best.problem, best.chosen)
    runs = answer.runs(as_built, kits, flows, maker.states, maker.options.fixed, request, wyes)
    price, complete = answer.total(options, kits, request)
    broken = best.broken(maker.states, rules)
    items = engine.findings(checks, maker.states, design=False)
    items += preferred(request, broken) + unproved(request, False, result.bound.relaxation)
    items += too_narrow(maker, options)
    without = left_out(request, options)
    items += next_sizes(request, options, kits, wyes) + price_gaps(request, runs, without, complete=complete)
    common["lower_bound"] = _priced(result.bound, price if complete else None)
    first = solved[0]
    at_fan = _moved(maker, flows)
    return SizingAnswer(
        **shared(request, tree.shop, () if first is None else first.runs, () if first is None else first.hoods, items),
        **common,
        outcome="sized",
        sizes=runs,
        states=answer.states(maker.states, best.pressures, at_fan, checks),
        price=None if request.stock is None else price,
        price_complete=complete and not without,
        fan_static_pressure=float(best.pressures.max()),
        preferred_broken=sum(item.weight != "must" for item in broken),
        broken=broken,
        pairs=pairs(request, maker.shop, tree),
        document=document(tree.tree),
    )


def _priced(bound: SizingBound, price: Decimal | None) -> SizingBound:
    """Return the bound of a choice at this price; without one where not all of it has a price."""
    least = None if price is None or bound.price is None else min(price, bound.price)
    return structs.replace(bound, price=least)


def _moved(maker: Maker, flows: list[Any]) -> Duty:
    """Return the duty with the flows that the fan moves."""
    roots = list(maker.shop.shape.roots)
    given = maker.request.limits.pressure_available
    available = None if given is None else np.full(len(flows), float(given))
    return replace(maker.duty, flow=np.array([float(flow[roots].sum()) for flow in flows]), available=available)
