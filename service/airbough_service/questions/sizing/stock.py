"""The caller's stock: which bores can be had, what each piece costs, and what is wrong with the list."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Final

from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.sizing import (
    DuctSize,
    FittingSize,
    SizingStock,
)
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.shop.pieces import nearest_fault
from airbough_service.terms import units

CHANGES: Final = ("taper", "abrupt-change")
SLOPE: Final = 5.0  # length of a taper over the difference of its bores; common practice, as the engine's own advice
SHORTEST: Final = 0.05


@cache
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


@dataclass(frozen=True, slots=True)
class Kind:
    """What a fitting or gate is, whatever it costs: bores are inlets first, outlet last."""

    type: str
    bores: tuple[int, ...]
    angle: float | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """Pieces of one kind at one place; `price_each` is None where a fixed run keeps what is not in the stock.

    Straight duct has a `length`, m, and its price is for one metre.
    """

    kind: Kind
    count: int = 1
    price_each: float | None = 0.0
    at: str | None = None
    length: float | None = None
    fitting_length: float | None = None

    @property
    def price(self) -> float:
        """The price of all of them; 0 where it is not known."""
        return (self.price_each or 0.0) * (self.count if self.length is None else self.length)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a fitting must be: what the stock entry does not tell fits."""

    kind: Kind
    duct: str | None
    radius_ratio: float | None = None


@dataclass(frozen=True, slots=True)
class _Entry:
    item: FittingSize
    price: float
    at: str


@dataclass(frozen=True, slots=True)
class Shelf:
    """The stock by what its pieces are; prices of duct are for one metre.

    Attributes:
        ducts: (construction or None, bore) -> price and path.
        entries: kind without its angle -> entries.
        gates: bore -> price and path.
        added_sizes: bores tried beyond the stock with all their fittings, at no price.
        counting: whether any fitting or gate may be had in a bore of the stock; then each of those costs 1, and all
            else nothing.
        joints: what was found for junctions before, by what was asked.
        preset: the caller's, in which his bores are told as he wrote them.
        nominal: whether the bores are not the caller's own but the catalogue's.
        any_fittings, any_gates: whether those are to be had in every bore, without a price.
    """

    ducts: dict[tuple[str | None, int], tuple[float | None, str | None]]
    entries: dict[tuple[str, tuple[int, ...]], list[_Entry]]
    gates: dict[int, tuple[float, str]]
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
        """Return the stock with any fitting added, so that the least price is the least number of them."""
        return replace(self, counting=True, joints={})

    def sizes(self, duct: str | None) -> list[float]:
        """Return the bores to be had in a construction, m, rising."""
        own = {bore for word, bore in self.ducts if word is None or word == duct}
        return [metres(bore, self.preset) for bore in sorted(own | self.added_sizes)]

    def duct(self, word: str | None, bore: float, length: float) -> Part | None:
        """Return a length of straight duct."""
        size = nanometres(bore)
        kind = Kind("duct", (size,))
        found = [self.ducts[key] for key in ((word, size), (None, size)) if key in self.ducts]
        if found:
            price, at = min(found, key=lambda entry: entry[0] or 0.0)
            return Part(kind, price_each=None if price is None else self._price(price), at=at, length=length)
        return Part(kind, length=length) if size in self.added_sizes else None

    def gate(self, bore: float) -> Part | None:
        """Return a gate."""
        kind = Kind("gate", (nanometres(bore),))
        if kind.bores[0] in self.gates:
            price, at = self.gates[kind.bores[0]]
            return Part(kind, price_each=self._price(price), at=at)
        return self._beyond(kind, free=self.any_gates)

    def fitting(self, asked: Asked, count: int = 1) -> Part | None:
        """Return the cheapest fitting that serves; of equals the first listed."""
        able = self._able(asked)
        if able:
            best = min(able, key=lambda entry: entry.price)
            return Part(asked.kind, count, self._price(best.price), best.at)
        return self._beyond(asked.kind, count, free=self.any_fittings)

    def changes(self, asked: Asked) -> list[Part]:
        """Return the changes of size that serve, the cheapest of each length; a taper lies either way round."""
        kind = asked.kind
        turned = Asked(Kind(kind.type, kind.bores[::-1]), asked.duct)
        best: dict[float | None, Part] = {}
        for entry in self._able(asked) + self._able(turned):
            length = self.length_of(entry.item, kind)
            if length not in best or entry.price < (best[length].price_each or 0.0):
                best[length] = Part(kind, 1, self._price(entry.price), entry.at, fitting_length=length)
        if best:
            return list(best.values())
        beyond = self._beyond(kind, free=self.any_fittings)
        length = usual_length(kind) if kind.type == "taper" else None
        return [] if beyond is None else [replace(beyond, fitting_length=length)]

    def reducing(self, asked: Asked) -> list[Part]:
        """Return the wyes whose straight changes size, the cheapest of each length of that change."""
        best: dict[float | None, Part] = {}
        for entry in self._able(asked):
            length = self.length_of(entry.item, Kind("taper", (asked.kind.bores[0], asked.kind.bores[-1])))
            if length not in best or entry.price < (best[length].price_each or 0.0):
                best[length] = Part(asked.kind, 1, self._price(entry.price), entry.at, fitting_length=length)
        return list(best.values())

    def wyes(self, asked: Asked) -> list[Part]:
        """Return every fitting of a type and angle, whatever its bores."""
        key = ("wyes", asked)
        if key not in self.joints:
            kind = asked.kind
            self.joints[key] = [
                Part(Kind(kind.type, bores, kind.angle), 1, self._price(entry.price), entry.at)
                for (word, bores), entries in self.entries.items()
                for entry in entries
                if word == kind.type and _fits(entry.item, asked)
            ]
        return self.joints[key]  # type: ignore[return-value]  # only this function fills it

    @staticmethod
    def length_of(item: FittingSize, kind: Kind) -> float | None:
        """Return the length of a change of size, m; None where it is abrupt."""
        if item.type == "abrupt-change":
            return None
        return usual_length(kind) if item.length is None else float(item.length)

    def _able(self, asked: Asked) -> list[_Entry]:
        kind = asked.kind
        return [entry for entry in self.entries.get((kind.type, kind.bores), ()) if _fits(entry.item, asked)]

    def _beyond(self, kind: Kind, count: int = 1, *, free: bool = False) -> Part | None:
        """Return a piece that is not in the stock and only tried, or `free` to be had without a price; else None."""
        if free:
            return Part(kind, count, None)
        if self.counting:
            return Part(kind, count, 1.0)
        return None if self.added_sizes.isdisjoint(kind.bores) else Part(kind, count)

    def _price(self, price: float) -> float:
        return 0.0 if self.counting else price


def usual_length(kind: Kind) -> float:
    """Return the length of a taper where nobody tells it, m."""
    return max(SLOPE * abs(kind.bores[0] - kind.bores[-1]) * 1.0e-9, SHORTEST)


def _fits(item: FittingSize, asked: Asked) -> bool:
    angle = asked.kind.angle
    return (
        (item.angle is None or angle is None or abs(float(item.angle) - angle) < 1.0e-3)
        and (item.duct is None or asked.duct is None or item.duct == asked.duct)
        and (
            item.radius_ratio is None
            or asked.radius_ratio is None
            or abs(item.radius_ratio - asked.radius_ratio) < 1.0e-3
        )
    )


def bores_of(item: FittingSize) -> tuple[int, ...]:
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


def shelf(stock: SizingStock, preset: Preset, faults: list[Fault]) -> Shelf:
    """Return the stock by what its pieces are, noting each fault with its path."""
    if not stock.ducts:
        detail = "no diameter can be chosen from an empty stock; no list is ours"
        faults.append(Fault(path="stock.ducts", code="stock-empty", detail=detail))
    metre = units.value("length", 1.0, preset)
    ducts: dict[tuple[str | None, int], tuple[float | None, str | None]] = {}
    for number, duct in enumerate(stock.ducts):
        at = f"stock.ducts[{number}]"
        faults += _duct_faults(duct, at)
        key = (duct.duct, nanometres(float(duct.diameter)))
        _once(ducts, key, at, faults)
        ducts.setdefault(key, (duct.price_per_length * metre, at))
    gates: dict[int, tuple[float, str]] = {}
    for number, gate in enumerate(stock.gates):
        at = f"stock.gates[{number}]"
        _once(gates, nanometres(float(gate.diameter)), at, faults)
        gates.setdefault(nanometres(float(gate.diameter)), (gate.price, at))
    entries = _entries(stock, faults)
    return Shelf(ducts, entries, gates, preset=preset, any_fittings=not stock.fittings, any_gates=not stock.gates)


def nominal(preset: Preset) -> Shelf:
    """Return the catalogue's nominal bores, and everything in them, without prices."""
    bores, _ = nominal_diameters(preset)
    ducts: dict[tuple[str | None, int], tuple[float | None, str | None]] = {
        (None, nanometres(bore)): (None, None) for bore in bores
    }
    return Shelf(ducts, {}, {}, preset=preset, nominal=True, any_fittings=True, any_gates=True)


def _entries(stock: SizingStock, faults: list[Fault]) -> dict[tuple[str, tuple[int, ...]], list[_Entry]]:
    """Return the fittings by type and bores."""
    out: dict[tuple[str, tuple[int, ...]], list[_Entry]] = defaultdict(list)
    seen: dict[object, tuple[float, str]] = {}
    for number, item in enumerate(stock.fittings):
        at = f"stock.fittings[{number}]"
        faults += _fitting_faults(item, at)
        bores = bores_of(item)
        key = (item.type, bores, item.angle, item.radius_ratio, item.duct, item.length)
        _once(seen, key, at, faults)
        seen.setdefault(key, (item.price, at))
        out[item.type, bores].append(_Entry(item, item.price, at))
    return dict(out)


def _once(seen: dict, key: object, at: str, faults: list[Fault]) -> None:  # type: ignore[type-arg]
    """Note an entry that already stands in the stock."""
    if key in seen:
        faults.append(Fault(path=at, code="duplicate-size", detail=f"the same already stands at {seen[key][1]}"))


def _duct_faults(item: DuctSize, at: str) -> Iterator[Fault]:
    yield from _word(item.duct, at)


def _word(word: str | None, at: str) -> Iterator[Fault]:
    try:
        if word is not None:
            catalogue.duct(word)
    except UnknownWordError as error:
        yield nearest_fault(f"{at}.duct", error)


def _fitting_faults(item: FittingSize, at: str) -> Iterator[Fault]:
    """Give what is wrong with one entry."""
    yield from _word(item.duct, at)
    needed = {
        "elbow": ("angle",),
        "taper": ("downstream_diameter",),
        "abrupt-change": ("downstream_diameter",),
        "wye": ("angle", "branch_diameter"),
        "symmetrical-wye": ("angle",),
        "double-wye": ("angle", "branch_diameter"),
    }
    for name in needed.get(item.type, ()):
        if getattr(item, name) is None:
            yield Fault(path=f"{at}.{name}", code="parameter-missing", detail=f"a stock {item.type} needs `{name}`")
    bores = bores_of(item)
    if item.type in CHANGES and item.downstream_diameter is not None and bores[0] == bores[-1]:
        yield Fault(path=f"{at}.downstream_diameter", code="no-change", detail="both ends have one diameter")
    if item.type == "taper" and item.length is not None and float(item.length) == 0.0:
        yield Fault(path=f"{at}.length", code="outside-range", detail="above 0; without length it is an abrupt-change")
