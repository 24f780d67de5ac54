"""The caller's stock list made ready: which piece serves a need, and what is wrong with the list."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final, TypeAlias, TypeVar

from airbough.wire.parts_list import (
    StockAdapter,
    StockFitting,
    StockGate,
    StockHose,
    StockItem,
    StockPipe,
    StockSupply,
)
from airbough.wire.problem import Fault
from airbough_service import catalogue
from airbough_service.catalogue import (
    Duct,
    UnknownWordError,
)
from airbough_service.core.choosing.laying import (
    End,
    Laid,
)
from airbough_service.questions.parts_list.parts import (
    ALIKE,
    Need,
    Part,
)
from airbough_service.shop.pieces import nearest_fault

JUNCTIONS: Final = ("wye", "tee", "symmetrical-wye", "double-wye", "manifold")
_CHANGES: Final = ("taper", "abrupt-change", "port-adapter")
_LENGTHWISE: Final = ("sealant", "tape", "gasket", "bonding-wire")
StockDuct: TypeAlias = StockPipe | StockHose
Fit: TypeAlias = StockFitting | StockGate
Small = TypeVar("Small", StockAdapter, StockSupply)


@dataclass(frozen=True, slots=True)
class Served:
    """The stock piece that serves a need, and how it lies: `turned` where it only fits the other way round."""

    item: Fit
    laid: Laid
    branch: End | None
    turned: bool = False


@dataclass(slots=True)
class StockList:
    """The stock list by what its pieces are."""

    ducts: dict[str, list[StockDuct]] = field(default_factory=lambda: defaultdict(list))
    fittings: dict[str, list[StockFitting]] = field(default_factory=lambda: defaultdict(list))
    gates: list[StockGate] = field(default_factory=list)
    adapters: list[StockAdapter] = field(default_factory=list)
    supplies: list[StockSupply] = field(default_factory=list)
    found: dict[Need, Served | None] = field(default_factory=dict)

    def lengths(self, part: Part) -> list[StockDuct]:
        """Return the stock lengths that serve a straight."""
        return [
            item
            for item in self.ducts.get(part.need.duct or "", ())
            if alike(float(item.diameter), part.upstream_bore) and _wall_fits(item, part.wall)
        ]

    def serve(self, need: Need) -> Served | None:
        """Return the cheapest piece that serves a fitting or gate; of equals the first listed."""
        if need not in self.found:
            able = list(self._able(need))
            self.found[need] = min(able, key=lambda served: _price(served.item)) if able else None
        return self.found[need]

    def own_length(self, need: Need) -> float | None:
        """Return the length of the piece that serves a need, m, where the list tells it."""
        served = self.serve(need)
        return None if served is None or served.item.length is None else float(served.item.length)

    def adapter(self, use: str, bore: float) -> StockAdapter | None:
        """Return the cheapest adapter of a kind and bore."""
        return _cheapest(item for item in self.adapters if item.use == use and alike(float(item.diameter), bore))

    def supply(self, use: str, bore: float | None) -> StockSupply | None:
        """Return the package that serves a need of small parts; one of the right bore before one for any."""
        ours = [item for item in self.supplies if item.use == use]
        exact = [item for item in ours if item.diameter is not None and bore and alike(float(item.diameter), bore)]
        return _cheapest(exact or (item for item in ours if item.diameter is None))

    def _able(self, need: Need) -> Iterator[Served]:
        if need.type == "gate":
            for gate in self.gates:
                if alike(float(gate.diameter), need.bores[0]):
                    yield Served(gate, Laid(gate.upstream_end, gate.downstream_end, gate.turnable), None)
            return
        words = ("port-adapter", "taper", "abrupt-change") if need.type == "port-adapter" else (need.type,)
        for word in words:
            for item in self.fittings.get(word, ()):
                if _make_fits(item, need):
                    yield from _as_laid(item, need)


def alike(one: float, other: float) -> bool:
    """Return whether two bores are the same size."""
    return abs(one - other) <= ALIKE * max(one, other)


def listed(stock: Iterable[StockItem], faults: list[Fault]) -> StockList:
    """Return the stock list by what its pieces are, noting each fault with its path."""
    whole = StockList()
    seen: dict[str, int] = {}
    for number, item in enumerate(stock):
        path = f"stock[{number}]"
        if item.item in seen:
            detail = f"the item {item.item!r} already stands at stock[{seen[item.item]}]"
            faults.append(Fault(path=f"{path}.item", code="duplicate-item", detail=detail))
        seen.setdefault(item.item, number)
        if isinstance(item, StockPipe | StockHose):
            whole.ducts[item.duct].append(item)
        elif isinstance(item, StockFitting):
            whole.fittings[item.type].append(item)
        elif isinstance(item, StockGate):
            whole.gates.append(item)
        elif isinstance(item, StockAdapter):
            whole.adapters.append(item)
        else:
            whole.supplies.append(item)
        faults += _faults(item, path)
    return whole


def bores(item: StockFitting) -> tuple[float, ...]:
    """Return a stock fitting's bores as a need has them: inlets first, outlet last, m."""
    first = float(item.diameter)
    last = first if item.downstream_diameter is None else float(item.downstream_diameter)
    branch = first if item.branch_diameter is None else float(item.branch_diameter)
    second = branch if item.second_branch_diameter is None else float(item.second_branch_diameter)
    if item.type in ("wye", "tee"):
        return (first, branch, last)
    if item.type == "symmetrical-wye":
        return (first, first, last)
    if item.type in ("double-wye", "manifold"):
        return (first, *sorted((branch, second), reverse=True), last)
    return (first, last) if item.type in _CHANGES else (first,)


def _as_laid(item: StockFitting, need: Need) -> Iterator[Served]:
    """Give the ways in which a fitting's bores serve a need: as made, or turned to change size the other way."""
    own = bores(item)
    branch = item.branch_end or item.upstream_end
    if len(own) == len(need.bores) and all(map(alike, own, need.bores)):
        turnable = item.turnable and (len(own) == 1 or alike(own[0], own[-1]))
        yield Served(item, Laid(item.upstream_end, item.downstream_end, turnable), branch)
    elif item.turnable and item.type in _CHANGES and all(map(alike, reversed(own), need.bores)):
        yield Served(item, Laid(item.downstream_end, item.upstream_end), branch, turned=True)


def _make_fits(item: StockFitting, need: Need) -> bool:
    """Return whether angle, radius, construction, duct and length are those asked for; what is not told fits."""
    same_angle = item.angle is None or need.angle is None or abs(float(item.angle) - need.angle) < 1.0e-3
    same_radius = (
        item.radius_ratio is None or need.radius_ratio is None or abs(item.radius_ratio - need.radius_ratio) < 1.0e-3
    )
    words = ((item.construction, need.construction), (item.duct, need.duct))
    same_words = all(mine is None or asked is None or mine == asked for mine, asked in words)
    long_enough = need.length is None or item.length is None or float(item.length) >= need.length - ALIKE
    return same_angle and same_radius and same_words and long_enough


def _wall_fits(item: StockDuct, wall: float | None) -> bool:
    own = item.wall if isinstance(item, StockPipe) else None
    return own is None or wall is None or abs(float(own) - wall) <= 1.0e-3 * wall


def _price(item: Fit | StockAdapter | StockSupply) -> tuple[bool, float]:
    return (item.price is None, item.price or 0.0)


def _cheapest(items: Iterable[Small]) -> Small | None:
    return min(items, key=_price, default=None)


def _faults(item: StockItem, path: str) -> Iterator[Fault]:
    """Give what is wrong with one item."""
    if isinstance(item, StockPipe | StockHose):
        yield from _duct_faults(item, path)
    elif isinstance(item, StockFitting):
        yield from _fitting_faults(item, path)
    elif isinstance(item, StockSupply):
        lengthwise = item.use in _LENGTHWISE
        wanted = "length" if lengthwise else "count"
        if getattr(item, wanted) is None or item.length == 0.0:
            detail = f"a package of {item.use} needs `{wanted}`, above 0"
            yield Fault(path=f"{path}.{wanted}", code="parameter-missing", detail=detail)
        other = "count" if lengthwise else "length"
        if getattr(item, other) is not None:
            yield Fault(path=f"{path}.{other}", code="parameter-unused", detail=f"{item.use} is counted by `{wanted}`")


def _duct_faults(item: StockDuct, path: str) -> Iterator[Fault]:
    duct: Duct | None = None
    if isinstance(item, StockPipe) and item.cut_end == "flange":
        yield Fault(path=f"{path}.cut_end", code="cut-end-flange", detail="a cut leaves no flange")
    try:
        duct = catalogue.duct(item.duct)
    except UnknownWordError as error:
        yield nearest_fault(f"{path}.duct", error)
    hose = isinstance(item, StockHose)
    if duct is not None and (duct.kind == "hose") != hose:
        detail = f"{item.duct} is {'stiff duct: `kind` is pipe' if hose else 'a hose: `kind` is hose'}"
        yield Fault(path=f"{path}.duct", code="duct-of-another-kind", detail=detail)


def _fitting_faults(item: StockFitting, path: str) -> Iterator[Fault]:
    needed = {
        "elbow": ("angle",),
        "wye": ("angle", "branch_diameter"),
        "tee": ("branch_diameter",),
        "symmetrical-wye": ("angle",),
        "double-wye": ("angle", "branch_diameter"),
        "taper": ("downstream_diameter",),
        "abrupt-change": ("downstream_diameter",),
        "port-adapter": ("downstream_diameter",),
    }
    for name in needed.get(item.type, ()):
        if getattr(item, name) is None:
            yield Fault(path=f"{path}.{name}", code="parameter-missing", detail=f"a stock {item.type} needs `{name}`")
    if item.turnable and item.type in JUNCTIONS:
        detail = "a piece in which runs meet cannot be turned"
        yield Fault(path=f"{path}.turnable", code="junction-turnable", detail=detail)
    if item.duct is not None:
        try:
            catalogue.duct(item.duct)
        except UnknownWordError as error:
            yield nearest_fault(f"{path}.duct", error)
