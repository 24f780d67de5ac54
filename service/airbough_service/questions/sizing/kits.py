"""How runs may meet: every set of bores with every way to join them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Final

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


def no_kits() -> Kits:
    """Return one row that joins nothing."""
    none = np.full(1, NONE)
    return Kits(0, [], [], none, none, none)


@dataclass(frozen=True, slots=True)
class Ways:
    """Every set of bores in which runs may meet, each with every way to join them: n rows.

    Attributes:
        numbers: shape (n, arms), which of its bores each arm has.
        kits: by row.
        costs: shape (n,), of their pieces.
        length: shape (n,), which of the stock's lengths (`lengths_of`) the change of size of the straight arm has;
            NONE where it does not change, or where the wye is worked around.
        around: rows whose wye is the next size of one that the stock has not.
    """

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
        buyer: of the pieces.
        lengths: as of `lengths_of`.
        kept: the one way to join arms of these bores, nm, whatever the stock; None to buy it.
        parts, costs, length: pieces, what each costs, and of changes of size the number of its length.
        others: kits of other pieces.
        evens: number of the wye whose straight keeps its size, by the branches' bores.
        changes: by the straight arm's end, the first of its changes of size and how many they are.
        around: kits of the sets that are not bought so, by the arms' bores: the first and how many.
        told: what was told, by bores of each arm.
    """

    buyer: Buyer
    lengths: dict[float | None, int]
    kept: Callable[[tuple[int, ...]], Kit] | None = None
    parts: list[Part] = field(default_factory=list)
    costs: list[float] = field(default_factory=list)
    length: list[int] = field(default_factory=list)
    others: list[Kit] = field(default_factory=list)
    evens: dict[tuple[int, ...], int] = field(default_factory=dict)
    changes: dict[int, tuple[int, int]] = field(default_factory=dict)
    around: dict[tuple[int, ...], tuple[int, int]] = field(default_factory=dict)
    told: dict[tuple[tuple[int, ...], ...], Ways] = field(default_factory=dict)

    def ways(self, ends: tuple[tuple[int, ...], ...]) -> Ways:
        """Return every way to join arms that end in some of these bores each, nm."""
        if ends not in self.told:
            deadline.check()
            self.told[ends] = self._of(ends)
        return self.told[ends]

    def _of(self, ends: tuple[tuple[int, ...], ...]) -> Ways:
        shape = tuple(map(len, ends))
        change, many, even = self._bought(ends)
        other = np.full(shape, NONE)
        for place in np.argwhere(self._not_so(ends, many)):
            at = tuple(place)
            other[at], many[at] = self._around(tuple(own[n] for own, n in zip(ends, place, strict=True)))
        many = many.ravel()
        sets = np.repeat(np.arange(many.size), many)
        nth = np.arange(sets.size) - np.repeat(np.cumsum(many) - many, many)
        change, even, other = change.ravel()[sets], even.ravel()[sets], other.ravel()[sets]
        otherwise = other != NONE
        change, even = np.where(otherwise, NONE, change), np.where(otherwise, NONE, even)
        change, other = change + nth * (change != NONE), other + nth * otherwise
        numbers = np.stack(np.unravel_index(sets, shape), axis=1) if all(shape) else np.empty((0, len(shape)), np.int64)
        return self._told(numbers, change, even, other)

    def _told(self, numbers: Numbers, change: Numbers, even: Numbers, other: Numbers) -> Ways:
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
        kits = Kits(self.buyer.at, self.parts, self.others, change, even, other)
        return Ways(numbers, kits, own, lengths, tuple(around))

    def _bought(self, ends: tuple[tuple[int, ...], ...]) -> tuple[Numbers, Numbers, Numbers]:
        """Return, by set, the first change of size and how many there are to choose from, and the wye."""
        shape, straight = tuple(map(len, ends)), self.buyer.straight
        change, many, even = np.full(shape, NONE), np.ones(shape, np.int64), np.full(shape, NONE)
        at = self.buyer.at
        if self.kept is not None:
            return change, many * 0, even
        if straight[at]:
            own = np.array([self._changes(end) for end in ends[at]], np.int64).reshape(-1, 2)
            along = tuple(slice(None) if arm == at else None for arm in range(len(ends)))
            change, many = np.broadcast_to(own[:, 0][along], shape), many * own[:, 1][along]
        if len(ends) > 1:
            branches = [own for arm, own in enumerate(ends) if not straight[arm]]
            wyes = np.array([self._even(tuple(sorted(bores))) for bores in product(*branches)], np.int64)
            even = np.broadcast_to(wyes.reshape([1 if is_straight else size for is_straight, size in
                                                 zip(straight, shape, strict=True)]), shape)  # fmt: skip
            many = many * (even != NONE)
        return change, many, even

    def _not_so(self, ends: tuple[tuple[int, ...], ...], many: Numbers) -> Flags:
        """Return the sets that are not bought as a wye with a change of size before it, or not only so."""
        if self.kept is not None:
            return np.asarray(many == 0)
        if len(ends) == 1:
            return np.zeros(many.shape, np.bool_)
        out: Flags = np.asarray(many == 0)
        for arm, own in enumerate(ends):  # no wye of the next size has inlets wider than its outlet
            along = tuple(slice(None) if other == arm else None for other in range(len(ends)))
            out &= (np.array(own, np.int64) <= self.buyer.outlet)[along]
        for bores in self.buyer.reducing:
            axes = [[n for n, end in enumerate(own) if end == bore] for own, bore in zip(ends, bores, strict=True)]
            out[np.ix_(*axes)] = True
        return out

    def _around(self, ends: tuple[int, ...]) -> tuple[int, int]:
        """Return the first of the kits that join arms of these bores, nm, among the others, and how many they are."""
        if ends not in self.around:
            deadline.check()
            kits = self.buyer.kits(ends) if self.kept is None else [self.kept(ends)]
            self.around[ends] = (len(self.others), len(kits))
            self.others += kits
        return self.around[ends]

    def _changes(self, end: int) -> tuple[int, int]:
        """Return the first change of size of a straight arm that ends in a bore, nm, and how many; NONE and 1: no need.

        None and 0 where the stock has none.
        """
        if end not in self.changes:
            first, parts = NONE, []
            if end != self.buyer.outlet:
                parts = self.buyer.changes_from(end)
                first = len(self.parts) if parts else NONE
            self.changes[end] = (first, len(parts) if end != self.buyer.outlet else 1)
            for part in parts:
                self._add(part, self._length(part.fitting_length))
        return self.changes[end]

    def _even(self, branches: tuple[int, ...]) -> int:
        if branches not in self.evens:
            part = self.buyer.even(branches)
            self.evens[branches] = NONE if part is None else len(self.parts)
            if part is not None:
                self._add(part, NONE)
        return self.evens[branches]

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
        kept: the junction as the document has it, whatever the stock; by bores; None where not all its runs are fixed.
    """

    straight: tuple[bool, ...]
    angle: float | None
    duct: str | None
    kept: Callable[[Joint], Kit] | None

    def ways(self, ends: tuple[tuple[int, ...], ...], outlet: int, shelf: Shelf) -> Ways:
        """Return every way to join arms that end in some of these bores each, nm, to one that begins in another."""
        kept, lengths = self.kept, lengths_of(shelf)
        buyer = Buyer(self.straight, outlet, self.angle, self.duct, shelf)
        if kept is not None:
            joint = Joint(self.straight, (), outlet, self.angle, self.duct)
            return _Listed(buyer, lengths, lambda own: kept(replace(joint, ends=own))).ways(ends)
        key = ("ways", self.straight, outlet, self.angle, self.duct)
        if key not in shelf.joints:
            shelf.joints[key] = _Listed(buyer, lengths)
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
