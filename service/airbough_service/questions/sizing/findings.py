"""Sizing's own findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.fitting import KnownCoefficient
from airbough.wire.sizing import (
    BrokenRule,
    SizedRun,
    SizingRemedy,
    SizingRequest,
)
from airbough_service.core.limits import above, below
from airbough_service.questions.sizing.joints import Kit
from airbough_service.questions.sizing.options import Option
from airbough_service.questions.sizing.problem import Maker
from airbough_service.questions.sizing.rules import OF_FAN, Rules
from airbough_service.questions.sizing.stock import metres
from airbough_service.terms.finding import (
    finding,
    plain,
    show,
    show_apart,
)

Floats = NDArray[np.float64]


_JUDGED: Final = "make the fan's pressure a rule, or choose another fan"
_STRONGER: Final = "choose another fan, or stock wider diameters"


def short(maker: Maker, need: Floats, rules: Rules) -> list[Finding]:
    """Return a finding for each state in which the fan has less than is needed."""
    judged = rules.weight_of("design_flow") is not None
    known, preset = maker.duty.of_fan, maker.request.units
    if known is None:
        return []
    out = []
    for state, needed, there in zip(maker.states, need, known, strict=True):
        if np.isnan(there) or not above(needed, there):
            continue
        message = (
            f"at the design flow of {state.name} the sized tree needs {show(preset, 'pressure', float(needed))}; "
            f"the fan has {show(preset, 'pressure', float(there))}"
        )
        out.append(
            finding(
                preset, "fan-falls-short", message, at="collector.fan", state=state.name,
                quantity="fan_static_pressure", kind="pressure", value=float(needed), maximum=float(there),
                suggestion=Suggestion(text=_STRONGER if judged else _JUDGED),
            )
        )  # fmt: skip
    return out


def preferred(request: SizingRequest, broken: tuple[BrokenRule, ...]) -> list[Finding]:
    """Return a finding for each preferred rule that does not hold everywhere; one for rules that miss the same."""
    out = []
    for rules, places in _missed(broken):
        at = "at one place" if len(places) == 1 else f"at {len(places)} places"
        message = f"{_named(rules)} {'does' if len(rules) == 1 else 'do'} not hold {at}, most {_worst(places)}"
        count = float(len(places))
        item = finding(
            request.units,
            "preferred-rule-broken",
            message,
            at=f"rules.{rules[0]}",
            quantity="places",
            value=count,
            maximum=0.0,
        )
        out.append(item)
    return out


def _missed(broken: Sequence[BrokenRule]) -> list[tuple[list[str], list[BrokenRule]]]:
    """Return where each rule is missed; rules that are missed alike, as both on the fan's pressure may be, together."""
    out: dict[object, tuple[list[str], list[BrokenRule]]] = {}
    for rule in dict.fromkeys(item.rule for item in broken):
        places = [item for item in broken if item.rule == rule]
        alike = tuple((item.run, item.state, item.share) for item in places)
        key = alike if rule in OF_FAN else rule
        out.setdefault(key, ([], places))[0].append(rule)
    return list(out.values())


def _named(rules: Sequence[str]) -> str:
    return " and ".join(map(plain, sorted(rules)))


def _worst(places: Sequence[BrokenRule]) -> str:
    """Return the place that misses its limit by the greatest share, and that share, of pressure or of air where so."""
    worst = max(places, key=lambda place: place.share or 0.0)
    places_of = (worst.run and f"at {worst.run}", worst.state and f"in state {worst.state!r}")
    where = " ".join(part for part in places_of if part)
    if worst.share is None:
        return where
    of = ""
    if worst.rule in OF_FAN:
        of = " of the pressure that there is" if worst.run is None else " of its air"
    return f"{where}, by {100.0 * worst.share:.1f} %{of}"


def missed(remedies: Sequence[SizingRemedy]) -> str:
    """Return by how much the rules are missed that are to be dropped for some choice; nothing where none helps."""
    parts = [f"{_named(rules)} {_worst(places)}" for remedy in remedies for rules, places in _missed(remedy.broken)]
    return "; the others kept, the best miss " + ", or ".join(dict.fromkeys(parts)) if parts else ""


def unproved(request: SizingRequest, exact: bool, relaxation: str) -> list[Finding]:
    """Return the note that the choice may not be the best."""
    if exact:
        return []
    message = f"these diameters may not be the best; the bound comes from {relaxation}"
    advice = Suggestion(text="allow a longer search, let more rules be musts, fix some runs, or stock fewer diameters")
    return [finding(request.units, "sizing-not-proved", message, suggestion=advice)]


def too_narrow(maker: Maker, options: Sequence[Option]) -> list[Finding]:
    """Return a warning for each run sized below its machine's port or design flow, as nothing wider is stocked."""
    out, preset = [], maker.request.units
    for option in options:
        index, least = option.run.index, maker.options.least_bore(option.run.index)
        if index in maker.options.fixed or not below(option.bore, least):
            continue
        has, needs = show_apart(preset, "diameter", option.bore, least)
        out.append(
            finding(
                preset, "too-narrow-for-machine",
                f"{option.run.id} is sized {has}, the widest in which the stock has all its pieces; its machine asks "
                f"for at least {needs}, by its port or its design flow",
                at=f"runs[{index}].diameter", run=option.run.id,
                quantity="diameter", kind="diameter", value=option.bore, minimum=least,
                suggestion=Suggestion(text=f"stock duct, fittings and gates of {needs} or wider for this run"),
                source="caller",
            )
        )  # fmt: skip
    return out


def next_sizes(
    request: SizingRequest, options: Sequence[Option], kits: Sequence[Kit], gained: Mapping[int, Option]
) -> list[Finding]:
    """Return a note for each wye of the next size that is taken where the stock has none of the size."""
    out, preset = [], request.units
    for option, kit in zip(options, kits, strict=True):
        if not kit.worked_around:
            continue
        wye, *changes = kit.parts
        sizes = " x ".join(show(preset, "diameter", metres(bore, preset)) for bore in wye.kind.bores)
        count = len(changes) + (kit.between is not None)
        where = gained.get(option.run.index, option).run.id
        message = (
            f"the stock has no wye of the diameters that meet at {option.run.id}; the next size, {sizes}, is taken, "
            f"with {count} {'change' if count == 1 else 'changes'} of size"
        )
        out.append(finding(preset, "wye-of-next-size", message, at=wye.at, run=where))
    return out


def left_out(request: SizingRequest, options: Sequence[Option]) -> tuple[str, ...]:
    """Return what is bought for the tree and is in no sizing's price: a parts list has it."""
    runs = [option.run for option in options]
    known = any(isinstance(fitting, KnownCoefficient) for run in runs for fitting in run.run.fittings)
    there = {
        "port adapters": any(piece.part == "port" for run in runs for piece in run.pieces),
        "pieces known by a coefficient": known,
        "the pieces after the fan": request.collector is not None and bool(request.collector.discharge),
    }
    return tuple(what for what, is_there in there.items() if is_there)


def price_gaps(
    request: SizingRequest, runs: Sequence[SizedRun], without: Sequence[str], *, complete: bool
) -> list[Finding]:
    """Return the notes of what the price is without; `complete`: whether each piece of the runs has one."""
    found = [] if complete else [unpriced(request, runs)]
    if request.stock is None or not without:
        return found
    message = f"the price is of duct, fittings and gates, without {' and '.join(without)}, which a parts list has"
    advice = Suggestion(text="ask for the parts list of the document that this answers, or for a quote")
    return [*found, finding(request.units, "piece-not-priced", message, at="stock", suggestion=advice)]


def unpriced(request: SizingRequest, runs: Sequence[SizedRun]) -> Finding:
    """Return the note that some pieces have no price."""
    stock, listed = request.stock, [piece.at for run in runs for piece in run.pieces if piece.price is None]
    where = next((at for at in listed if at is not None), None)
    if stock is None:
        message, at = "without a stock nothing has a price; the diameters are the catalogue's nominal ones", "stock"
    elif where is not None:
        message, at = "the stock has pieces without a price; the price is without them", where
    elif not stock.fittings or not stock.gates:
        message, at = "the stock lists no fittings, or no gates; the price is without them", "stock"
    else:
        message, at = "fixed runs keep pieces that are not in the stock; the price is without them", "fixed"
    return finding(request.units, "piece-not-priced", message, at=at)
