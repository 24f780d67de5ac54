"""How runs may meet: every set of bores with every way to join them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from airbough.wire.tree import (
    Branch,
    Straight,
    Tree,
)
from airbough_service.core import deadline
from airbough_service.questions.sizing.joints import Buyer, Joint, Kit
from airbough_service.questions.sizing.stock import Shelf

Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Ways:
    """Every set of bores in which runs may meet, each with every way to join them: n rows.

    Attributes:
        numbers: shape (n, arms), which of its bores each arm has.
        kits: shape (n,), of Kit.
        costs: shape (n,), of their pieces.
        lengths: of the changes of size of straight arms, m; None for abrupt.
        length: shape (n,), which of `lengths` a row has; -1 where none changes size, or where it is worked around.
        around: rows whose wye is the next size of one that the stock has not.
    """

    numbers: Numbers
    kits: NDArray[np.object_]
    costs: NDArray[np.float64]
    lengths: tuple[float | None, ...]
    length: Numbers
    around: tuple[int, ...]


@dataclass(slots=True)
class _Listed:
    """The sets of bores that were looked at so far for arms that meet alike, and every way to join each; it grows.

    Attributes:
        kits_of: returns every way to join arms that end in these bores, nm.
        places: number of each set.
        begin: by set, how many ways stand before its own; one more than sets.
        kits: one set's ways behind another's.
        costs: of their pieces.
        lengths: of the changes of size, m, each once.
        length: by way, which of `lengths` it has; -1 where none changes size, or where it is worked around.
        around: by way, whether it is.
        told: what was told, by bores of each arm.
    """

    kits_of: Callable[[tuple[int, ...]], list[Kit]]
    places: dict[tuple[int, ...], int] = field(default_factory=dict)
    begin: list[int] = field(default_factory=lambda: [0])
    kits: list[Kit] = field(default_factory=list)
    costs: list[float] = field(default_factory=list)
    lengths: dict[float | None, int] = field(default_factory=dict)
    length: list[int] = field(default_factory=list)
    around: list[bool] = field(default_factory=list)
    told: dict[tuple[tuple[int, ...], ...], Ways] = field(default_factory=dict)

    def ways(self, ends: tuple[tuple[int, ...], ...]) -> Ways:
        """Return every way to join arms that end in some of these bores each, nm."""
        if ends not in self.told:
            self.told[ends] = self._of(ends)
        return self.told[ends]

    def _of(self, ends: tuple[tuple[int, ...], ...]) -> Ways:
        count, places = prod(map(len, ends)), self.places
        for one in product(*ends):
            if one not in places:
                self._add(one)
        place = np.fromiter(map(places.__getitem__, product(*ends)), np.int64, count)
        begin = np.array(self.begin, np.int64)
        many = begin[place + 1] - begin[place]
        sets = np.repeat(np.arange(count), many)
        rows = np.arange(len(sets)) - np.repeat(np.cumsum(many) - many, many) + begin[place][sets]
        numbers = np.empty((len(sets), len(ends)), np.int64)
        for column in range(len(ends) - 1, -1, -1):
            sets, numbers[:, column] = np.divmod(sets, max(len(ends[column]), 1))
        return Ways(
            numbers=numbers,
            kits=np.fromiter(self.kits, np.object_, len(self.kits))[rows],
            costs=np.array(self.costs, float)[rows],
            lengths=tuple(self.lengths),
            length=np.array(self.length, np.int64)[rows],
            around=tuple(np.flatnonzero(np.array(self.around, bool)[rows]).tolist()),
        )

    def _add(self, ends: tuple[int, ...]) -> None:
        """List every way to join arms that end in these bores, nm."""
        deadline.check()
        for kit in self.kits_of(ends):
            number = -1
            if kit.changed is not None:
                number = self.lengths.setdefault(kit.length, len(self.lengths))
            self.kits.append(kit)
            self.costs.append(kit.cost)
            self.length.append(-1 if kit.worked_around else number)
            self.around.append(kit.worked_around)
        self.places[ends] = len(self.begin) - 1
        self.begin.append(len(self.kits))


@dataclass(frozen=True, slots=True)
class Joining:
    """What of a junction does not depend on bores.

    Attributes:
        straight: by arm.
        angle: of its branches.
        duct: of the run that the arms flow into.
        kept: the junction as the document has it, whatever the stock; by bores; None where not all its runs are fixed.
    """

    straight: tuple[bool, ...]
    angle: float | None
    duct: str | None
    kept: Callable[[Joint], Kit] | None

    def ways(self, ends: tuple[tuple[int, ...], ...], outlet: int, shelf: Shelf) -> Ways:
        """Return every way to join arms that end in some of these bores each, nm, to one that begins in another."""
        kept = self.kept
        if kept is not None:
            return _Listed(lambda own: [kept(Joint(self.straight, own, outlet, self.angle, self.duct))]).ways(ends)
        key = ("ways", self.straight, outlet, self.angle, self.duct)
        if key not in shelf.joints:
            shelf.joints[key] = _Listed(Buyer(self.straight, outlet, self.angle, self.duct, shelf).kits)
        listed: _Listed = shelf.joints[key]  # type: ignore[assignment]  # only this function fills it
        return listed.ways(ends)


def joining(request: Tree, arms: Sequence[int], into: int, *, kept: bool) -> Joining:
    """Return how runs, by number, meet; `kept`: all of them keep their bores."""
    joins = [request.runs[arm].join for arm in arms]
    return Joining(
        tuple(not isinstance(join, Branch) for join in joins),
        next((float(join.angle) for join in joins if isinstance(join, Branch)), None),
        request.runs[into].duct,
        (lambda joint: _kept(request, arms, joint)) if kept else None,
    )


def _kept(request: Tree, arms: Sequence[int], joint: Joint) -> Kit:
    """Return the junction as the document has it; nothing of it is bought."""
    changed = joint.changed
    if changed is None:
        return Kit(())
    join = request.runs[arms[changed]].join
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    return Kit((), changed, length)
