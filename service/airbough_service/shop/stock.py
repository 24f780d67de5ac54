"""The seller's stock made ready for any question: each entry with its path and price, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final, Generic, TypeAlias, TypeVar

from msgspec import structs

from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.stock import Stock, StockDuct, StockFitting, StockGate, StockSupply
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.shop.pieces import nearest_fault
from airbough_service.terms import money

AnyEntry: TypeAlias = StockDuct | StockFitting | StockGate | StockSupply
Kind = TypeVar("Kind", StockDuct, StockFitting, StockGate, StockSupply)

CHANGES: Final = ("taper", "abrupt-change", "port-adapter")
JUNCTIONS: Final = ("wye", "tee", "symmetrical-wye", "double-wye", "manifold")
SQUARE: Final = 90.0 - 1.0e-6
"""A wye whose branch stands at this angle or more is a tee."""
LENGTHWISE: Final = ("sealant", "tape", "gasket", "bonding-wire")
SHORTEST_REACH: Final = 1.0e-3  # m of a package: of any less there would be more packages than money can be counted for
SLEEVES: Final = ("inner-sleeve", "outer-sleeve", "flange-adapter", "hose-connector")

_NEEDED: Final[dict[str, tuple[str, ...]]] = {
    "elbow": ("angle",),
    "wye": ("angle", "branch_diameter"),
    "tee": ("branch_diameter",),
    "symmetrical-wye": ("angle",),
    "double-wye": ("angle", "branch_diameter"),
    "taper": ("downstream_diameter",),
    "abrupt-change": ("downstream_diameter",),
    "port-adapter": ("downstream_diameter",),
}


@dataclass(frozen=True, slots=True)
class Entry(Generic[Kind]):
    """One entry, in SI.

    Attributes:
        ware: as the caller gave it.
        at: its path.
        price: of one thing sold: a piece, or a package of `pack` pieces; None where it is not known.
        rate: of duct, the price of one unit of length of the preset; None where it is not known.
    """

    ware: Kind
    at: str
    price: Decimal | None
    rate: Decimal | None = None

    @property
    def pack(self) -> int:
        """How many pieces one thing sold holds."""
        return self.ware.pack or 1

    @property
    def each(self) -> Decimal | None:
        """The price of one piece: out of a package its share."""
        return None if self.price is None else self.price / self.pack

    @property
    def gone(self) -> bool:
        """Whether there is none left."""
        return self.ware.quantity == 0


@dataclass(frozen=True, slots=True)
class Entries:
    """A stock's entries."""

    ducts: tuple[Entry[StockDuct], ...] = ()
    fittings: tuple[Entry[StockFitting], ...] = ()
    gates: tuple[Entry[StockGate], ...] = ()
    supplies: tuple[Entry[StockSupply], ...] = ()


def entries(stock: Stock, preset: Preset, faults: list[Fault]) -> Entries:
    """Return a stock's entries, noting each fault with its path."""
    faults += _faults(stock)
    return Entries(
        tuple(_duct(one, f"stock.ducts[{number}]", preset) for number, one in enumerate(stock.ducts)),
        tuple(_entry(one, f"stock.fittings[{number}]") for number, one in enumerate(stock.fittings)),
        tuple(_entry(one, f"stock.gates[{number}]") for number, one in enumerate(stock.gates)),
        tuple(_entry(one, f"stock.supplies[{number}]") for number, one in enumerate(stock.supplies)),
    )


def is_tee(ware: StockFitting) -> bool:
    """Return whether a fitting is a tee: by its name, or as a wye whose branch stands square."""
    return ware.type == "tee" or (ware.type == "wye" and ware.angle is not None and float(ware.angle) >= SQUARE)


@dataclass(frozen=True, slots=True)
class Make:
    """What a fitting must be besides its type and bores; None fits any."""

    angle: float | None = None
    radius_ratio: float | None = None
    construction: str | None = None
    duct: str | None = None


def same_make(ware: StockFitting, make: Make) -> bool:
    """Return whether a fitting is of the make asked for; what is not told fits."""
    told = None if ware.angle is None else float(ware.angle)
    words = ((ware.construction, make.construction), (ware.duct, make.duct))
    numbers = ((told, make.angle), (ware.radius_ratio, make.radius_ratio))
    return all(mine is None or asked is None or mine == asked for mine, asked in words) and all(
        mine is None or asked is None or abs(mine - asked) < 1.0e-3 for mine, asked in numbers
    )


def may_turn(ware: StockFitting) -> bool:
    """Return whether a change of size may lie the other way round: also where nothing is told of its ends."""
    return ware.turnable or (ware.upstream_end is None and ware.downstream_end is None)


def _entry(ware: Kind, at: str) -> Entry[Kind]:
    return Entry(ware, at, money.amount(ware.price))


def _duct(ware: StockDuct, at: str, preset: Preset) -> Entry[StockDuct]:
    """Return an entry of duct: what is priced by length and sold in pieces has a price for one too."""
    price, rate = money.amount(ware.price), money.amount(ware.price_per_length)
    pack = ware.pack or 1
    if ware.piece_length is not None:
        length = money.in_preset(float(ware.piece_length), preset) * pack
        if price is not None:
            rate = price / length
        elif rate is not None:
            price = rate * length
    return Entry(ware, at, price, rate)


def _faults(stock: Stock) -> Iterator[Fault]:
    """Give what is wrong with a stock, in the order of its entries."""
    seen: dict[str, str] = {}
    alike: dict[object, str] = {}
    rows = [(f"stock.{name}[{n}]", one) for name, list_ in _lists(stock) for n, one in enumerate(list_)]
    for at, one in rows:
        if one.item is not None and one.item in seen:
            detail = f"the item {one.item!r} already stands at {seen[one.item]}"
            yield Fault(path=f"{at}.item", code="duplicate-item", detail=detail)
        elif one.item is not None:
            seen[one.item] = at
        bare = structs.replace(one, price=None)
        bare = structs.replace(bare, price_per_length=None) if isinstance(bare, StockDuct) else bare
        if bare in alike:
            yield Fault(path=at, code="duplicate-size", detail=f"the same already stands at {alike[bare]}")
        alike.setdefault(bare, at)
        yield from _own_faults(one, at)
    for at, one in rows:
        for number, word in enumerate(one.substitutes):
            if word not in seen or word == one.item:
                detail = f"no other entry has the item {word!r}"
                yield Fault(path=f"{at}.substitutes[{number}]", code="unknown-id", detail=detail)
    if stock.expires is not None:
        yield from _day(stock.expires)


def _lists(stock: Stock) -> Iterable[tuple[str, tuple[AnyEntry, ...]]]:
    return (
        ("ducts", stock.ducts),
        ("fittings", stock.fittings),
        ("gates", stock.gates),
        ("supplies", stock.supplies),
    )


def _day(written: str) -> Iterator[Fault]:
    try:
        date.fromisoformat(written)
    except ValueError:
        yield Fault(path="stock.expires", code="outside-range", detail=f"the calendar has no day {written}")


def _own_faults(one: AnyEntry, at: str) -> Iterator[Fault]:
    if isinstance(one, StockDuct):
        yield from _duct_faults(one, at)
    elif isinstance(one, StockFitting):
        yield from _fitting_faults(one, at)
    elif isinstance(one, StockSupply):
        yield from _supply_faults(one, at)


def _word(word: str | None, at: str) -> Iterator[Fault]:
    try:
        if word is not None:
            catalogue.duct(word)
    except UnknownWordError as error:
        yield nearest_fault(f"{at}.duct", error)


def _duct_faults(one: StockDuct, at: str) -> Iterator[Fault]:
    yield from _word(one.duct, at)
    if one.cut_end == "flange":
        yield Fault(path=f"{at}.cut_end", code="cut-end-flange", detail="a cut leaves no flange")
    if one.price is not None and one.price_per_length is not None:
        yield Fault(path=f"{at}.price", code="given-twice", detail="give `price` or `price_per_length`")
    if one.piece_length is None:
        by_piece = [name for name in ("price", "pack") if getattr(one, name) is not None]
        for name in by_piece:
            detail = f"`{name}` is of pieces: give their `piece_length`, or sell by `price_per_length`"
            yield Fault(path=f"{at}.{name}", code="parameter-unused", detail=detail)


def _fitting_faults(one: StockFitting, at: str) -> Iterator[Fault]:
    yield from _word(one.duct, at)
    for name in _NEEDED.get(one.type, ()):
        if getattr(one, name) is None:
            yield Fault(path=f"{at}.{name}", code="parameter-missing", detail=f"a stock {one.type} needs `{name}`")
    if one.turnable and one.type in JUNCTIONS:
        detail = "a piece in which runs meet cannot be turned"
        yield Fault(path=f"{at}.turnable", code="junction-turnable", detail=detail)
    if one.type in CHANGES and one.downstream_diameter is not None:
        first, last = float(one.diameter), float(one.downstream_diameter)
        if round(first * 1.0e9) == round(last * 1.0e9):
            yield Fault(path=f"{at}.downstream_diameter", code="no-change", detail="both ends have one diameter")
    if one.type == "taper" and one.length is not None and float(one.length) == 0.0:
        yield Fault(path=f"{at}.length", code="outside-range", detail="above 0; without length it is an abrupt-change")


def _supply_faults(one: StockSupply, at: str) -> Iterator[Fault]:
    if one.use in SLEEVES:
        if one.diameter is None:
            yield Fault(path=f"{at}.diameter", code="parameter-missing", detail=f"a stock {one.use} needs `diameter`")
        return
    lengthwise = one.use in LENGTHWISE
    wanted, other = ("length", "pack") if lengthwise else ("pack", "length")
    if lengthwise and (one.length is None or float(one.length) == 0.0):
        detail = f"a package of {one.use} needs `length`, above 0"
        yield Fault(path=f"{at}.length", code="parameter-missing", detail=detail)
    elif one.length is not None and lengthwise and float(one.length) < SHORTEST_REACH:
        yield Fault(path=f"{at}.length", code="outside-range", detail="a package reaches for 1 mm at least")
    if getattr(one, other) is not None:
        yield Fault(path=f"{at}.{other}", code="parameter-unused", detail=f"{one.use} is counted by `{wanted}`")
