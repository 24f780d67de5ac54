"""Where the rules do not hold in a chosen tree, and the tree as a document."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import msgspec
import numpy as np
from msgspec import structs

from airbough.reading.converters import (
    Convert,
    Converters,
)
from airbough.wire.sizing import (
    BrokenRule,
    SizingRequest,
)
from airbough.wire.tree import (
    Run,
    Straight,
    Tree,
)
from airbough_service.core.choosing.merging import most_apart
from airbough_service.core.choosing.sizing import (
    Chosen,
    apart,
    needs,
)
from airbough_service.questions.sizing.joints import Kit
from airbough_service.questions.sizing.options import Option, limits_of
from airbough_service.questions.sizing.problem import (
    Maker,
    Problem,
    narrows,
)
from airbough_service.questions.sizing.resized import ended, free_id, without_length
from airbough_service.questions.sizing.rules import Rules
from airbough_service.shop.junction_laws import charges_change
from airbough_service.solving.tree_answer import fastest, velocity
from airbough_service.terms import units


class Place(NamedTuple):
    """Where a rule does not hold, and the share of its limit by which it is missed; None where none is to be told."""

    rule: str
    run: str | None
    state: str | None
    share: float | None


def chosen_options(problem: Problem, chosen: Chosen) -> list[Option]:
    """Return the bore of each site but the inlet."""
    return [options[number] for options, number in zip(problem.options, chosen.choice[:-1], strict=True)]


def chosen_kits(problem: Problem, chosen: Chosen) -> list[Kit]:
    """Return the junction's pieces of each site but the inlet."""
    own = zip(problem.kits, problem.sites[:-1], chosen.choice[:-1], chosen.row[:-1], strict=True)
    return [kits[site.row(choice, row)] for kits, site, choice, row in own]


def broken_rules(maker: Maker, problem: Problem, chosen: Chosen, rules: Rules) -> tuple[BrokenRule, ...]:
    """Return every place where a rule does not hold, for given flows."""
    options = entering(maker, problem, chosen)
    places = [
        *_velocities(maker, (*options, *gained(maker, problem, chosen).values())),
        *narrowings(maker, problem, chosen),
        *_meetings(maker, problem, chosen),
        *_pressures(maker, chosen),
    ]
    return weighed(places, rules)


def weighed(places: Iterable[Place], rules: Rules) -> tuple[BrokenRule, ...]:
    """Return the places of the rules that are judged, with their weight."""
    return tuple(
        BrokenRule(rule=place.rule, weight=weight, share=place.share, run=place.run, state=place.state)
        for place in places
        if (weight := rules.weight_of(place.rule)) is not None
    )


def gained(maker: Maker, problem: Problem, chosen: Chosen) -> dict[int, Option]:
    """Return the runs of no length that wyes of another size make, by number of the run that they flow into."""
    pairs = zip(chosen_options(problem, chosen), chosen_kits(problem, chosen), strict=True)
    found = sorted((option.run.index, option, kit.between) for option, kit in pairs if kit.between is not None)
    known, out = {run.id for run in maker.request.runs}, {}
    for index, into, between in found:
        wye = maker.options.between(into, between.bore)
        name = free_id(into.run.id, known)
        known.add(name)
        length = between.change.fitting_length if charges_change(maker.request.model, alone=True) else None
        run = structs.replace(wye.run, run=without_length(into.run.run, name, between.bore, length))
        out[index] = structs.replace(wye, run=run)
    return out


def entering(maker: Maker, problem: Problem, chosen: Chosen) -> list[Option]:
    """Return the bore of each site but the inlet as it stands in the tree: before some wyes runs change size."""
    out = chosen_options(problem, chosen)
    for site, kit in zip(problem.sites, chosen_kits(problem, chosen), strict=False):
        for arm, bore, length in kit.reduced:
            changed = maker.options.reduced(out[site.arms[arm]], bore, length)
            assert changed is not None
            out[site.arms[arm]] = changed
    return out


def _velocities(maker: Maker, options: Iterable[Option]) -> Iterator[Place]:
    for option in options:
        for number, state in enumerate(maker.states):
            index = option.run.index
            low, high = limits_of(maker.request, state, index, float(state.flow[index]))
            if option.slow[number] and low is not None:
                share = 1.0 - velocity(option.run, float(state.design[index])) / low
                yield Place("transport_velocity", option.run.id, state.name, share)
            if option.fast[number] and high is not None:
                share = fastest(option.run, float(state.flow[index])) / high - 1.0
                yield Place("upper_velocity", option.run.id, state.name, share)


def narrowings(maker: Maker, problem: Problem, chosen: Chosen) -> Iterator[Place]:
    """Give the runs that flow into a narrower one."""
    by_run = dict(zip(problem.order, chosen_options(problem, chosen), strict=True))
    wyes = gained(maker, problem, chosen)
    pairs = [(by_run[index], parent) for index in by_run if (parent := maker.shop.shape.parents[index]) >= 0]
    for arm, into in [(arm, wyes.get(parent, by_run[parent])) for arm, parent in pairs]:
        if narrows(arm, into):
            yield Place("no_narrowing", arm.run.id, None, 1.0 - into.run.start / arm.run.end)
    for parent, wye in wyes.items():
        if narrows(wye, by_run[parent]):
            yield Place("no_narrowing", wye.run.id, None, 1.0 - by_run[parent].run.start / wye.run.end)


def _meetings(maker: Maker, problem: Problem, chosen: Chosen) -> Iterator[Place]:
    tolerance = maker.request.limits.meeting_tolerance
    if tolerance is None:
        return
    need = needs(problem.sites, chosen)
    names: list[str | None] = [maker.shop.runs[index].id for index in problem.order]
    for number, name in enumerate([*names, None]):  # None: at the collector's inlet
        shares = apart(problem.sites, chosen, number, need)
        for share, state in zip(shares, maker.states, strict=True):
            if share > most_apart(tolerance):
                yield Place("meeting_without_gates", name, state.name, float(share) - tolerance)


def _pressures(maker: Maker, chosen: Chosen) -> Iterator[Place]:
    for rule in ("pressure_available", "design_flow"):
        for need, limit, state in zip(chosen.need, maker.duty.limit(rule), maker.states, strict=True):
            if need > limit:
                missed = float(need / limit) - 1.0 if np.isfinite(limit) and limit > 0.0 else None
                yield Place(rule, None, state.name, missed)


def sized(request: SizingRequest, maker: Maker, problem: Problem, chosen: Chosen) -> Tree:
    """Return the tree with its bores filled in, tapers placed, and behind its runs those that it gained, in SI."""
    runs: list[Run] = list(request.runs)
    for option in chosen_options(problem, chosen):
        runs[option.run.index] = option.run.run
    wyes = gained(maker, problem, chosen)
    ends = {option.run.index: option.run.end for option in chosen_options(problem, chosen)}
    for index, kit in zip(problem.order, chosen_kits(problem, chosen), strict=True):
        arms = maker.shop.shape.children[index]
        if {index, *arms} <= maker.options.fixed:
            continue
        length = kit.length if charges_change(request.model, alone=len(arms) == 1) else None
        for number, arm in enumerate(arms):
            runs[arm] = _joined(runs[arm], length, changed=kit.changed == number)
        for arm, bore, of_taper in kit.reduced:
            runs[arms[arm]] = ended(runs[arms[arm]], ends[arms[arm]], bore, of_taper)
        if index in wyes:
            for arm in arms:
                runs[arm] = structs.replace(runs[arm], into=wyes[index].run.id)
    runs += [wye.run.run for wye in wyes.values()]
    fields = {name: getattr(request, name) for name in Tree.__struct_fields__}
    return Tree(**fields | {"runs": tuple(runs), "resolved": False})


def stands_for(request: SizingRequest, tree: Tree) -> list[int]:
    """Return, by run of the sized tree, the run of the request whose air it carries: of a gained one what it feeds."""
    numbers = {run.id: index for index, run in enumerate(request.runs)}
    return [numbers[run.id] if index < len(numbers) else numbers[run.into or ""] for index, run in enumerate(tree.runs)]


def _joined(run: Run, length: float | None, *, changed: bool) -> Run:
    """Return a run with its change of size at the junction, where the law charges one."""
    if changed:
        straight = run.join if isinstance(run.join, Straight) else Straight()
        return structs.replace(run, join=structs.replace(straight, taper_length=length))
    if isinstance(run.join, Straight):
        return structs.replace(run, join=structs.replace(run.join, taper_length=None))
    return run


class _Writing(Converters):
    """Converters of a tree in SI into the preset that is their context, to the digits that a person writes."""

    def quantity(self, extra: Mapping[str, Any]) -> Convert:
        kind: str = extra["kind"]
        return lambda si, preset: float(f"{units.value(kind, si, preset):.12g}")


_writing = _Writing()


def document(tree: Tree) -> Any:
    """Return a tree in SI as plain data in its own preset; a fan that was guessed from figures is left to them."""
    if tree.collector is not None and tree.collector.known_by is not None:
        tree = structs.replace(tree, collector=structs.replace(tree.collector, fan=None))
    return msgspec.to_builtins(_writing.struct(tree, tree.units))
