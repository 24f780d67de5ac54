"""The request as sizing's core takes it: every bore of every run that the rules allow, and every way to join them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from math import prod
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import SizingRequest
from airbough_service.core import deadline
from airbough_service.core.choosing.sites import (
    Choice,
    Site,
    counted,
    steps,
)
from airbough_service.core.choosing.sizing import Aim
from airbough_service.core.limits import below
from airbough_service.questions.sizing.duty import Duty
from airbough_service.questions.sizing.joints import Kit
from airbough_service.questions.sizing.kits import (
    Ways,
    joining,
)
from airbough_service.questions.sizing.meetings import Meetings, Met
from airbough_service.questions.sizing.options import (
    Option,
    Options,
)
from airbough_service.questions.sizing.rules import CLEARED, Rules
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
MOST_OPTIONS: Final = 10_000  # bores of all runs together


@dataclass(frozen=True, slots=True)
class Problem:
    """Sites for the core, and what their numbers stand for.

    Attributes:
        order: run number of each site but the last, which is the inlet.
        options: by site, its bores.
        kits: by site, bore and row, the pieces of the junction.
    """

    order: tuple[int, ...]
    options: tuple[tuple[Option, ...], ...]
    kits: tuple[tuple[NDArray[np.object_], ...], ...]
    sites: tuple[Site, ...]
    aim: Aim


class TooManySetsError(Exception):
    """So many sets of bores may meet that they cannot be listed."""


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
        all_kits: list[tuple[NDArray[np.object_], ...]] = []
        sites: list[Site] = []
        sets = 0
        if sum(len(shelf.sizes(run.run.duct)) for run in self.shop.runs) > MOST_OPTIONS:
            raise TooManySetsError
        for index in order:
            deadline.check()
            mine = tuple(option for option in self.options.of(index, shelf) if self._allowed(option, rules))
            arms = tuple(place[arm] for arm in self.shop.shape.children[index])
            made = [self._choice(option, [options[arm] for arm in arms], shelf, rules) for option in mine]
            sets += sum(len(kit) for _, kit in made)
            self.made += sum(len(kit) for _, kit in made)
            if sets > MOST_SETS:
                raise TooManySetsError
            options.append(mine)
            all_kits.append(tuple(kit for _, kit in made))
            sites.append(Site(arms, tuple(choice for choice, _ in made)))
        roots = [place[root] for root in self.shop.shape.roots]
        sites.append(Site(tuple(roots), (self._inlet([options[root] for root in roots]),)))
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
        """Return what each broken place counts."""
        return rules.weights(len(self.shop.runs) * len(self.states))

    def _allowed(self, option: Option, rules: Rules) -> bool:
        slow = "transport_velocity" in rules.must and option.slow.any()
        fast = "upper_velocity" in rules.must and option.fast.any()
        return not slow and not fast

    def _broken(self, option: Option, rules: Rules) -> float:
        """Return what the places count where a run in one bore is too slow or too fast."""
        weights, cleared = self.weights(rules), option.cleared
        counted = {
            "upper_velocity": option.fast,
            CLEARED: cleared,
            "transport_velocity": option.slow - cleared,
        }
        return sum(
            weights.get(rule, 0.0) * float(np.minimum(steps, rules.most(rule.split(",")[0])).sum())
            for rule, steps in counted.items()
        )

    def _choice(
        self, into: Option, arms: list[tuple[Option, ...]], shelf: Shelf, rules: Rules
    ) -> tuple[Choice, NDArray[np.object_]]:
        """Return one bore of a run with every set of bores that may meet there, and how they are joined."""
        broken = self._broken(into, rules)
        if not arms:
            none = np.empty((1, 0, into.own.size))
            alone = Choice(
                into.own, into.cost, broken, np.empty((1, 0), np.int64), none, none, np.zeros(1), np.zeros(1)
            )
            return alone, np.fromiter([Kit(())], np.object_, 1)
        ways = self._ways(into, arms, shelf)
        met = {row: self.meetings.met(into, self.meetings.of(arms, ways, row), ways.kits[row]) for row in ways.around}
        changes = self.meetings.changes_of(into, arms, ways, met)
        rows = np.flatnonzero(self._fits(into, arms, ways, met, changes, rules))
        around = {place: one for place, row in enumerate(rows) if (one := met.get(int(row))) is not None}
        numbers = ways.numbers[rows]
        flow = np.array([[state.flow[into.run.index]] + [state.flow[arm[0].run.index] for arm in arms if arm]
                         for state in self.states])  # fmt: skip
        shape = (len(rows), len(arms), len(self.states))
        join, meeting = np.zeros(shape), np.zeros(shape)
        if len(rows):
            join, meeting = self.meetings.losses(into, arms, numbers, around, changes[rows], flow)
            active = np.array([[state.active[arm[0].run.index] for arm in arms if arm] for state in self.states])
            join[:, (flow[:, 1:].T <= 0.0) | ~active.T] = -np.inf
        narrowed = self._narrowed(into, arms, numbers, around, rules)
        choice = Choice(into.own, into.cost, broken, numbers, join, meeting, ways.costs[rows], narrowed)
        return choice, ways.kits[rows]

    def _ways(self, into: Option, arms: list[tuple[Option, ...]], shelf: Shelf) -> Ways:
        """Return every set of the arms' bores with every way to join them.

        Raises:
            TooManySetsError: as it says.
        """
        if prod(map(len, arms)) > MOST_SETS:
            raise TooManySetsError
        fixed, index = self.options.fixed, into.run.index
        kept = index in fixed and all(arm[0].run.index in fixed for arm in arms if arm)
        ends = tuple(tuple(nanometres(option.run.end) for option in options) for options in arms)
        meeting = joining(self.request, self.shop.shape.children[index], index, kept=kept)
        return meeting.ways(ends, nanometres(into.run.start), shelf)

    def _fits(
        self,
        into: Option,
        arms: list[tuple[Option, ...]],
        ways: Ways,
        met: dict[int, Met | None],
        changes: Floats,
        rules: Rules,
    ) -> NDArray[np.bool_]:
        """Return, by row, whether the laws answer a way to join, and the rules allow it."""
        fit = np.array(np.isfinite(changes).all(axis=1))
        narrow = "no_narrowing" in rules.must
        for column, options in enumerate(arms):
            if options:
                able = self.meetings.enter(options, into).answered
                if narrow:
                    able = able & (narrowings(options, into) == 0.0)
                fit &= able[ways.numbers[:, column]]
        for row, one in met.items():
            fit[row] = one is not None and self._allowed(one.into, rules) and not (narrow and narrows(one.into, into))
        return fit

    def _narrowed(
        self,
        into: Option,
        arms: list[tuple[Option, ...]],
        numbers: NDArray[np.int64],
        around: dict[int, Met],
        rules: Rules,
    ) -> Floats:
        """Return, by row, what the places count where runs narrow, and where a gained run is too slow or too fast."""
        out = np.zeros(len(numbers))
        weight, most = self.weights(rules).get("no_narrowing", 0.0), rules.most("no_narrowing")
        if weight:
            for column, options in enumerate(arms):
                out += weight * np.minimum(narrowings(options, into), most)[numbers[:, column]]
        for row, met in around.items():
            if met.into is not into:
                out[row] += self._broken(met.into, rules) + weight * min(narrowing(met.into, into), most)
        return out

    def _inlet(self, roots: list[tuple[Option, ...]]) -> Choice:
        """Return the collector's inlet: where several runs end there, each loses its velocity pressure."""
        flow = np.array([[state.flow[options[0].run.index] if options else 0.0 for options in roots]
                         for state in self.states])  # fmt: skip
        numbers = np.array(list(product(*(range(len(options)) for options in roots))), np.int64)
        numbers = numbers.reshape(-1, len(roots))
        if len(numbers) > MOST_SETS:
            raise TooManySetsError
        join = np.zeros((len(numbers), len(roots), len(self.states)))
        for column, options in enumerate(roots):
            if options:
                shape, density = self.shop.shape, self.shop.density
                lost = np.array([inlet_loss(shape, one.run.index, density, one.run.end) for one in options])
                join[:, column] = lost[numbers[:, column], None] * flow[:, column] ** 2
        active = np.array([[bool(options) and state.active[options[0].run.index] for options in roots]
                           for state in self.states])  # fmt: skip
        join[:, (flow.T <= 0.0) | ~active.T] = -np.inf
        nothing = np.zeros(len(numbers))
        return Choice(self.duty.constant, 0.0, 0.0, numbers, join, join.copy(), nothing, nothing.copy())


def narrowing(arm: Option, into: Option) -> int:
    """Return by how many steps a run flows into a narrower one; 0 where it does not."""
    return steps(1.0 - into.run.start / arm.run.end) if narrows(arm, into) else 0


def narrowings(arms: tuple[Option, ...], into: Option) -> Floats:
    """Return by how many steps a run, in each of several bores, flows into a narrower one; 0 where it does not."""
    ends = np.array([arm.run.end for arm in arms])
    return np.where(below(np.full(len(ends), into.run.start), ends), counted(1.0 - into.run.start / ends), 0.0)


def narrows(arm: Option, into: Option) -> bool:
    """Return whether a run flows into a narrower one."""
    return grades.narrows(arm.run, into.run)
