"""One junction of given bores, bought from the stock: wyes of every kind with the tapers of their straight runs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from typing import NamedTuple

from airbough_service.questions.sizing.stock import (
    CHANGES,
    Kind,
    Part,
    Shelf,
    Sought,
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


class Kit(NamedTuple):
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
        return wye_word(self.straight)


def wye_word(straight: tuple[bool, ...]) -> str:
    """Return the kind of wye in which several arms meet; straight: by arm."""
    if not any(straight):
        return "symmetrical-wye"
    return "wye" if len(straight) == 2 else "double-wye"


@dataclass(frozen=True, slots=True)
class Buyer:
    """Buys junctions with the same arms, angle and outlet; pieces that several junctions share are found once.

    Attributes:
        straight: by arm.
        outlet: bore of the run that the arms flow into, nm.
        angle: of the branches.
        duct: of that run.
        shelf: the stock.
    """

    straight: tuple[bool, ...]
    outlet: int
    angle: float | None
    duct: str | None
    shelf: Shelf

    @property
    def at(self) -> int:
        """Number of the straight arm; 0 where none is."""
        return self.straight.index(True) if any(self.straight) else 0

    @property
    def reducing(self) -> set[tuple[int, ...]]:
        """The arms' bores, nm, of the wyes in the stock whose straight changes size."""
        word, key = wye_word(self.straight), ("reducing", wye_word(self.straight))
        if not any(self.straight):
            return set()
        if key not in self.shelf.joints:
            found: dict[int, list[tuple[int, ...]]] = {}
            for own, bores in self.shelf.fittings:
                if own == word and bores[0] != bores[-1]:
                    found.setdefault(bores[-1], []).append(bores[:-1])
            self.shelf.joints[key] = found
        stocked = self.shelf.joints[key].get(self.outlet, ())  # type: ignore[attr-defined]  # only this fills it
        return {
            (*branches[: self.at], bores[0], *branches[self.at :])
            for bores in stocked
            for branches in permutations(bores[1:])
        }

    def kits(self, ends: tuple[int, ...]) -> list[Kit]:
        """Return every way to join arms that end in these bores, nm."""
        found = self.as_asked(ends)
        if found or len(ends) == 1:
            return found
        return next_size(Joint(self.straight, ends, self.outlet, self.angle, self.duct), self.shelf)

    def as_asked(self, ends: tuple[int, ...]) -> list[Kit]:
        """Return every way to join them by pieces of just these bores."""
        if len(ends) > 1:
            return self._wyes(ends)
        if not self.straight[0] or ends[0] == self.outlet:
            return [Kit(())]
        return [Kit((part,), 0, part.fitting_length) for part in self.changes_from(ends[0])]

    def kept(self, joint: Joint) -> tuple[Part, ...]:
        """Return the cheapest pieces that join arms as they stand, one that the stock lacks without a price."""
        whole = min(self.as_asked(joint.ends), key=lambda kit: kit.cost, default=None)
        if whole is not None:
            return whole.parts
        parts = []
        if joint.changed is not None:
            end = joint.ends[joint.changed]
            lacking = Part(Kind(CHANGES[0], (end, self.outlet)))
            parts.append(min(self.changes_from(end), key=lambda part: part.cost, default=lacking))
        if len(joint.ends) > 1:
            along = (self.outlet,) if any(self.straight) else ()
            lacking = Part(Kind(joint.word, (*along, *joint.branches, self.outlet), self.angle))
            parts.append(self.even(joint.branches) or lacking)
        return tuple(parts)

    def _wyes(self, ends: tuple[int, ...]) -> list[Kit]:
        """Return the wyes of just these bores, with the changes of size of their straight arms."""
        if not any(self.straight):
            part = self.even(tuple(sorted(ends)))
            return [] if part is None else [Kit((part,))]
        at = self.at
        branches = tuple(sorted(ends[:at] + ends[at + 1 :]))
        even = self.even(branches)
        if ends[at] == self.outlet:
            return [] if even is None else [Kit((even,))]
        bores = (ends[at], *branches, self.outlet)
        out = []
        if (wye_word(self.straight), bores) in self.shelf.fittings:
            out = [Kit((part,), at, part.fitting_length) for part in self.shelf.reducing(self._asked(bores))]
        if even is not None:
            out += [Kit((part, even), at, part.fitting_length) for part in self.changes_from(ends[at])]
        return out

    def _asked(self, bores: tuple[int, ...]) -> Sought:
        return Sought(Kind(wye_word(self.straight), bores, self.angle), self.duct)

    def even(self, branches: tuple[int, ...]) -> Part | None:
        """Return the wye whose straight keeps its size, or that of branches alone; their bores rising."""
        inlets = (self.outlet, *branches) if any(self.straight) else branches
        asked, joints = self._asked((*inlets, self.outlet)), self.shelf.joints
        if asked not in joints:
            joints[asked] = self.shelf.fitting(asked)
        return joints[asked]  # type: ignore[return-value]  # only this function fills it

    def changes_from(self, end: int) -> list[Part]:
        """Return the changes of size from the straight arm's end, nm, to the run that it flows into."""
        key, joints = ("changes", end, self.outlet, self.duct), self.shelf.joints
        if key not in joints:
            words = CHANGES[:1] if self.shelf.any_fittings else CHANGES
            asked = [Sought(Kind(word, (end, self.outlet)), self.duct) for word in words]
            joints[key] = [part for one in asked for part in self.shelf.changes(one)]
        return joints[key]  # type: ignore[return-value]  # only this function fills it


def next_size(joint: Joint, shelf: Shelf) -> list[Kit]:
    """Return a wye of the next size with the changes of size that it needs, if the stock has them.

    Its inlets are no narrower than the arms and no wider than its outlet, its straight one just as wide. Of such wyes
    that with which the fewest sizes change, then the narrowest, then the cheapest; of changes the cheapest.
    """
    if max(joint.ends) > joint.outlet:
        return []
    able = []
    for part in shelf.wyes(Sought(Kind(joint.word, (), joint.angle), joint.duct)):
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
    found = [part for word in CHANGES for part in shelf.changes(Sought(Kind(word, bores), duct))]
    return min(found, key=lambda part: part.cost, default=None)
