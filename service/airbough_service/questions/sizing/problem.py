"""The request as sizing's core takes it: every bore of every run that the rules allow, and every way to join them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import prod
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import SizingRequest
from airbough_service.core import deadline
from airbough_service.core.choosing.sites import (
    Site,
    counted,
    steps,
)
from airbough_service.core.choosing.sizing import Aim
from airbough_service.core.limits import below
from airbough_service.questions.sizing.duty import Duty
from airbough_service.questions.sizing.kits import (
    Kits,
    Ways,
    joining,
    lengths_of,
)
from airbough_service.questions.sizing.meetings import Meetings, Sets
from airbough_service.questions.sizing.options import (
    Option,
    Options,
)
from airbough_service.questions.sizing.rules import CLEARED, Rules
from airbough_service.questions.sizing.site_rows import SiteRows, alone, together
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import (
    Shelf,
    nanometres,
)
from airbough_service.shop.packing import inlet_loss
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving import grades

Floats = NDArray[np.float64]
MOST_SETS: Final = 150_000  # sets of bores that may meet, over all junctions
MOST_IN_STATES: Final = 20 * MOST_SETS  # those sets times states that are named, for which there is memory and time
MOST_ALONE: Final = 4_000_000  # the same of states that nobody named, one for each machine: some 0.5 GB
MOST_OPTIONS: Final = 10_000  # bores of all runs together


@dataclass(frozen=True, slots=True)
class Problem:
    """Sites for the core, and what their numbers stand for.

    Attributes:
        order: run number of each site but the last, which is the inlet.
        options: by site, its bores.
        kits: by site and row, the pieces of the junction.
    """

    order: tuple[int, ...]
    options: tuple[tuple[Option, ...], ...]
    kits: tuple[Kits, ...]
    sites: tuple[Site, ...]
    aim: Aim


class TooManySetsError(Exception):
    """So many sets of bores may meet that they cannot be listed.

    Attributes:
        in_states: whether they could in fewer states.
    """

    def __init__(self, *, in_states: bool = False) -> None:
        super().__init__()
        self.in_states = in_states


@dataclass(slots=True)
class Maker:
    """Makes problems of one request under several rules and stocks; what does not depend on them is kept.

    Attributes:
        request: in SI.
        shop: the tree in any bores.
        states, options, duty: what the bores are chosen for, and from.
        meetings: the losses where runs meet.
        made: sets of bores listed so far.
        deepest: fan static pressure above which no choice is looked at, Pa.
    """

    request: SizingRequest
    shop: Shop
    states: tuple[State, ...]
    options: Options
    duty: Duty
    meetings: Meetings
    made: int = 0
    deepest: float = np.inf

    def guided(self, states: tuple[State, ...], options: Options, duty: Duty) -> Maker:
        """Return the maker for other flows; what does not depend on flows is shared."""
        meetings = replace(self.meetings, options=options)
        return replace(self, states=states, options=options, duty=duty, meetings=meetings, made=0)

    @property
    def most_sets(self) -> int:
        """How many sets of bores may meet, over all junctions, in so many states."""
        most = MOST_IN_STATES if self.request.states else MOST_ALONE
        return min(MOST_SETS, most // len(self.states))

    def _refuse(self, sets: int) -> None:
        """Refuse more sets of bores than can be listed.

        Raises:
            TooManySetsError: as it says.
        """
        if sets > self.most_sets:
            raise TooManySetsError(in_states=sets <= MOST_SETS)

    def every_run_has_one(self, shelf: Shelf, rules: Rules) -> bool:
        """Return whether each run for itself has a bore that the rules allow."""
        runs = range(len(self.shop.runs))
        return all(any(self._allowed(option, rules) for option in self.options.of(index, shelf)) for index in runs)

    def problem(self, shelf: Shelf, rules: Rules) -> Problem:
        """Return the problem under these rules.

        Raises:
            TooManySetsError: as it says.
        """
        order = self.shop.shape.order[::-1]
        place = {index: number for number, index in enumerate(order)}
        options: list[tuple[Option, ...]] = []
        all_kits: list[Kits] = []
        sites: list[Site] = []
        sets = 0
        if sum(len(shelf.sizes(run.run.duct)) for run in self.shop.runs) > MOST_OPTIONS:
            raise TooManySetsError
        for index in order:
            deadline.check()
            mine = tuple(option for option in self.options.of(index, shelf) if self._allowed(option, rules))
            arms = tuple(place[arm] for arm in self.shop.shape.children[index])
            site, kits = self._site(mine, arms, [options[arm] for arm in arms], shelf, rules)
            sets, self.made = sets + len(site.sets), self.made + len(site.sets)
            self._refuse(sets)
            options.append(mine)
            all_kits.append(kits)
            sites.append(site)
        roots = tuple([place[root] for root in self.shop.shape.roots])
        sites.append(self._inlet(roots, [options[root] for root in roots]))
        return Problem(tuple(order), tuple(options), tuple(all_kits), tuple(sites), self._aim(rules))

    def _aim(self, rules: Rules) -> Aim:
        meeting = "meeting_without_gates"
        ceilings = [self.duty.limit(rule) for rule in ("pressure_available", "design_flow") if rule in rules.must]
        weights, wishes = self.weights(rules), rules.prefer | rules.trade
        wished = [rule for rule in ("pressure_available", "design_flow") if rule in wishes]
        wanted = [self.duty.limit(rule) for rule in wished]
        nowhere = np.full((1, len(self.states)), np.inf)
        return Aim(
            objective=self.request.objective,
            ceiling=np.minimum(np.min([*nowhere, *ceilings], axis=0), self.deepest),
            wanted=np.array([*nowhere, *wanted]),
            meet=1 if meeting in rules.must else 2 if meeting in rules.prefer else 0,
            tolerance=self.request.limits.meeting_tolerance or 0.0,
            weights=np.array([weights.get(meeting, 0.0), 0.0, *(weights[rule] for rule in wished)]),
            most=np.array([1.0, *(float(rules.most(rule)) for rule in wished)]),
        )

    def weights(self, rules: Rules) -> dict[str, float]:
        """Return what each broken place counts; a state has two of the fan, even where it has but one run."""
        return rules.weights(max(len(self.shop.runs), 2) * len(self.states))

    def _allowed(self, option: Option, rules: Rules) -> bool:
        slow = "transport_velocity" in rules.must and option.slow.any()
        fast = "upper_velocity" in rules.must and option.fast.any()
        return not slow and not fast

    def _broken(self, options: Sequence[Option], rules: Rules) -> Floats:
        """Return what the places count where a run, in each of several bores, is too slow or too fast."""
        if not options:
            return np.zeros(0)
        weights = self.weights(rules)
        slow, fast, judged = (np.array(own) for own in zip(*((one.slow, one.fast, one.judged) for one in options),
                                                           strict=True))  # fmt: skip
        cleared = np.where((judged & (slow == 0.0)).any(axis=1)[:, None], slow, 0.0)
        out = np.zeros(len(options))
        for rule, missed in (("upper_velocity", fast), (CLEARED, cleared), ("transport_velocity", slow - cleared)):
            most = rules.most(rule.split(",")[0])
            out += weights.get(rule, 0.0) * np.minimum(missed, most).sum(axis=1)
        return out

    def _site(
        self, mine: tuple[Option, ...], sites: tuple[int, ...], arms: list[tuple[Option, ...]], shelf: Shelf,
        rules: Rules,
    ) -> tuple[Site, Kits]:  # fmt: skip
        """Return a run in each of its bores with every set of bores that may meet there, and how they are joined.

        Args:
            mine: its bores.
            sites: of the runs that flow into it.
            arms: their bores.
            shelf: the stock.
            rules: what holds.
        """
        count, states = len(mine), len(self.states)
        if arms and mine:
            rows = self._all_rows(mine, arms, shelf, rules)
        else:
            rows = alone(0 if arms else count, len(arms), states)
        site = Site(
            arms=sites,
            own=np.array([into.own for into in mine]).reshape(count, states),
            cost=np.array([into.cost for into in mine], np.float64),
            broken=self._broken(mine, rules),
            begins=np.searchsorted(rows.of, np.arange(count + 1)),
            sets=rows.sets,
            join=rows.join,
            meeting=rows.meeting,
            row_cost=rows.cost,
            row_broken=rows.broken,
        )
        return site, rows.kits

    def _all_rows(
        self, mine: tuple[Option, ...], arms: list[tuple[Option, ...]], shelf: Shelf, rules: Rules
    ) -> SiteRows:
        """Return every set of bores that may meet in a run, so many of its bores at once as there is room for."""
        at_once = max(1, min(MOST_SETS, MOST_IN_STATES // len(self.states)) // max(1, prod(map(len, arms))))
        firsts = range(0, len(mine), at_once)
        return together([self._rows(first, mine[first : first + at_once], arms, shelf, rules) for first in firsts])

    def _rows(
        self, first: int, mine: tuple[Option, ...], arms: list[tuple[Option, ...]], shelf: Shelf, rules: Rules
    ) -> SiteRows:
        """Return every set of bores that may meet in so many of a run's bores, from the first of them."""
        ways = self._ways(mine, arms, shelf)
        sets = self.meetings.sets(mine, arms, ways)
        changes = self.meetings.changes_of(arms, sets, list(lengths_of(shelf)))
        fit = np.flatnonzero(self._fits(arms, sets, changes, rules))
        sets, changes = sets.taken(fit), changes[fit]
        join, meeting = self._losses(arms, sets, changes)
        narrowed = self._narrowed(arms, sets, rules)
        return SiteRows(sets.of + first, sets.numbers, join, meeting, ways.costs[fit], narrowed, ways.kits.of(fit))

    def _losses(self, arms: list[tuple[Option, ...]], sets: Sets, changes: Floats) -> tuple[Floats, Floats]:
        """Return what each arm loses to where its run begins, minus infinity where it has no flow, and as it meets."""
        shape = (len(sets.numbers), len(arms), len(self.states))
        if not len(sets.numbers):
            return np.zeros(shape), np.zeros(shape)
        indices = [sets.into[0].run.index, *(arm[0].run.index for arm in arms)]
        flow = np.array([state.flow[indices] for state in self.states])
        active = np.array([state.active[indices[1:]] for state in self.states])
        join, meeting = self.meetings.losses(arms, sets, changes, flow)
        join[:, (flow[:, 1:].T <= 0.0) | ~active.T] = -np.inf
        return join, meeting

    def _ways(self, mine: tuple[Option, ...], arms: list[tuple[Option, ...]], shelf: Shelf) -> Ways:
        """Return every set of the arms' bores with every way to join them, in each of a run's bores.

        Raises:
            TooManySetsError: as it says.
        """
        self._refuse(prod(map(len, arms)))
        fixed, index = self.options.fixed, mine[0].run.index
        kept = index in fixed and all(arm[0].run.index in fixed for arm in arms if arm)
        ends = tuple(tuple([nanometres(option.run.end) for option in options]) for options in arms)
        meeting = joining(self.request, self.shop.shape.children[index], index, kept=kept)
        return meeting.ways(ends, tuple([nanometres(into.run.start) for into in mine]), shelf)

    def _fits(self, arms: list[tuple[Option, ...]], sets: Sets, changes: Floats, rules: Rules) -> NDArray[np.bool_]:
        """Return, by row, whether the laws answer a way to join, and the rules allow it."""
        fit = np.array(np.isfinite(changes).all(axis=1))
        narrow = "no_narrowing" in rules.must
        for column, options in enumerate(arms):
            if options:
                able = self.meetings.enter(options, sets.into).answered
                if narrow:
                    able = able & (narrowings(options, sets.into) == 0.0)
                fit &= able[sets.of, sets.numbers[:, column]]
        for row, one in sets.met.items():
            into = sets.into[sets.of[row]]
            fit[row] = (
                one is not None
                and all(self._allowed(option, rules) for option in (one.into, *one.arms))
                and not (narrow and narrows(one.into, into))
            )
        return fit

    def _narrowed(self, arms: list[tuple[Option, ...]], sets: Sets, rules: Rules) -> Floats:
        """Return, by row, what the places count where runs narrow, and where a gained run is too slow or too fast.

        Also what they count more where a run, as it changes size before a wye, is too slow or too fast.
        """
        out = np.zeros(len(sets.numbers))
        weight, most = self.weights(rules).get("no_narrowing", 0.0), rules.most("no_narrowing")
        if weight:
            for column, options in enumerate(arms):
                if options:
                    counts = np.minimum(narrowings(options, sets.into), most)
                    out += weight * counts[sets.of, sets.numbers[:, column]]
        for row, met in sets.met.items():
            into = sets.into[sets.of[row]]
            if met is None:
                continue
            for column, (arm, number) in enumerate(zip(met.arms, sets.numbers[row], strict=True)):
                if arm is not (own := arms[column][number]):
                    out[row] += self._broken([arm], rules)[0] - self._broken([own], rules)[0]
            if met.into is not into:
                out[row] += self._broken([met.into], rules)[0] + weight * min(narrowing(met.into, into), most)
        return out

    def _inlet(self, sites: tuple[int, ...], roots: list[tuple[Option, ...]]) -> Site:
        """Return the collector's inlet: where several runs end there, each loses its velocity pressure."""
        flow = np.array([[state.flow[options[0].run.index] if options else 0.0 for options in roots]
                         for state in self.states])  # fmt: skip
        numbers = np.array(list(product(*(range(len(options)) for options in roots))), np.int64)
        numbers = numbers.reshape(-1, len(roots))
        self._refuse(len(numbers))
        join = np.zeros((len(numbers), len(roots), len(self.states)))
        for column, options in enumerate(roots):
            if options:
                shape, density = self.shop.shape, self.shop.density
                lost = np.array([inlet_loss(shape, one.run.index, density, one.run.end) for one in options])
                join[:, column] = lost[numbers[:, column], None] * flow[:, column] ** 2
        active = np.array([[bool(options) and state.active[options[0].run.index] for options in roots]
                           for state in self.states])  # fmt: skip
        join[:, (flow.T <= 0.0) | ~active.T] = -np.inf
        nothing, one = np.zeros(len(numbers)), np.zeros(1)
        return Site(sites, self.duty.constant[None].copy(), one, one, np.array([0, len(numbers)]), numbers, join,
                    join.copy(), nothing, nothing)  # fmt: skip


def narrowing(arm: Option, into: Option) -> int:
    """Return by how many steps a run flows into a narrower one; 0 where it does not."""
    return steps(1.0 - into.run.start / arm.run.end) if narrows(arm, into) else 0


def narrowings(arms: Sequence[Option], into: Sequence[Option]) -> Floats:
    """Return by how many steps a run narrows, shape (into, arms): in several bores, into each of several others."""
    ends = np.array([[arm.run.end for arm in arms]])
    starts = np.array([[one.run.start] for one in into])
    return np.where(below(starts, ends), counted(1.0 - starts / ends), 0.0)


def narrows(arm: Option, into: Option) -> bool:
    """Return whether a run flows into a narrower one."""
    return grades.narrows(arm.run, into.run)
