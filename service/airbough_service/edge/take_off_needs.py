"""What a tree needs, run by run and in the direction of flow, before any stock list is looked at."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from airbough.wire.collector import DischargePiece
from airbough.wire.fitting import AbruptChange, DischargeFitting, Elbow, ElbowPair, KnownCoefficient, Offset
from airbough.wire.fitting import SlideGateFitting, Taper, TeeTurn
from airbough.wire.problem import Fault
from airbough.wire.tree import Branch, Run, Straight
from airbough_service.catalogue import Duct
from airbough_service.edge.pieces import Wall, tag
from airbough_service.edge.shop import Shop

ALIKE: Final = 1.0e-6
_SQUARE: Final = 90.0 - 1.0e-6  # a branch at 90 degrees is a tee
_ROUNDING: Final = 0.002  # m, by which stretches written to a tape's marks may miss the run's length


@dataclass(frozen=True, slots=True)
class Need:
    """A piece of one kind, size and make; bores in m, inlets first, outlet last; angle in degrees; length in m."""

    type: str
    bores: tuple[float, ...]
    angle: float | None = None
    radius_ratio: float | None = None
    construction: str | None = None
    duct: str | None = None
    length: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One piece in its place: a fitting or gate, or a straight of duct (its `straight` says how long)."""

    need: Need
    at: str
    run: str
    upstream_bore: float
    downstream_bore: float
    straight: float | None = None
    stretch: float = 1.0
    hose: bool = False
    wall: float | None = None
    loose: bool = False

    @property
    def elbow(self) -> bool:
        """Whether it turns the air and so asks for a hanger of its own."""
        return self.need.type == "elbow"


@dataclass(frozen=True, slots=True)
class RunNeeds:
    """One run, or one piece after the fan: its parts in the direction of flow; `length` is its straight duct, m."""

    id: str
    at: str
    length: float
    duct: Duct | None
    parts: tuple[Part, ...]
    stretches_told: bool
    unknown_lengths: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """The caller's stretches of a run, m, and where they stand in the request."""

    at: str
    lengths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Asking:
    """How lengths are meant, and what a fitting's own length is where the stock list tells it, m."""

    centreline: bool
    own_length: Callable[[Need], float | None]


@dataclass(frozen=True, slots=True)
class Parts:
    """A run's pieces but its straights: before the fittings, for each fitting of the document, and after them."""

    first: tuple[Part, ...]
    fitted: tuple[tuple[Part, ...], ...]
    last: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Spot:
    """Who asks: the run or discharge piece and the duct that its fittings are made of."""

    id: str
    at: str
    duct: Duct | None
    wall: float | None = None
    stretch: float = 1.0

    @property
    def word(self) -> str | None:
        """The duct's word, where it is no hose: fittings are not made of hose."""
        return None if self.duct is None or self.duct.kind == "hose" else self.duct.id

    @property
    def hose(self) -> bool:
        """Whether the run is a hose."""
        return self.duct is not None and self.duct.kind == "hose"

    def part(self, need: Need, at: str, before: float, after: float) -> Part:
        """Return a part of this run."""
        return Part(need, at, self.id, before, after)

    def straight(self, length: float, bore: float) -> Part:
        """Return a straight of this run's duct."""
        word = None if self.duct is None else self.duct.id
        need = Need("hose" if self.hose else "duct", (bore,), duct=word)
        return Part(need, self.at, self.id, bore, bore, length, self.stretch, self.hose, self.wall)


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
    spot = Spot(run.id, path, known.wall.duct, wall, _stretch(known.wall, run))
    parts = Parts(
        (*_at_hood(spot, run, known.start), *_gate(spot, run, known.start)),
        tuple(_fittings(spot, run.fittings, path, known.start)),
        tuple(_into(shop, spot, index)),
    )
    return _filled(spot, float(run.length), known.start, parts, asking, told, faults)


def discharge_needs(shop: Shop, index: int, asking: Asking, faults: list[Fault]) -> RunNeeds:
    """Return the parts of one piece after the fan, the change from the piece before it included."""
    known, path = shop.discharge[index], f"collector.discharge[{index}]"
    assert shop.request.collector is not None
    asked = shop.request.collector.discharge[index]
    spot = Spot(path, path, known.wall.duct, None, _stretch(known.wall, asked))
    before = shop.discharge[index - 1].end if index else known.start
    parts = Parts(
        tuple(_change(spot, path, before, known.start, None)),
        tuple(_fittings(spot, asked.fittings, path, known.start)),
    )
    return _filled(spot, float(asked.length), known.start, parts, asking, None, faults)


def junction_need(shop: Shop, index: int) -> Need | None:
    """Return the piece in which runs meet to flow into this one; None where fewer than two do."""
    arms = shop.shape.children[index]
    if len(arms) < 2:
        return None
    into = shop.runs[index].start
    duct = shop.runs[index].wall.duct
    word = None if duct is None or duct.kind == "hose" else duct.id
    joins = [(shop.runs[arm], shop.runs[arm].run.join) for arm in arms]
    straights = [run for run, join in joins if not isinstance(join, Branch)]
    branches = [(run.end, float(join.angle)) for run, join in joins if isinstance(join, Branch)]
    angle = branches[0][1] if branches else None
    bores = tuple(sorted((end for end, _ in branches), reverse=True))
    if len(straights) == 1 and len(branches) == 1:
        return Need("wye" if branches[0][1] < _SQUARE else "tee", (into, *bores, into), angle, duct=word)
    if len(straights) == 1 and len(branches) == 2:
        return Need("double-wye", (into, *bores, into), angle, duct=word)
    if not straights and len(branches) == 2 and abs(bores[0] - bores[1]) <= ALIKE * bores[0]:
        return Need("symmetrical-wye", (*bores, into), angle, duct=word)
    return Need("manifold", (*(run.end for run, _ in joins), into), angle, duct=word)


def _stretch(wall: Wall, run: Run | DischargePiece) -> float:
    """Return the share of full extension to which a hose is pulled; 1 for stiff duct."""
    if run.stretch is not None:
        return float(run.stretch)
    if wall.duct is not None and wall.duct.kind == "hose" and wall.duct.typical_stretch is not None:
        return wall.duct.typical_stretch
    return 1.0


def _at_hood(spot: Spot, run: Run, bore: float) -> Iterator[Part]:
    """Give the piece that changes size from the machine's port to the run."""
    if run.hood is None or run.hood.port_diameter is None:
        return
    port = float(run.hood.port_diameter)
    if abs(port - bore) > ALIKE * bore:
        need = Need("port-adapter", (port, bore), duct=spot.word)
        yield spot.part(need, f"{spot.at}.hood.port_diameter", port, bore)


def _gate(spot: Spot, run: Run, bore: float) -> Iterator[Part]:
    if run.gate is not None:
        yield spot.part(Need("gate", (bore,)), f"{spot.at}.gate", bore, bore)


def _into(shop: Shop, spot: Spot, index: int) -> Iterator[Part]:
    """Give the change of size of a straight run at its end; where branches alone meet, the junction piece has their bores."""
    parent = shop.shape.parents[index]
    join = shop.runs[index].run.join
    if parent < 0 or isinstance(join, Branch):
        return
    need = junction_need(shop, parent)
    if need is not None and need.type == "manifold":
        return
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    yield from _change(spot, f"{spot.at}.join", shop.runs[index].end, shop.runs[parent].start, length)


def _change(spot: Spot, at: str, before: float, after: float, length: float | None) -> Iterator[Part]:
    if abs(before - after) > ALIKE * after:
        need = Need("taper" if length else "abrupt-change", (before, after), duct=spot.word, length=length or None)
        yield spot.part(need, at, before, after)


def _fittings(
    spot: Spot, fittings: tuple[DischargeFitting, ...], path: str, bore: float
) -> Iterator[tuple[Part, ...]]:
    """Give, for each fitting of the document, its parts in the direction of flow."""
    for number, fitting in enumerate(fittings):
        at = f"{path}.fittings[{number}]"
        parts = tuple(_fitting(spot, fitting, at, bore))
        bore = parts[-1].downstream_bore if parts else bore
        yield parts


def _fitting(spot: Spot, fitting: DischargeFitting, at: str, bore: float) -> Iterator[Part]:
    if isinstance(fitting, Taper):
        after = float(fitting.downstream_diameter)
        need = Need("taper", (bore, after), duct=spot.word, length=float(fitting.length))
        yield spot.part(need, at, bore, after)
    elif isinstance(fitting, AbruptChange):
        after = float(fitting.downstream_diameter)
        yield spot.part(Need("abrupt-change", (bore, after), duct=spot.word), at, bore, after)
    elif isinstance(fitting, Elbow | ElbowPair | Offset):
        yield from _elbows(spot, fitting, at, bore)
    elif isinstance(fitting, TeeTurn):
        for _ in range(fitting.count):
            yield spot.part(Need("tee", (bore, bore, bore), 90.0, duct=spot.word), at, bore, bore)
            yield Part(Need("cap", (bore,), duct=spot.word), at, spot.id, bore, bore, loose=True)
    elif isinstance(fitting, SlideGateFitting):
        yield spot.part(Need("gate", (bore,)), at, bore, bore)
    elif isinstance(fitting, KnownCoefficient):
        for _ in range(fitting.count):
            yield spot.part(Need("other", (bore,), duct=spot.word), at, bore, bore)
    elif tag(fitting) in ("stack-head", "weather-cap"):
        yield spot.part(Need(tag(fitting), (bore,), duct=spot.word), at, bore, bore)


def _elbows(spot: Spot, fitting: Elbow | ElbowPair | Offset, at: str, bore: float) -> Iterator[Part]:
    """Give elbows; a pair turns by half of its angle in each, and the spacer between two is duct of the run."""
    whole = float(fitting.angle)
    angle = whole / 2 if isinstance(fitting, ElbowPair) else whole
    ratio = None if fitting.radius_ratio is None else float(fitting.radius_ratio)
    elbow = Need("elbow", (bore,), angle, ratio, fitting.construction, spot.word)
    for _ in range(fitting.count):
        yield spot.part(elbow, at, bore, bore)
        if not isinstance(fitting, Elbow):
            spacer = float(fitting.spacer_ratio) * bore
            if spacer > 0.0:
                yield spot.straight(spacer, bore)
            yield spot.part(elbow, at, bore, bore)


def centreline_length(need: Need, own: float | None) -> float | None:
    """Return what a fitting takes of its run's centreline, m: the stock piece's own length, else what geometry tells."""
    if own is not None:
        return own
    if need.type == "elbow" and need.angle is not None and need.radius_ratio is not None:
        return math.radians(need.angle) * need.radius_ratio * need.bores[0]
    if need.type in ("abrupt-change", "cap"):
        return 0.0
    return need.length


def _filled(
    spot: Spot, length: float, bore: float, parts: Parts, asking: Asking, told: Told | None, faults: list[Fault]
) -> RunNeeds:
    """Put the straights between the fittings: where the caller says, else all of it before the first."""
    taken, unknown = _taken(parts, asking)
    spacers = sum(part.straight or 0.0 for group in parts.fitted for part in group)
    free = length - spacers - taken
    if free < -ALIKE * max(length, 1.0e-3):
        detail = "its fittings and their spacers are longer than the run"
        faults.append(Fault(path=f"{spot.at}.length", code="shorter-than-fittings", detail=detail))
    free = max(free, 0.0)
    if told is not None:
        _check(told, free, len(parts.fitted), faults)
    stretches = (free,) if told is None else _scaled(told.lengths, free)
    row = [*parts.first]
    for number in range(max(len(parts.fitted) + 1, len(stretches))):
        if number < len(stretches) and stretches[number] > ALIKE:
            row.append(spot.straight(stretches[number], bore))
        if number < len(parts.fitted):
            row += parts.fitted[number]
            bore = parts.fitted[number][-1].downstream_bore if parts.fitted[number] else bore
    placed = told is not None or not parts.fitted or free <= ALIKE
    return RunNeeds(spot.id, spot.at, free + spacers, spot.duct, tuple([*row, *parts.last]), placed, unknown)


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
