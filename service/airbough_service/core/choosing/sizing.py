"""Sizing: the best bores of a tree for given flows, by labels kept from the hoods to the fan.

For each run and bore the frontier of (pressure needed in each state, cost, preferred rules broken) is kept: a label
that another beats in all of them cannot be part of a better choice, as everything downstream grows with each. A rule
on the difference of pressures of runs that meet undoes that for pressure, so upstream of a junction under that rule
only labels of equal pressures compare.

Pressures in Pa, total, positive for suction needed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.choosing.bounds import (
    Bounds,
    bounds_of,
)
from airbough_service.core.choosing.merging import (
    DONE,
    FULL,
    OFF,
    PAUSED,
    Budget,
    Labels,
    Room,
    Rules,
    merge,
)
from airbough_service.core.choosing.sites import Site, counted, first_groups

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Objective: TypeAlias = Literal["cost", "fan-pressure"]

FIRST_BEAM = 20  # labels kept in the quick pass that finds a choice to measure others against
LEAST_BEAM = 2  # labels kept where work is short
PASSES = ((1, 256), (LEAST_BEAM, 16), (FIRST_BEAM, 1))
"""Quick passes one after another: labels kept, and the part of the work allowed that the search after it may take."""
LAST_BEAM = 60  # in the pass whose answer is told where the frontier is too wide
AT_ONCE = 4_000_000  # labels made between two looks at the clock
SHARE_OF_WORK = 16  # a bound's part of the work allowed, as there are two for every state
FEW_STATES = 20  # of more all bounds together take no more
MOST_CELLS = 24_000_000  # labels of one pass times their columns: the memory for them, 0.2 GB
FIRST_ROOM = 1024  # labels that there is room for at first
LEAST_ROOM, ROOM = 4096, 4  # labels of one run and bore before they are compacted: at least, and times those kept
HEAVY = 8  # a label of so many states times arms costs twice the least
TIE = 1.0e-9  # share within which costs, or pressures, are the same


@dataclass(frozen=True, slots=True)
class Aim:
    """What is sought.

    Attributes:
        objective: what is least; ties go by the other.
        ceiling: shape (states,), pressure that may not be passed at the fan, Pa.
        wanted: shape (rules, states), pressure that had better not be passed, Pa.
        meet: whether runs that meet MUST or had BETTER need the same pressure, as of ``merging``; OFF: neither.
        tolerance: share of the governing pressure for that.
        weights: shape (1 + rules,), what a broken place weighs, of `meet` and of each of `wanted`; None for 1 each.
        most: shape (rules,), how often a place of each of `wanted` counts at most, once a step begun; None: once.
    """

    objective: Objective
    ceiling: Floats
    wanted: Floats
    meet: int = OFF
    tolerance: float = 0.0
    weights: Floats | None = None
    most: Floats | None = None

    @property
    def counting(self) -> Floats:
        """How often a place counts at most, of every rule in `wanted`."""
        return np.ones(len(self.wanted)) if self.most is None else self.most

    @property
    def weighing(self) -> Floats:
        """The weights, of every rule."""
        return np.ones(1 + len(self.wanted)) if self.weights is None else self.weights


@dataclass(frozen=True, slots=True)
class Chosen:
    """A choice for the whole tree: by site the number of its bore and the row of its junction."""

    choice: tuple[int, ...]
    row: tuple[int, ...]
    need: Floats
    cost: float
    broken: int

    @property
    def pressure(self) -> float:
        """The greatest pressure needed in any state, Pa."""
        return float(self.need.max())

    def key(self, objective: Objective) -> tuple[int, float, float]:
        """Return broken rules, the objective, and the other."""
        pair = (self.cost, self.pressure)
        return (self.broken, *(pair if objective == "cost" else pair[::-1]))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the search found.

    Attributes:
        best: None where there is no choice (or, without `exact`, none was found).
        exact: whether that is proved.
        labels: kept over all runs and bores.
        work: labels made and compared.
        cost, pressure, broken: bounds that the best choice does not go below.
        relaxation: what was left out to reckon them.
    """

    best: Chosen | None
    exact: bool
    labels: int
    work: int
    cost: float
    pressure: float
    broken: int
    relaxation: str


def solve(
    sites: Sequence[Site], aim: Aim, most: int, work: int, *, any_will_do: bool = False, bounding: bool = True
) -> Outcome:
    """Return the best choice.

    Args:
        sites: arms before the runs that they flow into; the last is the inlet.
        aim: what is sought.
        most: labels kept for a run and bore before the proof is given up.
        work: labels made and compared before that.
        any_will_do: whether to stop at the first choice found.
        bounding: whether to look for better bounds where there is no proof; `bounded` does so later.
    """
    bounds = bounds_of(sites)
    strict, missed = _strict(aim, bounds.inlet)
    if strict is None:
        return _searched(sites, aim, bounds, most, work, any_will_do=any_will_do, bounding=bounding)
    kept = _searched(sites, strict, bounds, most, work, any_will_do=any_will_do, bounding=False)
    if kept.best is not None and kept.best.broken < bounds.inlet[-1] + missed:
        return kept if kept.exact or not bounding else bounded(sites, aim, kept, most, work)
    found = _searched(sites, aim, bounds, most, work, kept.best, any_will_do=any_will_do, bounding=bounding)
    return replace(found, best=_better(kept.best, found.best, aim.objective), work=kept.work + found.work)


def _strict(aim: Aim, inlet: Floats) -> tuple[Aim | None, float]:
    """Return the same with the pressures wanted as ones that may not be passed, and what every other choice counts.

    What a ceiling cannot keep is left out from the hoods on, what is only wanted is looked at once it is at the fan.
    A pressure that no choice keeps is no ceiling; None where there is none else.

    Args:
        aim: what is sought.
        inlet: the least of all at the fan.
    """
    weights, need = aim.weighing[1:], inlet[: aim.ceiling.size]
    hopeless = aim.wanted < need
    wanted = np.where(hopeless, math.inf, aim.wanted)
    judged = np.isfinite(wanted)
    if not judged.any():
        return None, 0.0
    over = np.divide(need, aim.wanted, out=np.full_like(aim.wanted, math.inf), where=hopeless & (aim.wanted > 0.0))
    least = weights[:, None] * np.minimum(counted(over - 1.0), aim.counting[:, None])
    missed = float(least[hopeless].sum() + weights[judged.any(axis=1)].min())
    return replace(aim, ceiling=np.minimum(aim.ceiling, wanted.min(axis=0))), missed


def _searched(
    sites: Sequence[Site], aim: Aim, bounds: Bounds, most: int, work: int, known: Chosen | None = None, *,
    any_will_do: bool, bounding: bool,
) -> Outcome:  # fmt: skip
    """Return the best choice, by one search; `known` is one to measure others against."""
    states, inlet = aim.ceiling.size, bounds.inlet
    if not np.isfinite(inlet).all() or (inlet[:states] > aim.ceiling).any():
        return _loose(inlet, None, True)
    for beam, share in PASSES:
        quick = _quick(sites, aim, bounds, beam, work, spread=beam == FIRST_BEAM)
        known = _better(known, _pick(quick, sites, aim), aim.objective)
        if any_will_do and known is not None:
            return _loose(inlet, known, False, quick)
        full = _sweep(sites, aim, bounds, known, most, work // share, thin=False)
        if full.ended == DONE:
            best = _pick(full, sites, aim)
            if best is None:
                return _loose(inlet, None, True, full)
            return Outcome(best, True, full.labels, full.work, best.cost, best.pressure, best.broken, "none")
    wide = _sweep(sites, aim, bounds, known, LAST_BEAM, work, thin=True)
    best = _better(known, _pick(wide, sites, aim), aim.objective)
    loose = replace(_loose(inlet, best, False, wide), work=full.work + wide.work)
    return bounded(sites, aim, loose, most, work) if bounding else loose


def bounded(sites: Sequence[Site], aim: Aim, loose: Outcome, most: int, work: int) -> Outcome:
    """Return what was found without proof, with better bounds; arguments as of `solve`.

    Where what was found keeps the pressures wanted, whatever is better keeps them too.
    """
    inlet = bounds_of(sites).inlet
    strict, missed = _strict(aim, inlet)
    decided = strict is not None and loose.best is not None and loose.best.broken < inlet[-1] + missed
    cost, pressure, how = _relaxed(sites, strict if strict is not None and decided else aim, most, work)
    return replace(
        loose,
        cost=max(loose.cost, cost),
        pressure=max(loose.pressure, pressure),
        relaxation=how or loose.relaxation,
    )


def _quick(sites: Sequence[Site], aim: Aim, bounds: Bounds, most: int, work: int, *, spread: bool) -> _Swept:
    """Make few labels: with `spread` an even spread of the frontier; where that is too much work the first in order."""
    if spread:
        swept = _sweep(sites, aim, bounds, None, most, work // SHARE_OF_WORK, thin=True)
        if swept.ended == DONE:
            return swept
    while True:
        swept = _sweep(sites, aim, bounds, None, most, work, thin=True, leading=True)
        if swept.ended == DONE or most <= LEAST_BEAM:
            return swept
        most //= 2


def _loose(inlet: Floats, best: Chosen | None, exact: bool, swept: _Swept | None = None) -> Outcome:
    """Return an outcome whose bounds are those of each run for itself."""
    known = np.where(np.isfinite(inlet), inlet, 0.0)
    return Outcome(
        best=best,
        exact=exact,
        labels=0 if swept is None else swept.labels,
        work=0 if swept is None else swept.work,
        cost=float(known[-2]),
        pressure=float(known[:-2].max()),
        broken=int(known[-1]),
        relaxation="each run's cheapest and easiest bores alone",
    )


@dataclass(slots=True)
class _Swept:
    """Labels of one pass: `begin` and `end` by group; source rows are (junction's row, the arms' labels)."""

    values: Floats
    source: Integers
    begin: Integers
    end: Integers
    used: Integers
    ended: int = DONE
    work: int = 0

    @property
    def labels(self) -> int:
        """How many labels there are."""
        return int(self.used[0])

    def grow(self) -> None:
        """Make room for twice as many labels."""
        self.values = np.concatenate([self.values, np.empty_like(self.values)])
        self.source = np.concatenate([self.source, self.source])


def _sweep(
    sites: Sequence[Site],
    aim: Aim,
    bounds: Bounds,
    known: Chosen | None,
    most: int,
    work: int,
    *,
    thin: bool,
    leading: bool = False,
) -> _Swept:
    """Make the labels of every run and bore from the hoods to the inlet."""
    states, groups = aim.ceiling.size, len(bounds.usable)
    widest = max((len(site.arms) for site in sites), default=0)
    swept = _Swept(
        values=np.empty((FIRST_ROOM, states + 2)),
        source=np.zeros((FIRST_ROOM, widest + 1), np.int64),
        begin=np.zeros(groups, np.int64),
        end=np.zeros(groups, np.int64),
        used=np.zeros(1, np.int64),
    )
    rules = _rules(aim, known, bounds)
    two_sided = _two_sided(sites, aim)
    found = np.empty((max(ROOM * most, LEAST_ROOM), states + 2))
    sources = [np.empty((len(found), arms + 1), np.int64) for arms in range(widest + 1)]
    for number, site in enumerate(bounds.packed):
        arms = site.groups.shape[1]
        if number == len(sites) - 1:
            rules = rules._replace(wanted=aim.wanted)
        heavy = 1 + states * arms // HEAVY
        room = Room(found, sources[arms], np.zeros(arms, np.int64), np.zeros(5, np.int64))
        swept.ended = PAUSED
        while swept.ended in (PAUSED, FULL):
            deadline.check()
            if swept.ended == FULL:
                swept.grow()
            budget = Budget(
                two_sided[number], most, thin, work - swept.work, heavy, AT_ONCE // heavy, MOST_CELLS // (states + 2),
                leading,
            )  # fmt: skip
            labels = Labels(swept.values, swept.source, swept.begin, swept.end, swept.used)
            swept.ended, done = merge(labels, site, rules, budget, room)
            swept.work += done
        if swept.ended != DONE:
            break
    return swept


def _rules(aim: Aim, known: Chosen | None, bounds: Bounds) -> Rules:
    """Return what labels are judged by; the pressures that had better not be passed are only looked at at the fan."""
    return Rules(
        ceiling=aim.ceiling,
        wanted=np.full((1, aim.ceiling.size), math.inf),
        tolerance=float(aim.tolerance),
        meet=aim.meet,
        weights=aim.weighing,
        most=aim.counting,
        best=_best(aim, known),
        rest=bounds.rest,
        usable=bounds.usable,
    )


def _best(aim: Aim, known: Chosen | None) -> Floats:
    """Return what a label is measured against."""
    if known is None:
        return np.array([math.inf, math.inf, 0.0])
    broken, objective, _ = known.key(aim.objective)
    return np.array([broken, objective, 0.0 if aim.objective == "cost" else -1.0])


def _two_sided(sites: Sequence[Site], aim: Aim) -> list[bool]:
    """Return, by site, whether a junction under the rule on runs that meet lies downstream."""
    out = [False] * len(sites)
    if aim.meet == OFF:
        return out
    for number in range(len(sites) - 1, -1, -1):
        for arm in sites[number].arms:
            out[arm] = out[number] or len(sites[number].arms) > 1
    return out


def _pick(swept: _Swept, sites: Sequence[Site], aim: Aim) -> Chosen | None:
    """Return the best label at the inlet, traced back."""
    first, last = int(swept.begin[-1]), int(swept.end[-1])
    if swept.ended != DONE or first == last:
        return None
    states = aim.ceiling.size
    here = swept.values[first:last]
    pair = (here[:, states], here[:, :states].max(axis=1))
    main, other = pair if aim.objective == "cost" else pair[::-1]
    left = np.flatnonzero(here[:, states + 1] == here[:, states + 1].min())
    least = main[left].min()
    left = left[main[left] <= least + TIE * (1.0 + abs(least))]
    return traced(swept, sites, first + int(left[np.argmin(other[left])]), states)


def traced(swept: _Swept, sites: Sequence[Site], label: int, states: int) -> Chosen:
    """Return the choice that a label at the inlet stands for."""
    firsts = first_groups(sites)
    choice, row = [0] * len(sites), [0] * len(sites)
    left = [(len(sites) - 1, label)]
    while left:
        number, at = left.pop()
        group_of = int(np.searchsorted(swept.end, at, side="right"))
        choice[number], row[number] = group_of - firsts[number], int(swept.source[at, 0])
        left += [(arm, int(swept.source[at, 1 + k])) for k, arm in enumerate(sites[number].arms)]
    values = swept.values[label]
    return Chosen(tuple(choice), tuple(row), values[:states].copy(), float(values[states]), int(values[states + 1]))


def _better(one: Chosen | None, two: Chosen | None, objective: Objective) -> Chosen | None:
    known = [chosen for chosen in (one, two) if chosen is not None]
    return min(known, key=lambda chosen: chosen.key(objective), default=None)


def _relaxed(sites: Sequence[Site], aim: Aim, most: int, work: int) -> tuple[float, float, str]:
    """Return bounds on cost and pressure by keeping one state at a time and no preferred rule."""
    cost = pressure = 0.0
    solved, share = 0, int(work / (SHARE_OF_WORK * max(1.0, aim.ceiling.size / FEW_STATES)))
    for state in range(aim.ceiling.size):
        part = [_one_state(site, state) for site in sites]
        ceiling, bounds = aim.ceiling[state : state + 1], bounds_of(part)
        for objective in ("cost", "fan-pressure"):
            only = Aim(objective, ceiling, np.full((1, 1), math.inf))
            quick = _pick(_sweep(part, only, bounds, None, FIRST_BEAM, share, thin=True), part, only)
            swept = _sweep(part, only, bounds, quick, most, share, thin=False)
            best = _pick(swept, part, only)
            if best is not None:
                solved += 1
                cost = max(cost, best.cost if objective == "cost" else 0.0)
                pressure = max(pressure, best.pressure if objective == "fan-pressure" else 0.0)
    how = "one state at a time, without preferred rules and without that on runs that meet"
    return cost, pressure, how if solved else ""


def _one_state(site: Site, state: int) -> Site:
    """Return a site with one state alone and no preferred rule."""
    one = slice(state, state + 1)
    return replace(
        site,
        own=np.ascontiguousarray(site.own[:, one]),
        broken=np.zeros_like(site.broken),
        join=np.ascontiguousarray(site.join[:, :, one]),
        meeting=np.ascontiguousarray(site.meeting[:, :, one]),
        row_broken=np.zeros_like(site.row_broken),
    )


def frontier_choices(sites: Sequence[Site], aim: Aim, most: int, work: int) -> list[Chosen]:
    """Return an even spread of the choices that no other beats, at most about `most`, cheapest first."""
    bounds = bounds_of(sites)
    states = aim.ceiling.size
    if not np.isfinite(bounds.inlet).all():
        return []
    most = min(most, _affordable(sites, work))
    swept = _sweep(sites, aim, bounds, None, most, work, thin=True)
    while swept.ended != DONE and most > 3:
        most //= 2
        swept = _sweep(sites, aim, bounds, None, most, work, thin=True)
    if swept.ended != DONE:
        swept = _quick(sites, aim, bounds, FIRST_BEAM, work, spread=True)
    if swept.ended != DONE:
        return []
    labels = range(int(swept.begin[-1]), int(swept.end[-1]))
    return sorted((traced(swept, sites, label, states) for label in labels), key=lambda chosen: chosen.cost)


def _affordable(sites: Sequence[Site], work: int) -> int:
    """Return how many labels of each run and bore may be kept to make all sets of them with about `work`."""
    states = sites[-1].own.shape[1]
    most, allowed = FIRST_ROOM, 4.0 * work  # a part of them is no choice, or behind another
    while most > 3:
        made = sum(
            len(site.sets) * float(most) ** len(site.arms) * (1 + states * len(site.arms) // HEAVY) for site in sites
        )
        if made <= allowed:
            break
        most //= 2
    return most


def needs(sites: Sequence[Site], chosen: Chosen) -> Floats:
    """Return what each site needs at its end in each state, Pa, shape (sites, states)."""
    out = np.zeros((len(sites), chosen.need.size))
    for number, site in enumerate(sites):
        choice = chosen.choice[number]
        above = out[list(site.arms)] + site.join[site.row(choice, chosen.row[number])]
        deepest = above.max(axis=0, initial=-math.inf)
        out[number] = site.own[choice] + np.where(np.isfinite(deepest), deepest, 0.0)
    return out


def apart(sites: Sequence[Site], chosen: Chosen, number: int, need: Floats) -> Floats:
    """Return, by state, the share of the governing pressure by which runs that meet at a site differ."""
    site = sites[number]
    row = site.row(chosen.choice[number], chosen.row[number])
    flowing = np.isfinite(site.join[row])
    compared = need[list(site.arms)] + site.meeting[row]
    deepest = np.where(flowing, compared, -math.inf).max(axis=0, initial=-math.inf)
    shallowest = np.where(flowing, compared, math.inf).min(axis=0, initial=math.inf)
    several = flowing.sum(axis=0) > 1
    return np.where(several, (deepest - shallowest) / np.where(several, np.abs(deepest), 1.0), 0.0)
