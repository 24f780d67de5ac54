"""Straights made of stock lengths: split into pieces, cut from stock with the least waste."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

from airbough.wire.problem import Fault
from airbough_service.core.choosing.cutting import (
    Packing,
    Stock,
    pack,
    split,
)
from airbough_service.core.choosing.laying import Laid
from airbough_service.questions.parts_list.parts import Part
from airbough_service.questions.parts_list.rules import Rules
from airbough_service.questions.parts_list.stock import (
    DuctItem,
    StockList,
)
from airbough_service.terms.refusal import Refusal

MOST_PIECES: Final = 20000
Role: TypeAlias = Literal["whole", "first", "last", "between"]
Key: TypeAlias = tuple[str, float, float | None]


@dataclass(slots=True)
class Cut:
    """One piece of duct in its place.

    Attributes:
        part: the straight that it belongs to.
        laid: what it covers of its run [m].
        length: what is cut [m], laps included; of a hose at full stretch.
        allowance: what of it is laps [m].
        item: the stock piece that it comes from.
        role: which formed ends it keeps: that of the stock piece's upstream end, its downstream end, both or none.
        row, place: number of the row of pieces that it lies in, and its place there.
    """

    part: Part
    laid: float
    length: float
    allowance: float
    item: DuctItem
    role: Role
    row: int = -1
    place: int = -1

    def piece(self) -> Laid:
        """Return its ends as cut."""
        item = self.item
        upstream = item.upstream_end if self.role in ("whole", "first") else item.cut_end
        downstream = item.downstream_end if self.role in ("whole", "last") else item.cut_end
        return Laid(upstream, downstream, item.turnable)


@dataclass(slots=True)
class Group:
    """All straights of one construction and bore, the stock lengths for them, and how they are cut."""

    duct: str
    bore: float
    items: list[DuctItem]
    cuts: list[Cut] = field(default_factory=list)
    bars: list[tuple[DuctItem, list[Cut]]] = field(default_factory=list)
    packing: Packing | None = None
    whole_cost: float = 0.0

    @property
    def priced(self) -> bool:
        """Whether every stock length has a price, so that price is what is kept least."""
        return all(item.each is not None for item in self.items)

    @property
    def by_length(self) -> bool:
        """Whether the seller cuts to length."""
        return any(item.length is None for item in self.items)

    def cost(self, item: DuctItem) -> float:
        """Return what is kept least: the price, or the length bought."""
        return float(item.each or 0.0) if self.priced else item.length or 0.0


@dataclass(slots=True)
class Cutting:
    """Every straight cut: pieces by straight, groups in order of first use."""

    groups: dict[Key, Group] = field(default_factory=dict)
    pieces: dict[int, list[Cut]] = field(default_factory=dict)


def cutting(straights: Iterable[Part], stock: StockList, rules: Rules) -> Cutting:
    """Cut every straight that the stock list has duct for.

    Args:
        straights: in document order; told apart as objects.
        stock: the caller's.
        rules: kerf, lap and the shortest piece.

    Raises:
        Refusal: laps leave nothing of a stock length, or the pieces are too many.
    """
    whole = Cutting()
    count = 0
    for part in straights:
        key = (part.need.duct or "", part.upstream_bore, part.wall)
        if key not in whole.groups:
            whole.groups[key] = Group(key[0], key[1], stock.lengths(part))
        group = whole.groups[key]
        if not group.items:
            continue
        pieces = _cut_to_length(part, group) if group.by_length else _pieces(part, group, rules)
        count += len(pieces)
        if count > MOST_PIECES:
            detail = f"more than {MOST_PIECES} pieces of duct; ask for a part of the tree"
            raise Refusal("not-computable", [Fault(path="runs", code="too-many-pieces", detail=detail)])
        whole.pieces[id(part)] = pieces
        group.cuts += pieces
    for group in whole.groups.values():
        if group.cuts and not group.by_length:
            _pack(group, rules.of("kerf"))
    return whole


def allowances(item: DuctItem, lap: float) -> tuple[float, float]:
    """Return the laps of a whole stock piece and of a cut one, m: one where an end enters, two of a hose."""
    if item.hose:
        return 2 * lap, 2 * lap
    whole = lap if "enters" in (item.upstream_end, item.downstream_end) else 0.0
    return whole, max(whole, lap if item.cut_end == "enters" else 0.0)


def _cut_to_length(part: Part, group: Group) -> list[Cut]:
    """Return a straight as the seller cuts it: whole, without laps."""
    assert part.straight is not None
    return [Cut(part, part.straight, part.straight / part.stretch, 0.0, group.items[0], "whole")]


def _pieces(part: Part, group: Group, rules: Rules) -> list[Cut]:
    """Return the pieces of one straight: whole stock pieces first, what remains last."""
    assert part.straight is not None
    longest = max(item.length or 0.0 for item in group.items)
    item = min((item for item in group.items if item.length == longest), key=group.cost)
    lap = rules.of("lap")
    of_whole = allowances(item, lap)[0]
    of_cut = max(allowances(other, lap)[1] for other in group.items)
    if longest - max(of_whole, of_cut) <= lap:
        detail = f"its laps leave too little of the stock length at {item.at} to lay"
        raise Refusal("not-computable", [Fault(path="rules.lap", code="laps-take-all", detail=detail)])
    material = part.straight / part.stretch
    count, rest = split(material, longest - of_whole, longest - of_cut, max(rules.of("least_piece"), 0.0))
    whole = [Cut(part, (longest - of_whole) * part.stretch, longest, of_whole, item, "whole") for _ in range(count)]
    return whole + [Cut(part, length * part.stretch, length + of_cut, of_cut, item, "between") for length in rest]


def _pack(group: Group, kerf: float) -> None:
    """Take every cut piece from a stock piece."""
    group.bars = [(cut.item, [cut]) for cut in group.cuts if cut.role == "whole"]
    group.whole_cost = sum(group.cost(item) for item, _ in group.bars)
    cuts = [cut for cut in group.cuts if cut.role != "whole"]
    stocks = [Stock(item.length or 0.0, group.cost(item)) for item in group.items]
    group.packing = pack([cut.length for cut in cuts], stocks, kerf)
    for bar in group.packing.bars:
        item = group.items[bar.stock]
        taken = [cuts[number] for number in bar.cuts]
        for cut in taken:
            cut.item = item
            # A cut as long as its stock piece needs no saw and keeps both ends.
            cut.role = "whole" if abs(cut.length - (item.length or 0.0)) <= 1.0e-9 else "between"
        group.bars.append((item, taken))
