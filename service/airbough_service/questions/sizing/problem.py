"""The request as sizing's core takes it: every bore of every run that the rules allow, and every way to join them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from operator import getitem
from typing import Final

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.sizing import SizingRequest
from airbough.wire.tree import Straight
from airbough_service.core import deadline
from airbough_service.core.choosing.junctions import join_losses
from airbough_service.core.choosing.sites import (
    Choice,
    Site,
)
from airbough_service.core.choosing.sizing import Aim
from airbough_service.core.network import (
    columns,
    tree,
)
from airbough_service.core.network.tree import (
    Arm,
    dynamic,
    pack,
)
from airbough_service.questions.sizing.duty import Duty
from airbough_service.questions.sizing.kits import (
    Kit,
    joining,
)
from airbough_service.questions.sizing.options import (
    ALIKE,
    Key,
    Option,
    Options,
)
from airbough_service.questions.sizing.rules import CLEARED, Rules
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import (
    Shelf,
    nanometres,
)
from airbough_service.shop import junction_laws
from airbough_service.shop.pieces import Found
from airbough_service.shop.shop import (
    LAWS,
    Shop,
)

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
    kits: tuple[tuple[tuple[Kit, ...], ...], ...]
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
        arms: how runs enter junctions, by run and bores.
        changes: what changes of size cost, by run, bores and length.
        links: junctions in a packed tree, by the run that they flow into.
        lines: rows of a packed table, by run, bore, and bore of the run that it flows into.
        made: sets of bores listed so far.
        deepest: fan static pressure above which no choice is looked at, Pa.
    """

    request: SizingRequest
    shop: Shop
    states: tuple[State, ...]
    options: Options
    duty: Duty
    arms: dict[tuple[int, float, float], Arm | None] = field(default_factory=dict)
    changes: dict[tuple[int, float, float, float | None], float | None] = field(default_factory=dict)
    links: dict[int, NDArray[np.int32]] = field(default_factory=dict)
    lines: dict[tuple[int, Key, float], Floats] = field(default_factory=dict)
    made: int = 0
    deepest: float = np.inf

    def guided(self, states: tuple[State, ...], options: Options, duty: Duty) -> Maker:
        """Return the maker for other flows; what does not depend on flows is shared."""
        return replace(self, states=states, options=options, duty=duty, made=0)

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
        all_kits: list[tuple[tuple[Kit, ...], ...]] = []
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
        )

    def weights(self, rules: Rules) -> dict[str, float]:
        """Return what each broken place counts."""
        return rules.weights(len(self.shop.runs) * len(self.states))

    def _allowed(self, option: Option, rules: Rules) -> bool:
        slow = "transport_velocity" in rules.must and option.slow.any()
        fast = "upper_velocity" in rules.must and option.fast.any()
        return not slow and not fast

    def _choice(
        self, into: Option, arms: list[tuple[Option, ...]], shelf: Shelf, rules: Rules
    ) -> tuple[Choice, tuple[Kit, ...]]:
        """Return one bore of a run with every set of bores that may meet there."""
        weights, cleared = self.weights(rules), into.cleared
        broken = weights.get("upper_velocity", 0.0) * float(into.fast.sum())
        broken += weights.get(CLEARED, 0.0) * float(cleared.sum())
        broken += weights.get("transport_velocity", 0.0) * float((into.slow & ~cleared).sum())
        if not arms:
            none = np.empty((1, 0, into.own.size))
            alone = Choice(
                into.own, into.price, broken, np.empty((1, 0), np.int64), none, none, np.zeros(1), np.zeros(1)
            )
            return alone, (Kit(()),)
        rows = self._rows(into, arms, shelf, rules)
        return self._joined(into, arms, rows, broken, rules), tuple(kit for _, kit in rows)

    def _rows(
        self, into: Option, arms: list[tuple[Option, ...]], shelf: Shelf, rules: Rules
    ) -> list[tuple[tuple[int, ...], Kit]]:
        """Return every set of the arms' bores, as their numbers, with every way to join them."""
        fixed = self.options.fixed
        kept = into.run.index in fixed and all(arm[0].run.index in fixed for arm in arms if arm)
        narrow = "no_narrowing" in rules.must
        fits = [
            [n for n, arm in enumerate(options) if not (narrow and narrows(arm, into)) and self._arm(arm, into)]
            for options in arms
        ]
        sets = 1
        for fitting in fits:
            sets *= len(fitting)
        if sets > MOST_SETS:
            raise TooManySetsError
        out: list[tuple[tuple[int, ...], Kit]] = []
        meeting = joining(self.request, self.shop.shape.children[into.run.index], into.run.index, kept=kept)
        ends = [[nanometres(option.run.end) for option in options] for options in arms]
        outlet = nanometres(into.run.start)
        for numbers in product(*fits):
            deadline.check()
            for kit in meeting.kits(tuple(map(getitem, ends, numbers)), outlet, shelf):
                changed = kit.changed
                if changed is None or self.change(arms[changed][numbers[changed]], into, kit.length) is not None:
                    out.append((numbers, kit))
        return out

    def _joined(
        self,
        into: Option,
        arms: list[tuple[Option, ...]],
        rows: list[tuple[tuple[int, ...], Kit]],
        broken: float,
        rules: Rules,
    ) -> Choice:
        """Return the choice with the losses of every set of bores."""
        flow = np.array([[state.flow[into.run.index]] + [state.flow[arm[0].run.index] for arm in arms if arm]
                         for state in self.states])  # fmt: skip
        numbers = np.array([numbers for numbers, _ in rows], np.int64).reshape(len(rows), len(arms))
        shape = (len(rows), len(arms), len(self.states))
        join, meeting = np.zeros(shape), np.zeros(shape)
        if rows:
            join, meeting = self._losses(into, arms, rows, flow)
            served = np.array([[state.served[arm[0].run.index] for arm in arms if arm] for state in self.states])
            join[:, (flow[:, 1:].T <= 0.0) | ~served.T] = -np.inf
        narrowed = np.zeros(len(rows))
        narrowing = self.weights(rules).get("no_narrowing", 0.0)
        if narrowing:
            wide = [np.array([narrows(arm, into) for arm in options], float) for options in arms]
            for column, counts in enumerate(wide):
                narrowed += narrowing * counts[numbers[:, column]] if len(rows) else 0.0
        prices = np.array([kit.price for _, kit in rows], float)
        return Choice(into.own, into.price, broken, numbers, join, meeting, prices, narrowed)

    def _losses(
        self, into: Option, arms: list[tuple[Option, ...]], rows: list[tuple[tuple[int, ...], Kit]], flow: Floats
    ) -> tuple[Floats, Floats]:
        """Return the join losses of every set, Pa, and what is added to an arm's need to compare it with the others."""
        lines = [np.array([self._line(arm, into) for arm in options]) for options in arms]
        numbers = np.array([numbers for numbers, _ in rows], np.int64).reshape(len(rows), len(arms))
        tables = np.empty((len(rows), len(arms) + 1, columns.FLOAT_COLUMNS))
        tables[:, 0] = self._line(into, None)
        for column, of_arm in enumerate(lines):
            tables[:, column + 1] = of_arm[numbers[:, column]]
        links = self._links(into, [options[n] for options, n in zip(arms, rows[0][0], strict=True)])
        join = join_losses(tables, links, flow)
        square = (flow[:, 1:] ** 2).T
        for line, (chosen, kit) in enumerate(rows):
            if kit.changed is not None:
                option = arms[kit.changed][chosen[kit.changed]]
                join[line, kit.changed] += (self.change(option, into, kit.length) or 0.0) * square[kit.changed]
        if links[0, columns.LAW] != columns.ENTRY:
            return join, join.copy()
        own = tables[:, 1:, columns.VP_END] * (1.0 + tables[:, 1:, columns.ENTRY_FACTOR])
        return join, own[:, :, None] * square[None]

    def _links(self, into: Option, arms: Sequence[Option]) -> NDArray[np.int32]:
        """Return the junction's place in a packed tree, which does not depend on bores."""
        if into.run.index not in self.links:
            self.links[into.run.index] = self._linked(into, arms)
        return self.links[into.run.index]

    def _linked(self, into: Option, arms: Sequence[Option]) -> NDArray[np.int32]:
        rows = [placed(into.row, -1, None)]
        rows += [placed(arm.row, 0, self._arm(arm, into)) for arm in arms]
        law = LAWS[self.request.model.junctions]
        return pack(rows, self.shop.density, float(self.shop.air.viscosity), law).links

    def _line(self, option: Option, into: Option | None) -> Floats:
        """Return a run's row of a packed table, as an arm of `into`."""
        key = (option.run.index, option.key, 0.0 if into is None else into.run.start)
        if key not in self.lines:
            self.lines[key] = self._filled(option, into)
        return self.lines[key]

    def _filled(self, option: Option, into: Option | None) -> Floats:
        line = np.zeros(columns.FLOAT_COLUMNS)
        arm = None if into is None else self._arm(option, into)
        tree.fill(line, placed(option.row, -1, arm), self.shop.density, float(self.shop.air.viscosity))
        return line

    def _arm(self, option: Option, into: Option) -> Arm | None:
        """Return how a run enters its junction; None where no law answers these bores."""
        key = (option.run.index, option.run.end, into.run.start)
        if key not in self.arms:
            found = Found()
            arm = junction_laws.arm(found, self.request, self.shop.shape, *key)
            self.arms[key] = None if found.faults else arm
        return self.arms[key]

    def change(self, option: Option, into: Option, length: float | None) -> float | None:
        """Return what a change of size at a run's end costs, Pa per (m3/s)^2; None where no law answers it."""
        index, end, start = option.run.index, option.run.end, into.run.start
        key = (index, end, start, length)
        if key not in self.changes:
            alone = len(self.shop.shape.children[into.run.index]) == 1
            found = Found()
            junction_laws.change(found, with_taper(self.request, index, length), index, end, start, alone=alone)
            total = sum(piece.coefficient * dynamic(self.shop.density, piece.bore) for piece in found.pieces)
            self.changes[key] = None if found.faults else total
        return self.changes[key]

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
            if len(roots) > 1 and options:
                lost = np.array([dynamic(self.shop.density, option.run.end) for option in options])
                join[:, column] = lost[numbers[:, column], None] * flow[:, column] ** 2
        served = np.array([[bool(options) and state.served[options[0].run.index] for options in roots]
                           for state in self.states])  # fmt: skip
        join[:, (flow.T <= 0.0) | ~served.T] = -np.inf
        nothing = np.zeros(len(numbers))
        return Choice(self.duty.constant, 0.0, 0.0, numbers, join, join.copy(), nothing, nothing.copy())


def placed(row: tree.Run, parent: int, arm: Arm | None) -> tree.Run:
    """Return a run for packing at another place."""
    return replace(row, parent=parent, arm=Arm() if arm is None else arm)


def narrows(arm: Option, into: Option) -> bool:
    """Return whether a run flows into a narrower one."""
    return into.run.start < arm.run.end * (1.0 - ALIKE)


def with_taper(request: SizingRequest, index: int, length: float | None) -> SizingRequest:
    """Return the request with a straight run's change of size of this length; None for abrupt."""
    runs = list(request.runs)
    join = runs[index].join
    straight = join if isinstance(join, Straight) else Straight()
    runs[index] = structs.replace(runs[index], join=structs.replace(straight, taper_length=length))
    return structs.replace(request, runs=tuple(runs))
