"""What a tree needs, run by run and in the direction of flow, before any stock list is looked at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeGuard

from airbough.wire.collector import DischargePiece
from airbough.wire.fitting import Elbow, ElbowPair, RunFitting
from airbough.wire.problem import Fault
from airbough.wire.tree import Run
from airbough_service.catalogue import Duct
from airbough_service.core.laws import polyline
from airbough_service.core.laws.fitting_room import of_elbow
from airbough_service.questions.parts_list.fittings import (
    at_hood,
    centreline_length,
    change,
    fittings_of,
    gate_of,
    into_parent,
)
from airbough_service.questions.parts_list.parts import (
    ALIKE,
    Need,
    Part,
    Spot,
)
from airbough_service.shop import paths
from airbough_service.shop.pieces import Found, course, length_of, stretch_of
from airbough_service.shop.shop import Shop

_ROUNDING: Final = 0.002  # m, by which stretches written to a tape's marks may miss the run's length


@dataclass(frozen=True, slots=True)
class RunNeeds:
    """One run, or one piece after the fan: its parts in the direction of flow; `length` is its straight duct, m.

    `hose_assumed`: whether the catalogue told how far a hose is pulled out.
    """

    id: str
    at: str
    length: float
    duct: Duct | None
    parts: tuple[Part, ...]
    stretches_told: bool
    unknown_lengths: tuple[str, ...] = ()
    hose_assumed: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """The caller's stretches of a run, m, and where they stand in the request."""

    at: str
    lengths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Asking:
    """How lengths are meant, and what of the pieces the stock decides.

    Attributes:
        centreline: whether a run's length counts its fittings too.
        own_length: a fitting's own length where the stock tells it, m.
        reducing: the runs that begin at a wye whose straight changes size.
    """

    centreline: bool
    own_length: Callable[[Need], float | None]
    reducing: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Parts:
    """A run's pieces but its straights: before the fittings, for each fitting of the document, and after them."""

    first: tuple[Part, ...]
    fitted: tuple[tuple[Part, ...], ...]
    last: tuple[Part, ...] = ()


def run_needs(shop: Shop, index: int, told: Told | None, asking: Asking, faults: list[Fault]) -> RunNeeds:
    """Return one run's parts: gate and port change at a hood, straights and fittings, the change into the next run.

    Args:
        shop: the tree.
        index: number of the run in the document.
        told: the caller's stretches.
        asking: how lengths are meant.
        faults: gathers what is wrong.
    """
    known, path = shop.runs[index], f"runs[{index}]"
    run = known.run
    wall = None if run.wall_thickness is None else float(run.wall_thickness)
    spot = Spot(
        run.id, path, known.wall.duct, wall, stretch_of(known.wall, run), known.wall.assumed_stretch is not None
    )
    parts = Parts(
        (*at_hood(spot, run, known.start), *gate_of(spot, run, known.start)),
        tuple(fittings_of(spot, run.fittings, path, known.start)),
        tuple(into_parent(shop, spot, index, asking.reducing)),
    )
    return _filled(spot, length_of(run), _laid(run, known.start), parts, asking, told, faults)


def discharge_needs(shop: Shop, index: int, asking: Asking, faults: list[Fault]) -> RunNeeds:
    """Return the parts of one piece after the fan, the change from the piece before it included."""
    known, path = shop.discharge[index], f"collector.discharge[{index}]"
    assert shop.request.collector is not None
    asked = shop.request.collector.discharge[index]
    spot = Spot(
        path, path, known.wall.duct, None, stretch_of(known.wall, asked), known.wall.assumed_stretch is not None
    )
    before = shop.discharge[index - 1].end if index else known.start
    parts = Parts(
        tuple(change(spot, path, before, known.start, None)),
        tuple(fittings_of(spot, asked.fittings, path, known.start)),
    )
    return _filled(spot, float(asked.length), _laid(asked, known.start), parts, asking, None, faults)


def counts_fittings(run: Run, needs: RunNeeds, own_length: Callable[[Need], float | None]) -> bool:
    """Return whether a run's length is that of its path, and pieces that take some of it are no duct.

    Args:
        run: in SI.
        needs: of it.
        own_length: as of `Asking`.
    """
    if run.path is None or abs(length_of(run) - paths.centreline(run.path).length) > _ROUNDING:
        return False
    pieces = [part.need for part in needs.parts if part.straight is None and not part.loose]
    return any(centreline_length(need, own_length(need)) != 0.0 for need in pieces)


@dataclass(frozen=True, slots=True)
class Laid:
    """A run's bore at its start, m, and where its straights lie if the caller does not say: before each fitting, and
    after the last, its share of the length.
    """

    bore: float
    shares: tuple[float, ...]
    by_path: bool = False


def _laid(run: Run | DischargePiece, bore: float) -> Laid:
    """Return where a run's straights lie: as its path says, else those of each bore all before the first fitting on
    them.
    """
    own = _along_path(run, bore) if isinstance(run, Run) else None
    if own is not None:
        return Laid(bore, own, by_path=True)
    along, length = course(Found(), run), length_of(run)
    shares = [0.0] * (len(run.fittings) + 1)
    for part, begin in zip(along.parts, along.begins, strict=True):
        shares[begin] += part.length / length if length > 0.0 else 1.0
    return Laid(bore, tuple(shares))


def _along_path(run: Run, bore: float) -> tuple[float, ...] | None:
    """Return the shares of the straights between the corners of a run's path, less what their elbows take.

    None where it has no path, or its fittings are not one elbow for each corner.
    """
    line = paths.points(run)[::-1]
    corners = polyline.turns(line, paths.STRAIGHT_ON)
    elbows = [one for one in run.fittings if _at_one_corner(one)]
    if not corners or not len(elbows) == len(run.fittings) == len(corners):
        return None
    taken = [of_elbow(bore, float(one.angle), float(one.radius_ratio or 0.0)).corner_to_end for one in elbows]
    ends = [0.0, *(corner.at for corner in corners), polyline.length(line)]
    takes = [0.0, *taken, 0.0]
    free = [max(ends[k + 1] - ends[k] - takes[k] - takes[k + 1], 0.0) for k in range(len(ends) - 1)]
    return tuple(length / sum(free) for length in free) if sum(free) > 0.0 else None


def _at_one_corner(fitting: RunFitting) -> TypeGuard[Elbow | ElbowPair]:
    """Return whether a fitting turns round one corner of a path: an elbow, or two of them one on the other."""
    close = isinstance(fitting, Elbow) or (isinstance(fitting, ElbowPair) and float(fitting.spacer_ratio) == 0.0)
    return close and fitting.count == 1 and fitting.radius_ratio is not None  # type: ignore[union-attr]  # both have it


def _filled(
    spot: Spot, length: float, laid: Laid, parts: Parts, asking: Asking, told: Told | None, faults: list[Fault]
) -> RunNeeds:
    """Put the straights between the fittings: where the caller says, else where the changes of bore put them."""
    taken, unknown = _taken(parts, asking)
    spacers = sum(part.straight or 0.0 for group in parts.fitted for part in group)
    free = length - spacers - taken
    if free < -ALIKE * max(length, 1.0e-3):
        detail = "its fittings and their spacers are longer than the run"
        faults.append(Fault(path=f"{spot.at}.length", code="shorter-than-fittings", detail=detail))
    free = max(free, 0.0)
    if told is not None:
        _check(told, free, len(parts.fitted), faults)
    stretches = tuple(share * free for share in laid.shares) if told is None else _scaled(told.lengths, free)
    row, bore = [*parts.first], laid.bore
    for number in range(max(len(parts.fitted) + 1, len(stretches))):
        if number < len(stretches) and stretches[number] > ALIKE:
            row.append(spot.straight(stretches[number], bore))
        if number < len(parts.fitted):
            row += parts.fitted[number]
            bore = parts.fitted[number][-1].downstream_bore if parts.fitted[number] else bore
    placed = told is not None or laid.by_path or not parts.fitted or free <= ALIKE
    return RunNeeds(spot.id, spot.at, free + spacers, spot.duct, (*row, *parts.last), placed, unknown, spot.assumed)


def _taken(parts: Parts, asking: Asking) -> tuple[float, tuple[str, ...]]:
    """Return what the fittings take of the centreline, m, and the paths of those whose length is not known."""
    if not asking.centreline:
        return 0.0, ()
    pieces = [*parts.first, *(part for group in parts.fitted for part in group), *parts.last]
    sized = [
        (part.at, centreline_length(part.need, asking.own_length(part.need)))
        for part in pieces
        if part.straight is None and not part.loose
    ]
    unknown = dict.fromkeys(at for at, size in sized if size is None)
    return sum(size or 0.0 for _, size in sized), tuple(unknown)


def _scaled(lengths: tuple[float, ...], free: float) -> tuple[float, ...]:
    """Return the caller's lengths, their rounding taken out so that they add up to the straight duct."""
    whole = sum(lengths)
    return tuple(length * free / whole for length in lengths) if whole > 0.0 else lengths


def _check(told: Told, free: float, fittings: int, faults: list[Fault]) -> None:
    """Note stretches that do not fit the run."""
    detail = None
    if len(told.lengths) != fittings + 1:
        detail = f"this run has {fittings} fittings, so it takes {fittings + 1} lengths"
    elif abs(sum(told.lengths) - free) > _ROUNDING + ALIKE * free:
        detail = "the lengths must add up to the run's straight duct, within 2 mm"
    if detail is not None:
        faults.append(Fault(path=told.at, code="stretches-do-not-fit", detail=detail))
