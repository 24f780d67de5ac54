"""The caller's stock: which bores can be had, what each piece costs, and what is wrong with the list."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from typing import Final, Generic, TypeVar

from msgspec import Struct, structs

from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.stock import Stock, StockDuct, StockFitting, StockGate
from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.shop import tapers
from airbough_service.shop.stock import Entry, Make, entries, is_tee, may_turn, same_make
from airbough_service.terms import money, units

Ware = TypeVar("Ware", StockDuct, StockFitting, StockGate)

CHANGES: Final = ("taper", "abrupt-change")
_MOST_SIZES: Final = 1024  # bores that are remembered as they are told: a stock has few, and pieces of them many


@lru_cache(_MOST_SIZES)
def metres(size: int, preset: Preset) -> float:
    """Return a bore of so many nanometres, m: of the floats next to it the one that is told as it was written."""
    here = size / 1.0e9
    near = (here, math.nextafter(here, 0.0), math.nextafter(here, math.inf))
    return next((bore for bore in near if _round(units.value("diameter", bore, preset))), here)


def _round(told: float) -> bool:
    """Return whether a number has few digits."""
    return told == round(told, 6)


def nanometres(bore: float) -> int:
    """Return a bore as a whole number, so that equal sizes written in unlike units are one."""
    return round(bore * 1.0e9)


class Kind(Struct, frozen=True):
    """What a fitting or gate is, whatever it costs: bores are inlets first, outlet last."""

    type: str
    bores: tuple[int, ...]
    angle: float | None = None


class Part(Struct, frozen=True):
    """Pieces of one kind at one place.

    Attributes:
        kind: what they are.
        count: how many.
        cost_each: what the search adds up for one, or for one metre of duct.
        price_each: of one piece; None of duct, and where there is no price.
        price: of all of them, not rounded; None where there is none, as for what a fixed run keeps.
        at, item: path of the stock entry, and its item.
        length: of straight duct, m.
        fitting_length: of a change of size, m.
    """

    kind: Kind
    count: int = 1
    cost_each: float = 0.0
    price_each: Decimal | None = None
    price: Decimal | None = None
    at: str | None = None
    item: str | None = None
    length: float | None = None
    fitting_length: float | None = None

    @property
    def cost(self) -> float:
        """What the search adds up for all of them."""
        return self.cost_each * (self.count if self.length is None else self.length)


class Sought(Struct, frozen=True):
    """What a fitting must be: what the stock entry does not tell fits."""

    kind: Kind
    duct: str | None
    radius_ratio: float | None = None
    construction: str | None = None


@dataclass(frozen=True, slots=True)
class Costed(Generic[Ware]):
    """A stock entry and what the search adds up for one piece of it, or one metre of duct.

    What has no price costs as the dearest of its kind that has one, so that nothing is chosen because it has none.
    """

    entry: Entry[Ware]
    cost: float

    @property
    def key(self) -> tuple[bool, float]:
        """What is taken first: what has a price, then the cheapest."""
        return (self.entry.price is None and self.entry.rate is None, self.cost)


@dataclass(frozen=True, slots=True)
class Shelf:
    """The stock by what its pieces are.

    Attributes:
        ducts: (construction or None, bore) -> entries; none of a nominal bore.
        fittings: kind without its angle -> entries.
        gates: bore -> entries.
        added_sizes: bores tried beyond the stock with all their fittings, at no cost.
        counting: whether any fitting or gate may be had in a bore of the stock; then each of those costs 1, and all
            else nothing.
        joints: what was found for junctions before, by what was asked.
        preset: the caller's, in which his bores are told as he wrote them.
        nominal: whether the bores are not the caller's own but the catalogue's.
        any_fittings, any_gates: whether those are to be had in every bore, without a price.
    """

    ducts: dict[tuple[str | None, int], list[Costed[StockDuct]]]
    fittings: dict[tuple[str, tuple[int, ...]], list[Costed[StockFitting]]]
    gates: dict[int, list[Costed[StockGate]]]
    added_sizes: frozenset[int] = frozenset()
    counting: bool = False
    joints: dict[Hashable, object] = field(default_factory=dict, repr=False)
    preset: Preset = "metric"
    nominal: bool = False
    any_fittings: bool = False
    any_gates: bool = False

    def with_sizes(self, sizes: frozenset[int]) -> Shelf:
        """Return the stock with bores added."""
        return replace(self, added_sizes=sizes, joints={})

    def with_anything(self) -> Shelf:
        """Return the stock with any fitting added, so that the least cost is the least number of them."""
        return replace(self, counting=True, joints={})

    def sizes(self, duct: str | None) -> list[float]:
        """Return the bores to be had in a construction, m, rising."""
        own = {bore for word, bore in self.ducts if word is None or word == duct}
        return [metres(bore, self.preset) for bore in sorted(own | self.added_sizes)]

    def duct(self, word: str | None, bore: float, length: float) -> Part | None:
        """Return a length of straight duct."""
        size = nanometres(bore)
        kind = Kind("duct", (size,))
        keys = [key for key in dict.fromkeys(((word, size), (None, size))) if key in self.ducts]
        able = [costed for key in keys for costed in self.ducts[key]]
        if able:
            best = min(able, key=lambda costed: costed.key)
            rate, ware = best.entry.rate, best.entry.ware
            price = None if rate is None else rate * money.in_preset(length, self.preset)
            cost = 0.0 if self.counting else best.cost
            return Part(kind, 1, cost, None, price, best.entry.at, ware.item, length)
        return Part(kind, length=length) if keys or size in self.added_sizes else None

    def gate(self, bore: float) -> Part | None:
        """Return a gate."""
        kind = Kind("gate", (nanometres(bore),))
        able = self.gates.get(kind.bores[0])
        if able:
            return self._part(kind, 1, min(able, key=lambda costed: costed.key))
        return self._beyond(kind, free=self.any_gates)

    def fitting(self, asked: Sought, count: int = 1) -> Part | None:
        """Return the cheapest fitting that serves; of equals the first listed."""
        able = self._able(asked, asked.kind.bores)
        if able:
            return self._part(asked.kind, count, min(able, key=lambda costed: costed.key))
        return self._beyond(asked.kind, count, free=self.any_fittings)

    def changes(self, asked: Sought) -> list[Part]:
        """Return the changes of size that serve, the cheapest of each length; a taper lies either way round."""
        kind = asked.kind
        around = [costed for costed in self._able(asked, kind.bores[::-1]) if may_turn(costed.entry.ware)]
        best = self._by_length(kind, kind, self._able(asked, kind.bores) + around)
        if best:
            return best
        beyond = self._beyond(kind, free=self.any_fittings)
        length = usual_length(kind) if kind.type == "taper" else None
        return [] if beyond is None else [structs.replace(beyond, fitting_length=length)]

    def reducing(self, asked: Sought) -> list[Part]:
        """Return the wyes whose straight changes size, the cheapest of each length of that change."""
        change = Kind("taper", (asked.kind.bores[0], asked.kind.bores[-1]))
        return self._by_length(asked.kind, change, self._able(asked, asked.kind.bores))

    def wyes(self, asked: Sought) -> list[Part]:
        """Return every fitting of a type and angle, whatever its bores."""
        key = ("wyes", asked)
        if key not in self.joints:
            kind = asked.kind
            self.joints[key] = [
                self._part(Kind(kind.type, bores, kind.angle), 1, costed)
                for (word, bores), entries in self.fittings.items()
                for costed in entries
                if word == kind.type and _fits(costed.entry.ware, asked)
            ]
        return self.joints[key]  # type: ignore[return-value]  # only this function fills it

    @staticmethod
    def length_of(item: StockFitting, kind: Kind) -> float | None:
        """Return the length of a change of size, m; None where it is abrupt."""
        if item.type == "abrupt-change":
            return None
        return usual_length(kind) if item.length is None else float(item.length)

    def _by_length(self, kind: Kind, change: Kind, able: list[Costed[StockFitting]]) -> list[Part]:
        """Return the cheapest of each length of a change."""
        best: dict[float | None, Costed[StockFitting]] = {}
        for costed in able:
            length = self.length_of(costed.entry.ware, change)
            if length not in best or costed.key < best[length].key:
                best[length] = costed
        return [self._part(kind, 1, costed, length) for length, costed in best.items()]

    def _able(self, asked: Sought, bores: tuple[int, ...]) -> list[Costed[StockFitting]]:
        """Return the entries of these bores, nm, that are else as asked."""
        found = self.fittings.get((asked.kind.type, bores))
        return [costed for costed in found if _fits(costed.entry.ware, asked)] if found else []

    def _part(
        self, kind: Kind, count: int, costed: Costed[StockFitting] | Costed[StockGate], length: float | None = None
    ) -> Part:
        """Return pieces out of an entry; length: of a change of size, m."""
        entry = costed.entry
        cost = 0.0 if self.counting else costed.cost
        price = None if entry.each is None else entry.each * count
        return Part(kind, count, cost, entry.each, price, entry.at, entry.ware.item, None, length)

    def _beyond(self, kind: Kind, count: int = 1, *, free: bool = False) -> Part | None:
        """Return a piece that is not in the stock and only tried, or `free` to be had without a price; else None."""
        if free:
            return Part(kind, count)
        if self.counting:
            return Part(kind, count, 1.0)
        return None if self.added_sizes.isdisjoint(kind.bores) else Part(kind, count)


def usual_length(kind: Kind) -> float:
    """Return the length of a taper where nobody tells it, m."""
    return tapers.usual_length(kind.bores[0] * 1.0e-9, kind.bores[-1] * 1.0e-9)


def _fits(item: StockFitting, asked: Sought) -> bool:
    return same_make(item, Make(asked.kind.angle, asked.radius_ratio, asked.construction, asked.duct))


def bores_of(item: StockFitting) -> tuple[int, ...]:
    """Return a stock fitting's bores: inlets first, outlet last; branches of one junction rising."""
    first = nanometres(float(item.diameter))
    last = first if item.downstream_diameter is None else nanometres(float(item.downstream_diameter))
    branch = first if item.branch_diameter is None else nanometres(float(item.branch_diameter))
    second = branch if item.second_branch_diameter is None else nanometres(float(item.second_branch_diameter))
    if item.type == "wye":
        return (first, branch, last)
    if item.type == "symmetrical-wye":
        return (*sorted((first, branch)), last)
    if item.type == "double-wye":
        return (first, *sorted((branch, second)), last)
    return (first, last) if item.type in CHANGES else (first,)


def shelf(stock: Stock, preset: Preset, faults: list[Fault]) -> Shelf:
    """Return the stock by what its pieces are, noting each fault with its path."""
    if not stock.ducts:
        detail = "no diameter can be chosen from an empty stock; no list is ours"
        faults.append(Fault(path="stock.ducts", code="stock-empty", detail=detail))
    listed = entries(stock, preset, faults)
    metre = units.value("length", 1.0, preset)
    ducts: dict[tuple[str | None, int], list[Costed[StockDuct]]] = defaultdict(list)
    for duct in _costed(listed.ducts, lambda entry: None if entry.rate is None else float(entry.rate) * metre):
        ducts[duct.entry.ware.duct, nanometres(float(duct.entry.ware.diameter))].append(duct)
    gates: dict[int, list[Costed[StockGate]]] = defaultdict(list)
    for gate in _costed(listed.gates, _each):
        gates[nanometres(float(gate.entry.ware.diameter))].append(gate)
    return Shelf(
        dict(ducts),
        _fittings(listed.fittings),
        dict(gates),
        preset=preset,
        any_fittings=not stock.fittings,
        any_gates=not stock.gates,
    )


def _each(entry: Entry[StockGate] | Entry[StockFitting]) -> float | None:
    return None if entry.each is None else float(entry.each)


def _costed(entries: Iterable[Entry[Ware]], cost: Callable[[Entry[Ware]], float | None]) -> list[Costed[Ware]]:
    """Return the entries with what the search adds up for each."""
    costs = [(entry, cost(entry)) for entry in entries]
    dearest = max((known for _, known in costs if known is not None), default=0.0)
    return [Costed(entry, dearest if known is None else known) for entry, known in costs]


def nominal(preset: Preset) -> Shelf:
    """Return the catalogue's nominal bores, and everything in them, without prices."""
    bores, _ = nominal_diameters(preset)
    ducts: dict[tuple[str | None, int], list[Costed[StockDuct]]] = {(None, nanometres(bore)): [] for bore in bores}
    return Shelf(ducts, {}, {}, preset=preset, nominal=True, any_fittings=True, any_gates=True)


def _fittings(listed: Iterable[Entry[StockFitting]]) -> dict[tuple[str, tuple[int, ...]], list[Costed[StockFitting]]]:
    """Return the fittings by type and bores; a tee is a wye whose branch stands square."""
    by_type: dict[str, list[Entry[StockFitting]]] = defaultdict(list)
    for entry in listed:
        if is_tee(entry.ware):
            square = structs.replace(entry.ware, type="wye", angle=90.0)
            by_type["wye"].append(replace(entry, ware=square))
        else:
            by_type[entry.ware.type].append(entry)
    out: dict[tuple[str, tuple[int, ...]], list[Costed[StockFitting]]] = defaultdict(list)
    for word, some in by_type.items():
        for costed in _costed(some, _each):
            out[word, bores_of(costed.entry.ware)].append(costed)
    return dict(out)
