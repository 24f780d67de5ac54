"""The seller's stock as a parts list asks it: which entry serves a need, and how it lies."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final, TypeAlias

from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.stock import Stock, StockDuct, StockFitting, StockGate, StockSupply
from airbough_service.core.choosing.laying import (
    End,
    Laid,
)
from airbough_service.questions.parts_list.parts import (
    ALIKE,
    Need,
    Part,
)
from airbough_service.shop.stock import CHANGES, Entry, Make, entries, is_tee, may_turn, same_make

Fit: TypeAlias = Entry[StockFitting] | Entry[StockGate]

_ALSO: Final = {"port-adapter": CHANGES, "abrupt-change": ("abrupt-change", "taper")}
"""What serves for a need besides its own type, best first: a taper loses less than a step."""


@dataclass(frozen=True, slots=True)
class DuctItem:
    """Duct of the stock as it serves runs of one construction, in SI.

    Attributes:
        entry: of the stock.
        hose: whether it serves as hose.
        length: of one piece [m]; None where it is cut to length by the seller.
        upstream_end, downstream_end, cut_end: None where they are not known.
        turnable: whether a piece may be laid the other way round.
    """

    entry: Entry[StockDuct]
    hose: bool
    length: float | None
    upstream_end: End | None
    downstream_end: End | None
    cut_end: End
    turnable: bool

    @property
    def at(self) -> str:
        """Path of the entry."""
        return self.entry.at

    @property
    def each(self) -> Decimal | None:
        """The price of one piece; None where it is not known."""
        return self.entry.each


@dataclass(frozen=True, slots=True)
class Served:
    """The stock entry that serves a need, and how it lies: `turned` where it only fits the other way round."""

    item: Fit
    laid: Laid
    branch: End | None
    turned: bool = False


@dataclass(slots=True)
class StockList:
    """The stock by what its pieces are; without a list of a kind, its pieces are to be had and have no price."""

    any_fittings: bool = True
    any_gates: bool = True
    any_ducts: bool = True
    ducts: list[Entry[StockDuct]] = field(default_factory=list)
    fittings: dict[str, list[Entry[StockFitting]]] = field(default_factory=lambda: defaultdict(list))
    gates: list[Entry[StockGate]] = field(default_factory=list)
    supplies: list[Entry[StockSupply]] = field(default_factory=list)
    found: dict[Need, Served | None] = field(default_factory=dict)

    def untold(self, need: Need) -> bool:
        """Return whether the stock has no list of such pieces at all."""
        if need.type in ("duct", "hose"):
            return self.any_ducts
        return self.any_gates if need.type == "gate" else self.any_fittings

    def lengths(self, part: Part) -> list[DuctItem]:
        """Return the duct that serves a straight: what is sold in pieces, where there is such, else cut to length."""
        able = [
            _as_duct(entry, hose=part.hose)
            for entry in self.ducts
            if entry.ware.duct in (None, part.need.duct)
            and alike(float(entry.ware.diameter), part.upstream_bore)
            and _wall_fits(entry.ware, part.wall)
        ]
        able = [item for item in able if not item.entry.gone] or able
        pieces = [item for item in able if item.length is not None]
        return pieces or sorted(able, key=_rate)[:1]

    def serve(self, need: Need) -> Served | None:
        """Return the piece that serves a fitting or gate: of those that are there the cheapest, of equals the first."""
        if need not in self.found:
            able = list(self._able(need))
            self.found[need] = min(
                able, key=lambda served: (_longer(served.item, need), *_key(served.item)), default=None
            )
        return self.found[need]

    def own_length(self, need: Need) -> float | None:
        """Return the length of the piece that serves a need, m, where the list tells it."""
        served = self.serve(need)
        return None if served is None or served.item.ware.length is None else float(served.item.ware.length)

    def supply(self, use: str, bore: float | None) -> Entry[StockSupply] | None:
        """Return the package that serves a need of small parts; one of the right bore before one for any."""
        ours = [entry for entry in self.supplies if entry.ware.use == use]
        exact = [entry for entry in ours if bore and _of_bore(entry.ware, bore)]
        return _cheapest(exact or (entry for entry in ours if entry.ware.diameter is None))

    def adapter(self, use: str, bore: float) -> Entry[StockSupply] | None:
        """Return the cheapest adapter of a kind and bore."""
        return _cheapest(entry for entry in self.supplies if entry.ware.use == use and _of_bore(entry.ware, bore))

    def _able(self, need: Need) -> Iterator[Served]:
        if need.type == "gate":
            for gate in self.gates:
                if alike(float(gate.ware.diameter), need.bores[0]):
                    ware = gate.ware
                    yield Served(gate, Laid(ware.upstream_end, ware.downstream_end, ware.turnable), None)
            return
        for word in _ALSO.get(need.type, (need.type,)):
            able = [
                laid for one in self.fittings.get(word, ()) if _make_fits(one.ware, need) for laid in _laid(one, need)
            ]
            yield from able
            if able and need.type == "abrupt-change":
                return


def alike(one: float, other: float) -> bool:
    """Return whether two bores are the same size."""
    return abs(one - other) <= ALIKE * max(one, other)


def listed(stock: Stock | None, preset: Preset, faults: list[Fault]) -> StockList:
    """Return the stock by what its pieces are, noting each fault with its path."""
    if stock is None:
        return StockList(any_fittings=False, any_gates=False, any_ducts=False)
    known = entries(stock, preset, faults)
    whole = StockList(
        any_fittings=not known.fittings,
        any_gates=not known.gates,
        any_ducts=not known.ducts,
        ducts=list(known.ducts),
        gates=list(known.gates),
        supplies=list(known.supplies),
    )
    for entry in known.fittings:
        whole.fittings["tee" if is_tee(entry.ware) else entry.ware.type].append(entry)
    return whole


def bores(ware: StockFitting) -> tuple[float, ...]:
    """Return a stock fitting's bores as a need has them: inlets first, outlet last, m."""
    first = float(ware.diameter)
    last = first if ware.downstream_diameter is None else float(ware.downstream_diameter)
    branch = first if ware.branch_diameter is None else float(ware.branch_diameter)
    second = branch if ware.second_branch_diameter is None else float(ware.second_branch_diameter)
    if ware.type in ("wye", "tee"):
        return (first, branch, last)
    if ware.type == "symmetrical-wye":
        return (*sorted((first, branch), reverse=True), last)
    if ware.type in ("double-wye", "manifold"):
        return (first, *sorted((branch, second), reverse=True), last)
    return (first, last) if ware.type in CHANGES else (first,)


def _as_duct(entry: Entry[StockDuct], *, hose: bool) -> DuctItem:
    """Return duct with what is usual of its kind where the seller does not say."""
    ware = entry.ware
    upstream = ware.upstream_end or ("cuff" if hose else None)
    return DuctItem(
        entry,
        hose,
        None if ware.piece_length is None else float(ware.piece_length),
        upstream,
        ware.downstream_end or upstream,
        ware.cut_end or ("cuff" if hose else "enters"),
        hose if ware.turnable is None else ware.turnable,
    )


def _laid(entry: Entry[StockFitting], need: Need) -> Iterator[Served]:
    """Give the ways in which a fitting's bores serve a need: as made, or turned to change size the other way."""
    item, own = entry.ware, bores(entry.ware)
    branch = item.branch_end or item.upstream_end
    if len(own) == len(need.bores) and all(map(alike, own, need.bores)):
        turnable = item.turnable and (len(own) == 1 or alike(own[0], own[-1]))
        yield Served(entry, Laid(item.upstream_end, item.downstream_end, turnable), branch)
    elif may_turn(item) and item.type in CHANGES and all(map(alike, reversed(own), need.bores)):
        yield Served(entry, Laid(item.downstream_end, item.upstream_end), branch, turned=True)


def _make_fits(item: StockFitting, need: Need) -> bool:
    """Return whether it is of the make asked for, and no shorter; what is not told fits."""
    long_enough = need.length is None or item.length is None or float(item.length) >= need.length - ALIKE
    angle = None if is_tee(item) else need.angle
    return long_enough and same_make(item, Make(angle, need.radius_ratio, need.construction, need.duct))


def _longer(entry: Fit, need: Need) -> bool:
    """Return whether a piece is longer than what is asked for."""
    own = entry.ware.length
    return need.length is not None and own is not None and float(own) > need.length + ALIKE


def _wall_fits(item: StockDuct, wall: float | None) -> bool:
    return item.wall is None or wall is None or abs(float(item.wall) - wall) <= 1.0e-3 * wall


def _of_bore(ware: StockSupply, bore: float) -> bool:
    return ware.diameter is not None and alike(float(ware.diameter), bore)


def _rate(item: DuctItem) -> tuple[bool, Decimal]:
    return (item.entry.rate is None, item.entry.rate or Decimal(0))


def _key(entry: Fit | Entry[StockSupply]) -> tuple[bool, bool, Decimal]:
    """Return what is taken first: what is there, then what has a price, then the cheapest."""
    return (entry.gone, entry.each is None, entry.each or Decimal(0))


def _cheapest(items: Iterable[Entry[StockSupply]]) -> Entry[StockSupply] | None:
    return min(items, key=_key, default=None)
