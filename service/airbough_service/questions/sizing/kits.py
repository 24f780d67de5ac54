"""How runs may meet: every set of bores with every way to join them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import product
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough.wire.tree import (
    Branch,
    Straight,
    Tree,
)
from airbough_service.core import deadline
from airbough_service.questions.sizing.joints import Buyer, Joint, Kit
from airbough_service.questions.sizing.stock import Part, Shelf

Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Bores: TypeAlias = tuple[int, ...]
NONE: Final = -1


@dataclass(frozen=True, slots=True)
class Kits:
    """One way to join runs in each row, as pieces that many rows share; made into a `Kit` where one is asked for.

    Attributes:
        at: number of the straight arm that changes size where `change` has a piece.
        parts: pieces by number.
        others: kits of other pieces by number.
        change: shape (n,), number of the piece in which the straight arm changes size; NONE without one.
        even: shape (n,), number of the wye; NONE without one.
        other: shape (n,), number of the kit that is none of these two; NONE where it is of them.
    """

    at: int
    parts: list[Part]
    others: list[Kit]
    change: Numbers
    even: Numbers
    other: Numbers

    def __getitem__(self, row: int) -> Kit:
        """Return the kit of a row."""
        if self.other[row] != NONE:
            return self.others[int(self.other[row])]
        own = tuple(self.parts[number] for number in (self.change[row], self.even[row]) if number != NONE)
        return Kit(own, self.at, own[0].fitting_length) if self.change[row] != NONE else Kit(own)

    def of(self, rows: Numbers) -> Kits:
        """Return the kits of some rows."""
        return replace(self, change=self.change[rows], even=self.even[rows], other=self.other[rows])


def joined(parts: Sequence[Kits]) -> Kits:
    """Return the kits of several parts of one junction's rows."""
    change, even, other = (
        np.concatenate([getattr(part, name) for part in parts]) for name in ("change", "even", "other")
    )
    return replace(parts[0], change=change, even=even, other=other)


def no_kits(rows: int) -> Kits:
    """Return rows that join nothing."""
    none = np.full(rows, NONE)
    return Kits(0, [], [], none, none, none)


@dataclass(frozen=True, slots=True)
class Ways:
    """Every set of bores in which runs may meet in several bores of another, with every way to join them: n rows.

    Attributes:
        of: shape (n,), which bore the run has that they flow into, rising.
        numbers: shape (n, arms), which of its bores each arm has.
        kits: by row.
        costs: shape (n,), of their pieces.
        length: shape (n,), which of the stock's lengths (`lengths_of`) the change of size of the straight arm has;
            NONE where it does not change, or where the wye is worked around.
        around: rows whose wye is the next size of one that the stock has not.
    """

    of: Numbers
    numbers: Numbers
    kits: Kits
    costs: NDArray[np.float64]
    length: Numbers
    around: tuple[int, ...]


def lengths_of(shelf: Shelf) -> dict[float | None, int]:
    """Return the numbers of all lengths of changes of size at junctions met so far, m; of None for abrupt."""
    return shelf.joints.setdefault("lengths", {})  # type: ignore[return-value]  # only this function fills it


@dataclass(slots=True)
class _Listed:
    """Ways to join arms that meet alike, reckoned as columns; what is known of bores is kept.

    Attributes:
        buyer: of the pieces of each outlet's junctions, by the outlet's bore, nm.
        straight: by arm.
        at: number of the straight arm; 0 where none is.
        lengths: as of `lengths_of`.
        kept: the one way to join arms of these bores to an outlet, nm, as it stands in the document; None to choose.
        parts, costs, length: pieces, what each costs, and of changes of size the number of its length.
        others: kits of other pieces.
        evens: number of the wye whose straight keeps its size, by the branches' bores and the outlet's.
        changes: by the straight arm's end and the outlet, the first of its changes of size and how many they are.
        around: kits of the sets that are not bought so, by the arms' bores and the outlet: the first and how many.
        told: what was told, by bores of each arm and of the outlet.
    """

    buyer: Callable[[int], Buyer]
    straight: tuple[bool, ...]
    at: int
    lengths: dict[float | None, int]
    kept: Callable[[tuple[int, ...], int], Kit] | None = None
    parts: list[Part] = field(default_factory=list)
    costs: list[float] = field(default_factory=list)
    length: list[int] = field(default_factory=list)
    others: list[Kit] = field(default_factory=list)
    evens: dict[tuple[Bores, int], int] = field(default_factory=dict)
    changes: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    around: dict[tuple[Bores, int], tuple[int, int]] = field(default_factory=dict)
    told: dict[tuple[tuple[Bores, ...], Bores], Ways] = field(default_factory=dict)

    def ways(self, ends: tuple[Bores, ...], outlets: Bores) -> Ways:
        """Return every way to join arms that end in some of these bores each, nm, to each of these outlets."""
        if (ends, outlets) not in self.told:
            deadline.check()
            self.told[ends, outlets] = self._of(ends, outlets)
        return self.told[ends, outlets]

    def _of(self, ends: tuple[Bores, ...], outlets: Bores) -> Ways:
        shape = (len(outlets), *map(len, ends))
        change, many, even = self._bought(ends, outlets)
        other = np.full(shape, NONE)
        for place in np.argwhere(self._not_so(ends, outlets, many)).tolist():
            at = tuple(place)
            bores = tuple(own[n] for own, n in zip(ends, place[1:], strict=True))
            other[at], many[at] = self._around(bores, outlets[place[0]])
        many = many.ravel()
        sets = np.repeat(np.arange(many.size), many)
        nth = np.arange(sets.size) - np.repeat(np.cumsum(many) - many, many)
        change, even, other = change.ravel()[sets], even.ravel()[sets], other.ravel()[sets]
        otherwise = other != NONE
        change, even = np.where(otherwise, NONE, change), np.where(otherwise, NONE, even)
        change, other = change + nth * (change != NONE), other + nth * otherwise
        places = list(np.unravel_index(sets, shape) if all(shape) else np.empty((len(shape), 0), np.int64))
        numbers = np.stack(places[1:], axis=1)
        return self._told(np.asarray(places[0]), numbers, change, even, other)

    def _told(self, of: Numbers, numbers: Numbers, change: Numbers, even: Numbers, other: Numbers) -> Ways:
        costs, length = np.array([*self.costs, 0.0]), np.array([*self.length, NONE], np.int64)
        own = costs[change] + costs[even]  # the last stands for no piece
        lengths = length[change]
        around = []
        for row in np.flatnonzero(other != NONE).tolist():
            kit = self.others[other[row]]
            own[row] = kit.cost
            if kit.worked_around:
                around.append(row)
            elif kit.changed is not None:
                lengths[row] = self._length(kit.length)
        kits = Kits(self.at, self.parts, self.others, change, even, other)
        return Ways(of, numbers, kits, own, lengths, tuple(around))

    def _bought(self, ends: tuple[Bores, ...], outlets: Bores) -> tuple[Numbers, Numbers, Numbers]:
        """Return, by outlet and set, the first change of size and how many there are to choose from, and the wye."""
        shape, straight, at = (len(outlets), *map(len, ends)), self.straight, self.at
        change, many, even = np.full(shape, NONE), np.ones(shape, np.int64), np.full(shape, NONE)
        if self.kept is not None:
            return change, many * 0, even
        if straight[at]:
            own = np.array([self._changes(end, outlet) for outlet in outlets for end in ends[at]], np.int64)
            along = [shape[0], *(size if arm == at else 1 for arm, size in enumerate(shape[1:]))]
            own = own.reshape(-1, 2).T.reshape(2, *along)
            change, many = np.broadcast_to(own[0], shape), many * own[1]
        if len(ends) > 1:
            branches = [tuple(sorted(bores)) for bores in product(*(own for arm, own in enumerate(ends)
                                                                    if not straight[arm]))]  # fmt: skip
            wyes = np.array([self._even(bores, outlet) for outlet in outlets for bores in branches], np.int64)
            along = [shape[0], *(1 if is_straight else size for is_straight, size in
                                 zip(straight, shape[1:], strict=True))]  # fmt: skip
            even = np.broadcast_to(wyes.reshape(along), shape)
            many = many * (even != NONE)
        return change, many, even

    def _not_so(self, ends: tuple[Bores, ...], outlets: Bores, many: Numbers) -> Flags:
        """Return the sets that are not bought as a wye with a change of size before it, or not only so."""
        if self.kept is not None:
            return np.asarray(many == 0)
        if len(ends) == 1:
            return np.zeros(many.shape, np.bool_)
        out: Flags = np.asarray(many == 0)
        for arm, own in enumerate(ends):  # no wye of the next size has inlets wider than its outlet
            along = [1] * len(ends)
            along[arm] = len(own)
            fits = np.array(own, np.int64) <= np.array(outlets, np.int64)[:, None]
            out &= fits.reshape(len(outlets), *along)
        for number, outlet in enumerate(outlets):
            for bores in self.buyer(outlet).reducing:
                axes = [[n for n, end in enumerate(own) if end == bore] for own, bore in zip(ends, bores, strict=True)]
                out[np.ix_([number], *axes)] = True
        return out

    def _around(self, ends: Bores, outlet: int) -> tuple[int, int]:
        """Return the first of the kits that join arms of these bores, nm, among the others, and how many they are."""
        if (ends, outlet) not in self.around:
            deadline.check()
            kits = self.buyer(outlet).kits(ends) if self.kept is None else [self.kept(ends, outlet)]
            self.around[ends, outlet] = (len(self.others), len(kits))
            self.others += kits
        return self.around[ends, outlet]

    def _changes(self, end: int, outlet: int) -> tuple[int, int]:
        """Return the first change of size of a straight arm that ends in a bore, nm, and how many; NONE and 1: no need.

        None and 0 where the stock has none.
        """
        if end == outlet:
            return NONE, 1
        if (end, outlet) not in self.changes:
            parts = self.buyer(outlet).changes_from(end)
            self.changes[end, outlet] = (len(self.parts) if parts else NONE, len(parts))
            for part in parts:
                self._add(part, self._length(part.fitting_length))
        return self.changes[end, outlet]

    def _even(self, branches: Bores, outlet: int) -> int:
        if (branches, outlet) not in self.evens:
            part = self.buyer(outlet).even(branches)
            self.evens[branches, outlet] = NONE if part is None else len(self.parts)
            if part is not None:
                self._add(part, NONE)
        return self.evens[branches, outlet]

    def _length(self, length: float | None) -> int:
        return self.lengths.setdefault(length, len(self.lengths))

    def _add(self, part: Part, length: int) -> None:
        self.parts.append(part)
        self.costs.append(part.cost)
        self.length.append(length)


@dataclass(frozen=True, slots=True)
class Joining:
    """What of a junction does not depend on bores.

    Attributes:
        straight: by arm.
        angle: of its branches.
        duct: of the run that the arms flow into.
        kept: the change of size as the document has it, and its length, m; None where not all its runs are fixed.
    """

    straight: tuple[bool, ...]
    angle: float | None
    duct: str | None
    kept: Callable[[Joint], tuple[int, float | None] | None] | None

    def ways(self, ends: tuple[Bores, ...], outlets: Bores, shelf: Shelf) -> Ways:
        """Return every way to join arms that end in some of these bores each, nm, to a run in some of others."""
        kept, key = self.kept, ("ways", self.straight, self.angle, self.duct)
        if kept is not None:
            return self._listed(shelf, lambda own, to: self._kept(self._joint(own, to), shelf)).ways(ends, outlets)
        if key not in shelf.joints:
            shelf.joints[key] = self._listed(shelf)
        listed: _Listed = shelf.joints[key]  # type: ignore[assignment]  # only this function fills it
        return listed.ways(ends, outlets)

    def _listed(self, shelf: Shelf, kept: Callable[[Bores, int], Kit] | None = None) -> _Listed:
        buyer = cache(lambda outlet: Buyer(self.straight, outlet, self.angle, self.duct, shelf))
        at = self.straight.index(True) if any(self.straight) else 0
        return _Listed(buyer, self.straight, at, lengths_of(shelf), kept)

    def _joint(self, ends: Bores, outlet: int) -> Joint:
        return Joint(self.straight, ends, outlet, self.angle, self.duct)

    def _kept(self, joint: Joint, shelf: Shelf) -> Kit:
        """Return the junction as the document has it, whose pieces are bought as those of a fixed run.

        The stock's change of size may be of another length.
        """
        assert self.kept is not None
        parts = Buyer(self.straight, joint.outlet, self.angle, self.duct, shelf).kept(joint)
        changed = self.kept(joint)
        return Kit(parts) if changed is None else Kit(parts, *changed)


def joining(request: Tree, arms: Sequence[int], into: int, *, kept: bool) -> Joining:
    """Return how runs, by number, meet; `kept`: all of them keep their bores."""
    joins = [request.runs[arm].join for arm in arms]
    return Joining(
        tuple(not isinstance(join, Branch) for join in joins),
        next((float(join.angle) for join in joins if isinstance(join, Branch)), None),
        request.runs[into].duct,
        (lambda joint: _changed(request, arms, joint)) if kept else None,
    )


def _changed(request: Tree, arms: Sequence[int], joint: Joint) -> tuple[int, float | None] | None:
    """Return the straight arm that changes size where runs meet, as in the document, and that change's length, m."""
    changed = joint.changed
    if changed is None:
        return None
    join = request.runs[arms[changed]].join
    return changed, (float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None)
