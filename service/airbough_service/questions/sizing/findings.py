"""Sizing's own findings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.sizing import (
    BrokenRule,
    SizingRequest,
)
from airbough_service.questions.sizing.problem import Maker
from airbough_service.terms.finding import (
    HOLDS,
    finding,
    plain,
    show,
)

Floats = NDArray[np.float64]


def short(maker: Maker, need: Floats) -> list[Finding]:
    """Return a finding for each state in which the fan has less than is needed."""
    known, preset = maker.duty.of_fan, maker.request.units
    if known is None:
        return []
    out = []
    for state, needed, there in zip(maker.states, need, known, strict=True):
        if np.isnan(there) or needed <= there * (1.0 + HOLDS):
            continue
        message = (
            f"at the design flow of {state.name} the sized tree needs {show(preset, 'pressure', float(needed))}; "
            f"the fan has {show(preset, 'pressure', float(there))}"
        )
        out.append(
            finding(
                preset, "fan-falls-short", message, at="collector.fan", state=state.name,
                quantity="fan_static_pressure", kind="pressure", value=float(needed), maximum=float(there),
                suggestion=Suggestion(text="make the fan's pressure a rule, or choose another fan"),
            )
        )  # fmt: skip
    return out


def preferred(request: SizingRequest, broken: tuple[BrokenRule, ...]) -> list[Finding]:
    """Return a finding for each preferred rule that does not hold everywhere."""
    out = []
    for rule in dict.fromkeys(item.rule for item in broken):
        places = [item for item in broken if item.rule == rule]
        first = places[0]
        where = " in ".join(part for part in (first.run, first.state) if part)
        message = f"{plain(rule)} does not hold at {len(places)} places, first {where}"
        count = float(len(places))
        item = finding(
            request.units,
            "preferred-rule-broken",
            message,
            at=f"rules.{rule}",
            quantity="places",
            value=count,
            maximum=0.0,
        )
        out.append(item)
    return out


def unproved(request: SizingRequest, exact: bool, relaxation: str) -> list[Finding]:
    """Return the note that the choice may not be the best."""
    if exact:
        return []
    message = f"these diameters may not be the best; the bound comes from {relaxation}"
    advice = Suggestion(text="allow a longer search, let more rules be musts, fix some runs, or stock fewer diameters")
    return [finding(request.units, "sizing-not-proved", message, suggestion=advice)]


def unpriced(request: SizingRequest) -> Finding:
    """Return the note that some pieces have no price."""
    message = "fixed runs keep pieces that are not in the stock; the price is without them"
    return finding(request.units, "piece-not-priced", message, at="fixed")
