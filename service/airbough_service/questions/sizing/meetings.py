"""The losses where runs meet, for every set of bores and every way to join them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

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
from airbough_service.questions.sizing.kits import Kit
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
Rows = list[tuple[tuple[int, ...], Kit]]
"""Sets of the arms' bores, as their numbers, each with one way to join them."""


class Met(NamedTuple):
    """Runs that meet in a wye of another size than theirs.

    Attributes:
        into: what they flow into there.
        arms: as they enter it.
        lost: shape (arms, states), by their changes of size, Pa.
        after: by that after the wye, Pa per (m3/s)^2 of all that flows.
    """

    into: Option
    arms: tuple[Option, ...]
    lost: Floats
    after: float


@dataclass(slots=True)
class Meetings:
    """Reckons junctions; what does not depend on flows is kept.

    Attributes:
        request: in SI.
        shop: the tree in any bores.
        options: of the runs.
        arms: how runs enter junctions, by run and bores.
        changes: what changes of size cost, by run, bores, length, and whether the run is alone there.
        links: junctions in a packed tree, by the run that they flow into.
        lines: rows of a packed table, by run, bore, and bore of the run that it flows into.
    """

    request: SizingRequest
    shop: Shop
    options: Options
    arms: dict[tuple[int, float, float], Arm | None] = field(default_factory=dict)
    changes: dict[tuple[int, float, float, float | None, bool], float | None] = field(default_factory=dict)
    links: dict[int, NDArray[np.int32]] = field(default_factory=dict)
    lines: dict[tuple[int, Key, float], Floats] = field(default_factory=dict)

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
        return Met(wye, tuple(out), lost, after) if answered else None

    def losses(self, into: Option, arms: list[tuple[Option, ...]], rows: Rows, flow: Floats) -> tuple[Floats, Floats]:
        """Return the join losses of every set, Pa, and what is added to an arm's need to compare it with the others.

        Args:
            into: what the arms flow into.
            arms: by arm, its bores.
            rows: at least one.
            flow: shape (states, 1 + arms), of it and each arm, m3/s.
        """
        around = {line: self._around(into, arms, row) for line, row in enumerate(rows) if row[1].worked_around}
        tables = self._tables(into, arms, rows, around)
        first = around.get(0) or Met(into, tuple(self._of(arms, rows[0])), np.zeros(0), 0.0)
        links = self._links(first.into, first.arms)
        join = join_losses(tables, links, flow)
        square = (flow[:, 1:] ** 2).T
        for line, (numbers, kit) in enumerate(rows):
            if kit.changed is not None:
                option, meet = arms[kit.changed][numbers[kit.changed]], around[line].into if line in around else into
                join[line, kit.changed] += (self.change(option, meet, kit.length) or 0.0) * square[kit.changed]
        for line, met in around.items():
            join[line] += met.lost
        meeting = join.copy()
        if links[0, columns.LAW] == columns.ENTRY:
            lost = tables[:, 1:, columns.VP_END] * (1.0 + tables[:, 1:, columns.ENTRY_FACTOR])
            meeting = lost[:, :, None] * square[None]
            for line, met in around.items():
                meeting[line] += met.lost
        for line, met in around.items():
            join[line] += met.after * flow[:, 0] ** 2
        return join, meeting

    def _around(self, into: Option, arms: list[tuple[Option, ...]], row: tuple[tuple[int, ...], Kit]) -> Met:
        met = self.met(into, self._of(arms, row), row[1])
        assert met is not None  # others are no rows
        return met

    @staticmethod
    def _of(arms: list[tuple[Option, ...]], row: tuple[tuple[int, ...], Kit]) -> list[Option]:
        """Return the arms in the bores of a set."""
        return [options[number] for options, number in zip(arms, row[0], strict=True)]

    def _tables(self, into: Option, arms: list[tuple[Option, ...]], rows: Rows, around: dict[int, Met]) -> Floats:
        """Return the packed tables of every set, shape (sets, 1 + arms, columns)."""
        numbers = np.array([numbers for numbers, _ in rows], np.int64).reshape(len(rows), len(arms))
        tables = np.empty((len(rows), len(arms) + 1, columns.FLOAT_COLUMNS))
        tables[:, 0] = self._line(into, None)
        for column, options in enumerate(arms):
            tables[:, column + 1] = np.array([self._line(arm, into) for arm in options])[numbers[:, column]]
        for line, met in around.items():
            tables[line] = [self._line(met.into, None), *(self._line(arm, met.into) for arm in met.arms)]
        return tables

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

    def _line(self, option: Option, into: Option | None) -> Floats:
        """Return a run's row of a packed table, as an arm of `into`."""
        key = (option.run.index, option.key, 0.0 if into is None else into.run.start)
        if key not in self.lines:
            self.lines[key] = self._filled(option, into)
        return self.lines[key]

    def _filled(self, option: Option, into: Option | None) -> Floats:
        line = np.zeros(columns.FLOAT_COLUMNS)
        arm = None if into is None else self.arm(option, into)
        tree.fill(line, placed(option.row, -1, arm), self.shop.density, float(self.shop.air.viscosity))
        return line

    def arm(self, option: Option, into: Option) -> Arm | None:
        """Return how a run enters its junction; None where no law answers these bores."""
        key = (option.run.index, option.run.end, into.run.start)
        if key not in self.arms:
            found = Found()
            arm = junction_laws.arm(found, self.request, self.shop.shape, *key)
            self.arms[key] = None if found.faults else arm
        return self.arms[key]

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
        key = (index, end, start, length, alone)
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
