"""The pieces in which runs meet: wyes of every kind with the tapers of their straight runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from operator import getitem
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough.wire.tree import (
    Branch,
    Straight,
    Tree,
)
from airbough_service.core import deadline
from airbough_service.questions.sizing.stock import (
    CHANGES,
    Asked,
    Kind,
    Part,
    Shelf,
    metres,
)


class Reduced(NamedTuple):
    """A branch that changes size before it enters its wye.

    Attributes:
        arm: its number.
        bore: of the wye's inlet, m.
        length: of the change, m; None where it is abrupt.
    """

    arm: int
    bore: float
    length: float | None


class Between(NamedTuple):
    """A wye of another size than the run that it flows into: a run of its own, of no length.

    Attributes:
        bore: of that run, m.
        change: the change of size after it.
    """

    bore: float
    change: Part


@dataclass(frozen=True, slots=True)
class Kit:
    """One way to join runs of given bores.

    Attributes:
        parts: what to buy where the arms meet.
        changed: number of the straight arm that changes size there; None where none does.
        length: of that change, m; None where it is abrupt.
        reduced: branches that change size before they enter.
        between: where the wye is of another size than what it flows into; else None.
    """

    parts: tuple[Part, ...]
    changed: int | None = None
    length: float | None = None
    reduced: tuple[Reduced, ...] = ()
    between: Between | None = None

    @property
    def cost(self) -> float:
        """What the search adds up for the pieces."""
        after = 0.0 if self.between is None else self.between.change.cost
        return sum(part.cost for part in self.parts) + after

    @property
    def worked_around(self) -> bool:
        """Whether the wye is the next size of one that the stock has not."""
        return bool(self.reduced) or self.between is not None


@dataclass(frozen=True, slots=True)
class Joint:
    """A junction of given bores: which arms are straight, where each ends, and what they flow into."""

    straight: tuple[bool, ...]
    ends: tuple[int, ...]
    outlet: int
    angle: float | None
    duct: str | None

    @property
    def changed(self) -> int | None:
        """The straight arm whose bore is not that of the outlet."""
        pairs = zip(self.straight, self.ends, strict=True)
        return next((n for n, (straight, end) in enumerate(pairs) if straight and end != self.outlet), None)

    @property
    def branches(self) -> tuple[int, ...]:
        """Bores of the branches, rising."""
        return tuple(sorted(end for straight, end in zip(self.straight, self.ends, strict=True) if not straight))

    @property
    def word(self) -> str:
        """The kind of wye in which several arms meet."""
        if not any(self.straight):
            return "symmetrical-wye"
        return "wye" if len(self.branches) == 1 else "double-wye"


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

    numbers: NDArray[np.int64]
    kits: NDArray[np.object_]
    costs: NDArray[np.float64]
    lengths: tuple[float | None, ...]
    length: NDArray[np.int64]
    around: tuple[int, ...]


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
        key = ("ways", self.straight, ends, outlet, self.angle, self.duct)
        if self.kept is not None:
            return self._ways(ends, outlet, shelf)
        if key not in shelf.joints:
            shelf.joints[key] = self._ways(ends, outlet, shelf)
        return shelf.joints[key]  # type: ignore[return-value]  # only this function fills it

    def _ways(self, ends: tuple[tuple[int, ...], ...], outlet: int, shelf: Shelf) -> Ways:
        rows: list[tuple[tuple[int, ...], Kit]] = []
        for numbers in product(*map(range, map(len, ends))):
            deadline.check()
            rows += [(numbers, kit) for kit in self._kits(tuple(map(getitem, ends, numbers)), outlet, shelf)]
        kits = [kit for _, kit in rows]
        lengths = tuple(dict.fromkeys(kit.length for kit in kits if kit.changed is not None))
        length = [
            lengths.index(kit.length) if kit.changed is not None and not kit.worked_around else -1 for kit in kits
        ]
        return Ways(
            numbers=np.array([numbers for numbers, _ in rows], np.int64).reshape(len(rows), len(ends)),
            kits=np.fromiter(kits, np.object_, len(kits)),
            costs=np.array([kit.cost for kit in kits], float),
            lengths=lengths,
            length=np.array(length, np.int64),
            around=tuple(row for row, kit in enumerate(kits) if kit.worked_around),
        )

    def _kits(self, ends: tuple[int, ...], outlet: int, shelf: Shelf) -> list[Kit]:
        """Return every way to join arms that end in these bores, nm, to one that begins in another."""
        if self.kept is not None:
            return [self.kept(Joint(self.straight, ends, outlet, self.angle, self.duct))]
        key = ("kits", self.straight, ends, outlet, self.angle, self.duct)
        if key not in shelf.joints:
            shelf.joints[key] = _bought(Joint(self.straight, ends, outlet, self.angle, self.duct), shelf)
        return shelf.joints[key]  # type: ignore[return-value]  # only this function fills it


def joining(request: Tree, arms: Sequence[int], into: int, *, kept: bool) -> Joining:
    """Return how runs, by number, meet; `kept`: all of them keep their bores."""
    joins = [request.runs[arm].join for arm in arms]
    return Joining(
        tuple(not isinstance(join, Branch) for join in joins),
        next((float(join.angle) for join in joins if isinstance(join, Branch)), None),
        request.runs[into].duct,
        (lambda joint: _kept(request, arms, joint)) if kept else None,
    )


def _bought(joint: Joint, shelf: Shelf) -> list[Kit]:
    """Return every way to join from the stock."""
    changed = joint.changed
    if len(joint.ends) == 1:
        if changed is None:
            return [Kit(())]
        return [Kit((part,), changed, part.fitting_length) for part in _changes(shelf, joint)]
    return _wyes(joint, shelf) or next_size(joint, shelf)


def _wyes(joint: Joint, shelf: Shelf) -> list[Kit]:
    """Return the wyes of just these bores, with the changes of size of their straight arms."""
    changed, outlet, word = joint.changed, joint.outlet, joint.word
    if word == "symmetrical-wye":
        part = shelf.fitting(Asked(Kind(word, (*joint.branches, outlet), joint.angle), joint.duct))
        return [] if part is None else [Kit((part,))]
    even = shelf.fitting(Asked(Kind(word, (outlet, *joint.branches, outlet), joint.angle), joint.duct))
    if changed is None:
        return [] if even is None else [Kit((even,))]
    first = joint.ends[changed]
    reducing = shelf.reducing(Asked(Kind(word, (first, *joint.branches, outlet), joint.angle), joint.duct))
    out = [Kit((part,), changed, part.fitting_length) for part in reducing]
    if even is not None:
        out += [Kit((part, even), changed, part.fitting_length) for part in _changes(shelf, joint)]
    return out


def next_size(joint: Joint, shelf: Shelf) -> list[Kit]:
    """Return a wye of the next size with the changes of size that it needs, if the stock has them.

    Its inlets are no narrower than the arms and no wider than its outlet, its straight one just as wide. Of such wyes
    that with which the fewest sizes change, then the narrowest, then the cheapest; of changes the cheapest.
    """
    if max(joint.ends) > joint.outlet:
        return []
    able = []
    for part in shelf.wyes(Asked(Kind(joint.word, (), joint.angle), joint.duct)):
        inlets, outlet = part.kind.bores[:-1], part.kind.bores[-1]
        if any(joint.straight) and inlets[0] != outlet:
            continue
        to = _inlets(joint, inlets)
        if all(end <= inlet <= outlet for end, inlet in zip(joint.ends, to, strict=True)):
            changes = sum(end != inlet for end, inlet in zip(joint.ends, to, strict=True)) + (outlet != joint.outlet)
            able.append(((changes, outlet, *sorted(inlets), part.cost), to, part))
    for _, to, part in sorted(able, key=lambda found: found[0]):
        kit = _reduced(joint, shelf, part, to)
        if kit is not None:
            return [kit]
    return []


def _inlets(joint: Joint, inlets: tuple[int, ...]) -> tuple[int, ...]:
    """Return which inlet of a wye, nm, each arm enters: a straight arm the first, branches by rising bore."""
    first = sum(joint.straight)
    out = list(inlets[:first] * len(joint.ends)) if first else list(inlets)
    branches = sorted((arm for arm, straight in enumerate(joint.straight) if not straight), key=joint.ends.__getitem__)
    for arm, inlet in zip(branches, inlets[first:], strict=True):
        out[arm] = inlet
    return tuple(out)


def _reduced(joint: Joint, shelf: Shelf, wye: Part, to: tuple[int, ...]) -> Kit | None:
    """Return a wye with the changes of size from each arm's end to its inlet, and to what they flow into."""
    parts, reduced, length, changed = [wye], [], None, None
    for arm, (end, inlet) in enumerate(zip(joint.ends, to, strict=True)):
        if end == inlet:
            continue
        change = _cheapest_change(shelf, (end, inlet), joint.duct)
        if change is None:
            return None
        parts.append(change)
        if joint.straight[arm]:
            changed, length = arm, change.fitting_length
        else:
            reduced.append(Reduced(arm, metres(inlet, shelf.preset), change.fitting_length))
    outlet, between = wye.kind.bores[-1], None
    if outlet != joint.outlet:
        change = _cheapest_change(shelf, (outlet, joint.outlet), joint.duct)
        if change is None:
            return None
        between = Between(metres(outlet, shelf.preset), change)
    return Kit(tuple(parts), changed, length, tuple(reduced), between)


def _cheapest_change(shelf: Shelf, bores: tuple[int, int], duct: str | None) -> Part | None:
    """Return the cheapest change of size between two bores, nm."""
    found = [part for word in CHANGES for part in shelf.changes(Asked(Kind(word, bores), duct))]
    return min(found, key=lambda part: part.cost, default=None)


def _changes(shelf: Shelf, joint: Joint) -> list[Part]:
    """Return the changes of size from the straight arm's end to the run that it flows into."""
    assert joint.changed is not None
    bores = (joint.ends[joint.changed], joint.outlet)
    words = CHANGES[:1] if shelf.any_fittings else CHANGES
    return [part for word in words for part in shelf.changes(Asked(Kind(word, bores), joint.duct))]


def _kept(request: Tree, arms: Sequence[int], joint: Joint) -> Kit:
    """Return the junction as the document has it; nothing of it is bought."""
    changed = joint.changed
    if changed is None:
        return Kit(())
    join = request.runs[arms[changed]].join
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    return Kit((), changed, length)
