"""The pieces in which runs meet: wyes of every kind with the tapers of their straight runs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from airbough.wire.tree import (
    Branch,
    Straight,
    Tree,
)
from airbough_service.questions.sizing.stock import (
    Asked,
    Kind,
    Part,
    Shelf,
)


@dataclass(frozen=True, slots=True)
class Kit:
    """One way to join runs of given bores.

    Attributes:
        parts: what to buy.
        changed: number of the arm that changes size there; None where none does.
        length: of that change, m; None where it is abrupt.
    """

    parts: tuple[Part, ...]
    changed: int | None = None
    length: float | None = None

    @property
    def price(self) -> float:
        """Price of the pieces."""
        return sum(part.price for part in self.parts)


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

    def kits(self, ends: tuple[int, ...], outlet: int, shelf: Shelf) -> list[Kit]:
        """Return every way to join arms that end in these bores, nm, to one that begins in another."""
        if self.kept is not None:
            return [self.kept(Joint(self.straight, ends, outlet, self.angle, self.duct))]
        key = (self.straight, ends, outlet, self.angle, self.duct)
        found = shelf.joints.get(key)
        if found is None:
            found = shelf.joints[key] = _bought(Joint(*key), shelf)
        return found  # type: ignore[return-value]  # only this function fills it


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
    changed, outlet = joint.changed, joint.outlet
    if len(joint.ends) == 1:
        if changed is None:
            return [Kit(())]
        return [Kit((part,), changed, part.fitting_length) for part in _changes(shelf, joint)]
    if not any(joint.straight):
        part = shelf.fitting(Asked(Kind("symmetrical-wye", (*joint.branches, outlet), joint.angle), joint.duct))
        return [] if part is None else [Kit((part,))]
    word = "wye" if len(joint.branches) == 1 else "double-wye"
    even = shelf.fitting(Asked(Kind(word, (outlet, *joint.branches, outlet), joint.angle), joint.duct))
    if changed is None:
        return [] if even is None else [Kit((even,))]
    first = joint.ends[changed]
    reducing = shelf.reducing(Asked(Kind(word, (first, *joint.branches, outlet), joint.angle), joint.duct))
    out = [Kit((part,), changed, part.fitting_length) for part in reducing]
    if even is not None:
        out += [Kit((part, even), changed, part.fitting_length) for part in _changes(shelf, joint)]
    return out


def _changes(shelf: Shelf, joint: Joint) -> list[Part]:
    """Return the changes of size from the straight arm's end to the run that it flows into."""
    assert joint.changed is not None
    bores = (joint.ends[joint.changed], joint.outlet)
    words = ("taper",) if shelf.any_fittings else ("taper", "abrupt-change")
    return [part for word in words for part in shelf.changes(Asked(Kind(word, bores), joint.duct))]


def _kept(request: Tree, arms: Sequence[int], joint: Joint) -> Kit:
    """Return the junction as the document has it; nothing of it is bought."""
    changed = joint.changed
    if changed is None:
        return Kit(())
    join = request.runs[arms[changed]].join
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    return Kit((), changed, length)
