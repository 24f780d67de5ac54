"""The losses where runs meet, for every set of bores and every way to join them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.sizing import SizingRequest
from airbough.wire.tree import Straight
from airbough_service.core.choosing.junctions import join_losses
from airbough_service.core.network import (
    columns,
    tree,
)
from airbough_service.core.network.tree import (
    Arm,
    dynamic,
    pack,
)
from airbough_service.questions.sizing.joints import Kit
from airbough_service.questions.sizing.kits import Ways
from airbough_service.questions.sizing.options import (
    Key,
    Option,
    Options,
)
from airbough_service.shop import junction_laws
from airbough_service.shop.pieces import Found
from airbough_service.shop.shop import (
    LAWS,
    Shop,
)

Floats = NDArray[np.float64]
_NO_ARM: Final = Arm()


class Met(NamedTuple):
    """Runs that meet in a wye of another size than theirs.

    Attributes:
        into: what they flow into there.
        arms: as they enter it.
        lost: shape (arms, states), by their changes of size, Pa.
        after: by that after the wye, Pa per (m3/s)^2 of all that flows.
        kit: the wye with its changes of size.
    """

    into: Option
    arms: tuple[Option, ...]
    lost: Floats
    after: float
    kit: Kit


class Sets(NamedTuple):
    """Sets of bores that meet in several bores of the run that they flow into: n rows, one bore's behind another's.

    Attributes:
        into: that run in each bore.
        of: shape (n,), which of these.
        numbers: shape (n, arms), which of its bores each arm has.
        length: shape (n,), as of `Ways`.
        at: number of the straight arm, whose change of size has that length.
        met: by row, how runs meet in a wye of another size; None where no law answers it.
    """

    into: tuple[Option, ...]
    of: NDArray[np.int64]
    numbers: NDArray[np.int64]
    length: NDArray[np.int64]
    at: int
    met: dict[int, Met | None]

    def taken(self, rows: NDArray[np.int64]) -> Sets:
        """Return some rows, all of them answered."""
        met = self.met
        if met:
            met = {place: one for place, row in enumerate(rows.tolist()) if (one := met.get(row)) is not None}
        return self._replace(of=self.of[rows], numbers=self.numbers[rows], length=self.length[rows], met=met)


class Bores(NamedTuple):
    """A run in several bores, whatever it flows into.

    Attributes:
        options: one for each bore.
        ends: where each ends, m.
        lines: shape (bores, columns), packed rows of no arm's.
    """

    options: tuple[Option, ...]
    ends: tuple[float, ...]
    lines: Floats


class Entering(NamedTuple):
    """How a run in several bores enters its junction, in several bores of what it flows into.

    Attributes:
        answered: shape (into, bores), whether a law answers it.
        lines: shape (into, bores, columns), packed rows of which those columns are filled that junctions look at.
    """

    answered: NDArray[np.bool_]
    lines: Floats


class Charged(NamedTuple):
    """What changes of size of a straight arm cost.

    Attributes:
        length: as of the sets that they were reckoned for.
        cost: shape (rows,), Pa per (m3/s)^2; not a number where no law answers it.
    """

    length: NDArray[np.int64]
    cost: Floats


@dataclass(slots=True)
class Meetings:
    """Reckons junctions; what does not depend on flows is kept.

    Attributes:
        request: in SI.
        shop: the tree in any bores.
        options: of the runs.
        arms: how runs enter junctions, by the first run that enters alike, and bores.
        changes: what changes of size cost, by that run, bores, length, and whether it is alone there.
        links: junctions in a packed tree, by the run that they flow into.
        lines: rows of a packed table, by run, bore, and bore of the run that it flows into.
        bores: the bores that each run was asked about last.
        entering: how runs in several bores enter, by the first run that enters alike, these, and what they flow into.
        charged: what changes of size cost, by the first run that enters alike, its bores, and what it flows into.
        alike: by run, the first one that enters its junction as it does.
    """

    request: SizingRequest
    shop: Shop
    options: Options
    arms: dict[tuple[int, float, float], Arm | None] = field(default_factory=dict)
    changes: dict[tuple[int, float, float, float | None, bool], float | None] = field(default_factory=dict)
    links: dict[int, NDArray[np.int32]] = field(default_factory=dict)
    lines: dict[tuple[int, Key, float], Floats] = field(default_factory=dict)
    bores: dict[int, Bores] = field(default_factory=dict)
    entering: dict[tuple[int, tuple[float, ...], tuple[float, ...]], Entering] = field(default_factory=dict)
    charged: dict[tuple[int, tuple[float, ...], tuple[float, ...]], Charged] = field(default_factory=dict)
    alike: list[int] = field(default_factory=list)

    def met(self, into: Option, arms: list[Option], kit: Kit) -> Met | None:
        """Return runs that meet in a wye of another size; None where no law answers it."""
        out, after, lost = list(arms), 0.0, np.zeros((len(arms), into.own.size))
        for arm, bore, length in kit.reduced:
            reduced = self.options.reduced(arms[arm], bore, length)
            if reduced is None:
                return None
            out[arm], lost[arm] = reduced, reduced.own - arms[arm].own
        wye = into
        if kit.between is not None:
            wye = self.options.between(into, kit.between.bore)
            change = self.change(wye, into, kit.between.change.fitting_length, alone=True)
            if change is None:
                return None
            after = change
        if kit.changed is not None and self.change(arms[kit.changed], wye, kit.length) is None:
            return None
        answered = all(self.arm(arm, wye) is not None for arm in out)
        return Met(wye, tuple(out), lost, after, kit) if answered else None

    def sets(self, into: Sequence[Option], arms: list[tuple[Option, ...]], ways: Ways) -> Sets:
        """Return what meets in each of several bores of a run, in these ways."""
        met = {row: self.met(into[ways.of[row]], self.of(arms, ways, row), ways.kits[row]) for row in ways.around}
        return Sets(tuple(into), ways.of, ways.numbers, ways.length, ways.kits.at, met)

    def losses(
        self, arms: list[tuple[Option, ...]], sets: Sets, changes: Floats, flow: Floats
    ) -> tuple[Floats, Floats]:
        """Return the join losses of every set, Pa, and what is added to an arm's need to compare it with the others.

        Args:
            arms: by arm, its bores.
            sets: at least one, all answered.
            changes: shape (sets, arms), of straight arms' changes of size, Pa per (m3/s)^2.
            flow: shape (states, 1 + arms), of what the arms flow into and each arm, m3/s.
        """
        square = (flow[:, 1:] ** 2).T
        around = {row: met for row, met in sets.met.items() if met is not None}
        lines, place = self._lines(arms, sets, around)
        links = self._links(*self._first(arms, sets))
        join = join_losses(lines, place, links, flow) + changes[:, :, None] * square
        for row, met in around.items():
            join[row] += met.lost
        meeting = join.copy()
        if links[0, columns.LAW] == columns.ENTRY:
            lost = lines[:, columns.VP_END] * (1.0 + lines[:, columns.ENTRY_FACTOR])
            meeting = lost[place[:, 1:], None] * square[None]
            for row, met in around.items():
                meeting[row] += met.lost
        for row, met in around.items():
            join[row] += met.after * flow[:, 0] ** 2
        return join, meeting

    def _lines(
        self, arms: list[tuple[Option, ...]], sets: Sets, around: Mapping[int, Met]
    ) -> tuple[Floats, NDArray[np.int64]]:
        """Return packed rows, and which of them stand for each set's run and arms, shape (sets, 1 + arms)."""
        place = np.empty((len(sets.numbers), len(arms) + 1), np.int64)
        place[:, 0], count = sets.of, len(sets.into)
        lines = [self._of_bores(sets.into).lines]
        for column, options in enumerate(arms):
            lines.append(self.enter(options, sets.into).lines.reshape(-1, columns.FLOAT_COLUMNS))
            place[:, column + 1] = count + sets.of * len(options) + sets.numbers[:, column]
            count += len(lines[-1])
        for row, met in around.items():
            lines.append(np.array([self.line(met.into, None), *(self.line(arm, met.into) for arm in met.arms)]))
            place[row] = np.arange(count, count + len(lines[-1]))
            count += len(lines[-1])
        return np.concatenate(lines), place

    @staticmethod
    def _first(arms: list[tuple[Option, ...]], sets: Sets) -> tuple[Option, tuple[Option, ...]]:
        """Return what meets in the first set."""
        met = sets.met.get(0)
        if met is not None:
            return met.into, met.arms
        return sets.into[sets.of[0]], tuple(own[n] for own, n in zip(arms, sets.numbers[0], strict=True))

    @staticmethod
    def of(arms: list[tuple[Option, ...]], ways: Ways, row: int) -> list[Option]:
        """Return the arms in the bores of a row."""
        return [options[number] for options, number in zip(arms, ways.numbers[row], strict=True)]

    def changes_of(self, arms: list[tuple[Option, ...]], sets: Sets, lengths: Sequence[float | None]) -> Floats:
        """Return what the changes of size of straight arms cost, Pa per (m3/s)^2, shape (rows, arms).

        Not a number where no law answers it. lengths: as numbered in the sets, m; None for abrupt.
        """
        out = np.zeros((len(sets.numbers), len(arms)))
        if len(sets.numbers):
            out[:, sets.at] = self._charged(arms[sets.at], sets, lengths)
        for row, met in sets.met.items():
            if met is not None and met.kit.changed is not None:
                cost = self.change(met.arms[met.kit.changed], met.into, met.kit.length)
                out[row, met.kit.changed] = np.nan if cost is None else cost
        return out

    def _charged(self, options: tuple[Option, ...], sets: Sets, lengths: Sequence[float | None]) -> Floats:
        """Return what the straight arm's changes of size cost, by row; arguments as of `changes_of`."""
        starts = tuple([option.run.start for option in sets.into])
        key = (self._alike(options[0].run.index), self._of_bores(options).ends, starts)
        known = self.charged.get(key)
        if known is None or known.length is not sets.length:
            known = self.charged[key] = Charged(sets.length, self._charges(options, sets, lengths))
        return known.cost

    def _charges(self, options: tuple[Option, ...], sets: Sets, lengths: Sequence[float | None]) -> Floats:
        out, rows = np.zeros(len(sets.numbers)), np.flatnonzero(sets.length >= 0)
        if rows.size:
            shape = (len(sets.into), len(options), len(lengths))
            code = np.ravel_multi_index((sets.of[rows], sets.numbers[rows, sets.at], sets.length[rows]), shape)
            each, place = np.unique(code, return_inverse=True)
            triples = zip(*(numbers.tolist() for numbers in np.unravel_index(each, shape)), strict=True)
            costs = [self.change(options[own], sets.into[into], lengths[length]) for into, own, length in triples]
            out[rows] = np.array([np.nan if cost is None else cost for cost in costs])[place]
        return out

    def _links(self, into: Option, arms: Sequence[Option]) -> NDArray[np.int32]:
        """Return the junction's place in a packed tree, which does not depend on bores."""
        if into.run.index not in self.links:
            self.links[into.run.index] = self._linked(into, arms)
        return self.links[into.run.index]

    def _linked(self, into: Option, arms: Sequence[Option]) -> NDArray[np.int32]:
        rows = [placed(into.row, -1, None)]
        rows += [placed(arm.row, 0, self.arm(arm, into)) for arm in arms]
        law = LAWS[self.request.model.junctions]
        return pack(rows, self.shop.density, float(self.shop.air.viscosity), law).links

    def line(self, option: Option, into: Option | None) -> Floats:
        """Return a run's row of a packed table, as an arm of `into`."""
        key = (option.run.index, option.key, 0.0 if into is None else into.run.start)
        if key not in self.lines:
            self.lines[key] = self._filled(option, into)
        return self.lines[key]

    def _filled(self, option: Option, into: Option | None) -> Floats:
        made = self.options.made[option.run.index, option.key]
        assert made is not None
        line: Floats = made.lines[0].copy()
        arm = None if into is None else self.arm(option, into)
        tree.fill_arm(line, Arm() if arm is None else arm)
        return line

    def _of_bores(self, options: tuple[Option, ...]) -> Bores:
        """Return a run in several bores; those that it was asked about last are known."""
        index = options[0].run.index
        known = self.bores.get(index)
        if known is None or known.options is not options:
            made = [self.options.made[index, option.key] for option in options]
            lines = np.array([one.lines[0] for one in made if one is not None])
            known = self.bores[index] = Bores(options, tuple(option.run.end for option in options), lines)
        return known

    def enter(self, options: tuple[Option, ...], into: Sequence[Option]) -> Entering:
        """Return how a run in several bores, at least one, enters its junction in each of several bores of another."""
        starts = tuple([option.run.start for option in into])
        key = (self._alike(options[0].run.index), self._of_bores(options).ends, starts)
        if key not in self.entering:
            arms = [self.arm(option, one) for one in into for option in options]
            shape = (len(into), len(options))
            answered = np.array([arm is not None for arm in arms], np.bool_).reshape(shape)
            lines = tree.arm_lines([_NO_ARM if arm is None else arm for arm in arms]).reshape(*shape, -1)
            lines[:, :, columns.VP_END] = self._of_bores(options).lines[:, columns.VP_END]
            self.entering[key] = Entering(answered, lines)
        return self.entering[key]

    def arm(self, option: Option, into: Option) -> Arm | None:
        """Return how a run enters its junction; None where no law answers these bores."""
        index = option.run.index
        key = (self._alike(index), option.run.end, into.run.start)
        if key not in self.arms:
            found = Found()
            arm = junction_laws.arm(found, self.request, self.shop.shape, index, option.run.end, into.run.start)
            self.arms[key] = None if found.faults else arm
        return self.arms[key]

    def _alike(self, index: int) -> int:
        """Return the first run whose join, and those of the runs that it meets, are like a run's."""
        if not self.alike:
            first: dict[object, int] = {}
            for own, parent in enumerate(self.shop.shape.parents):
                arms = self.shop.shape.children[parent] if parent >= 0 else ()
                join = self.request.runs[own].join
                word = junction_laws.arrangement(self.request, arms) if len(arms) > 1 else None
                self.alike.append(first.setdefault((join, len(arms), word), own))
        return self.alike[index]

    def change(self, option: Option, into: Option, length: float | None, *, alone: bool | None = None) -> float | None:
        """Return what a change of size at a run's end costs, Pa per (m3/s)^2; None where no law answers it.

        Args:
            option: the run.
            into: what it flows into.
            length: of the change, m; None for abrupt.
            alone: whether no other run meets it there; None: as in the document.
        """
        if alone is None:
            alone = len(self.shop.shape.children[into.run.index]) == 1
        index, end, start = option.run.index, option.run.end, into.run.start
        key = (self._alike(index), end, start, length, alone)
        if key not in self.changes:
            found = Found()
            junction_laws.change(found, with_taper(self.request, index, length), index, end, start, alone=alone)
            total = sum(piece.coefficient * dynamic(self.shop.density, piece.bore) for piece in found.pieces)
            self.changes[key] = None if found.faults else total
        return self.changes[key]


def placed(row: tree.Run, parent: int, arm: Arm | None) -> tree.Run:
    """Return a run for packing at another place."""
    return row._replace(parent=parent, arm=Arm() if arm is None else arm)


def with_taper(request: SizingRequest, index: int, length: float | None) -> SizingRequest:
    """Return the request with a straight run's change of size of this length; None for abrupt."""
    runs = list(request.runs)
    join = runs[index].join
    straight = join if isinstance(join, Straight) else Straight()
    runs[index] = structs.replace(runs[index], join=structs.replace(straight, taper_length=length))
    return structs.replace(request, runs=tuple(runs))
