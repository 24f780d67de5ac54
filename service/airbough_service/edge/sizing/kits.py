"""The pieces in which runs meet: wyes of every kind with the tapers of their straight runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from airbough.wire.tree import Branch, Straight, Tree
from airbough_service.edge.sizing.options import Option
from airbough_service.edge.sizing.stock import Asked, Kind, Part, Shelf, nanometres


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


def kits(request: Tree, arms: Sequence[Option], into: Option, shelf: Shelf, *, kept: bool) -> list[Kit]:
    """Return every way to join these arms; where all the runs are `kept`, that of the document, whatever the stock."""
    outlet, duct = nanometres(into.run.start), into.run.run.duct
    straights = [n for n, arm in enumerate(arms) if not isinstance(request.runs[arm.run.index].join, Branch)]
    ends = [nanometres(arm.run.end) for arm in arms]
    changed = next((n for n in straights if ends[n] != outlet), None)
    if kept:
        return [_kept(request, arms, ends, outlet, changed)]
    if len(arms) == 1:
        return [Kit(())] if changed is None else [Kit((part,), 0, part.fitting_length) for part in
                                                 _changes(shelf, ends[0], outlet, duct)]  # fmt: skip
    angle = _angle(request, arms)
    branches = tuple(sorted(end for n, end in enumerate(ends) if n not in straights))
    if not straights:
        part = shelf.fitting(Asked(Kind("symmetrical-wye", (*branches, outlet), angle), duct))
        return [] if part is None else [Kit((part,))]
    word = "wye" if len(branches) == 1 else "double-wye"
    even = shelf.fitting(Asked(Kind(word, (outlet, *branches, outlet), angle), duct))
    if changed is None:
        return [] if even is None else [Kit((even,))]
    reducing = shelf.reducing(Asked(Kind(word, (ends[changed], *branches, outlet), angle), duct))
    out = [Kit((part,), changed, part.fitting_length) for part in reducing]
    if even is not None:
        out += [Kit((part, even), changed, part.fitting_length) for part in _changes(shelf, ends[changed], outlet, duct)]
    return out


def _changes(shelf: Shelf, end: int, outlet: int, duct: str | None) -> list[Part]:
    """Return the changes of size from an arm's end to the run that it flows into."""
    return [part for word in ("taper", "abrupt-change") for part in shelf.changes(Asked(Kind(word, (end, outlet)), duct))]


def _angle(request: Tree, arms: Sequence[Option]) -> float | None:
    joins = [request.runs[arm.run.index].join for arm in arms]
    return next((float(join.angle) for join in joins if isinstance(join, Branch)), None)


def _kept(request: Tree, arms: Sequence[Option], ends: list[int], outlet: int, changed: int | None) -> Kit:
    """Return the junction as the document has it; nothing of it is bought."""
    if changed is None:
        return Kit(())
    join = request.runs[arms[changed].run.index].join
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    return Kit((), changed, length)
