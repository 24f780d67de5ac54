"""What is required and what to buy, line by line, with prices where the caller gave them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from msgspec import structs

from airbough.wire.parts_list import (
    PartsListLine,
    PartsListNeed,
)
from airbough_service.core.choosing.laying import packages
from airbough_service.questions.parts_list.bill import Bill, with_substitutes
from airbough_service.questions.parts_list.cutting import Cutting
from airbough_service.questions.parts_list.joints import (
    Made,
    Supplies,
)
from airbough_service.questions.parts_list.parts import (
    Need,
    Part,
)
from airbough_service.questions.parts_list.room import room_of
from airbough_service.questions.parts_list.rows import Rows
from airbough_service.questions.parts_list.stock import StockList
from airbough_service.shop.stock import Entry
from airbough_service.terms import money


@dataclass(slots=True)
class Wanted:
    """How much of one need there is: pieces, or metres; by whom; and the path of the first."""

    at: str
    count: int = 0
    length: float = 0.0
    runs: dict[str, None] | None = None


def wanted(parts: Iterable[Part], placed: Rows, names: Sequence[str]) -> dict[Need, Wanted]:
    """Return every need with its amount, in order of first use; hose at full stretch, as it is sold."""
    out: dict[Need, Wanted] = {}
    for part in parts:
        entry = out.setdefault(part.need, Wanted(part.at, runs={}))
        entry.count += part.straight is None
        entry.length += 0.0 if part.straight is None else part.straight / part.stretch
        assert entry.runs is not None
        entry.runs[part.run] = None
    for index, (need, _) in placed.junctions.items():
        entry = out.setdefault(need, Wanted(f"runs[{index}]", runs={}))
        entry.count += 1
        assert entry.runs is not None
        entry.runs[names[index]] = None
    return out


def requirement(needs: dict[Need, Wanted], served: dict[Need, Entry[Any]]) -> tuple[PartsListNeed, ...]:
    """Return the needs in the answer's structs."""
    return tuple(_need(need, entry, served.get(need)) for need, entry in needs.items())


def _need(need: Need, wanted: Wanted, entry: Entry[Any] | None) -> PartsListNeed:
    room, straight = room_of(need)
    return PartsListNeed(
        corner_to_end=None if room is None else room.corner_to_end,
        reach=None if room is None else room.reach,
        straight_way=straight,
        type=need.type,
        diameters=need.bores,
        quantity=wanted.count or None,
        length=wanted.length or None,
        angle=need.angle,
        radius_ratio=need.radius_ratio,
        construction=need.construction,
        duct=need.duct,
        fitting_length=need.length,
        runs=tuple(wanted.runs or ()),
        item=None if entry is None else entry.ware.item,
        at=None if entry is None else entry.at,
    )


def served_entries(needs: dict[Need, Wanted], stock: StockList, cut: Cutting) -> dict[Need, Entry[Any]]:
    """Return, for each need that the stock serves, its entry; a duct's is the first of its lengths."""
    out: dict[Need, Entry[Any]] = {}
    for need in needs:
        if need.type in ("duct", "hose"):
            groups = [group for key, group in cut.groups.items() if key[:2] == (need.duct or "", need.bores[0])]
            if groups and all(group.items for group in groups):
                out[need] = groups[0].items[0].entry
        else:
            served = stock.serve(need)
            if served is not None:
                out[need] = served.item
    return out


def lines(
    needs: dict[Need, Wanted], stock: StockList, cut: Cutting, joints: Sequence[Made], supplies: Supplies, bill: Bill
) -> list[PartsListLine]:
    """Return every line to buy: duct, fittings and gates, adapters, small parts.

    What the stock's lists have not is no line; of what it has no list at all the lines have no price.
    """
    out = [
        *_duct_lines(cut, bill),
        *_fitting_lines(needs, stock, bill),
        *_untold_lines(needs, stock),
        *_adapter_lines(joints, stock, bill),
        *_supply_lines(supplies, stock, bill),
    ]
    return with_substitutes(out, stock, bill)


def _duct_lines(cut: Cutting, bill: Bill) -> list[PartsListLine]:
    counted: Counter[str] = Counter()
    lengths: dict[str, float] = defaultdict(float)
    items = {}
    for group in cut.groups.values():
        for item, _ in group.bars:
            counted[item.at] += 1
            items[item.at] = item
        for one in group.cuts if group.by_length else ():
            lengths[one.item.at] += one.length
            items[one.item.at] = one.item
    out = []
    for at, item in items.items():
        kind = "hose" if item.hose else "duct"
        diameter, word = float(item.entry.ware.diameter), item.entry.ware.duct
        line = PartsListLine(what=kind if word is None else f"{kind}, {word}", diameter=diameter)
        if item.length is None:
            out.append(bill.by_length(line, item.entry, lengths[at]))
            continue
        line = bill.by_piece(line, item.entry, counted[at])
        out.append(structs.replace(line, length=item.length * (line.quantity or 0) * item.entry.pack))
    return out


def _fitting_lines(needs: dict[Need, Wanted], stock: StockList, bill: Bill) -> list[PartsListLine]:
    counted: Counter[str] = Counter()
    found = {}
    for need, wanted in needs.items():
        served = None if need.type in ("duct", "hose") else stock.serve(need)
        if served is not None:
            counted[served.item.at] += wanted.count
            found[served.item.at] = (need, served.item)
    out = []
    for at, count in counted.items():
        need, entry = found[at]
        line = PartsListLine(what=_what(need), diameter=float(entry.ware.diameter), diameters=_unlike(need))
        out.append(bill.by_piece(line, entry, count))
    return out


def _untold_lines(needs: dict[Need, Wanted], stock: StockList) -> list[PartsListLine]:
    """Return what the stock has no list of: it is to be had, and has no price."""
    return [
        PartsListLine(
            what=_what(need),
            diameter=max(need.bores),
            diameters=_unlike(need),
            quantity=wanted.count or None,
            length=wanted.length or None,
        )
        for need, wanted in needs.items()
        if stock.untold(need)
    ]


def _unlike(need: Need) -> tuple[float, ...] | None:
    """Return a fitting's bores, m, where its ends are unlike."""
    return need.bores if len(set(need.bores)) > 1 else None


def _what(need: Need) -> str:
    word = f", {need.duct}" if need.type in ("duct", "hose") and need.duct is not None else ""
    return need.type + word if need.angle is None else f"{need.type}, {need.angle:g} deg"


def _adapter_lines(joints: Sequence[Made], stock: StockList, bill: Bill) -> list[PartsListLine]:
    counted = Counter((made.joint.adapter, made.bore) for made in joints if made.joint.adapter is not None)
    return [
        bill.by_piece(PartsListLine(what=str(use), diameter=bore), stock.adapter(str(use), bore), count)
        for (use, bore), count in sorted(counted.items(), key=lambda entry: (str(entry[0][0]), entry[0][1]))
    ]


def _supply_lines(supplies: Supplies, stock: StockList, bill: Bill) -> list[PartsListLine]:
    out = []
    for (use, bore), count in _merged(supplies.pieces, stock).items():
        line = bill.by_piece(PartsListLine(what=use, diameter=bore), stock.supply(use, bore), count)
        out.append(structs.replace(line, needed=count))
    for (use, bore), length in supplies.lengths.items():
        entry = stock.supply(use, bore)
        line = PartsListLine(what=use, length=length)
        reach = None if entry is None or entry.ware.length is None else float(entry.ware.length)
        out.append(line if entry is None or reach is None else bill.things(line, entry, packages(length, reach)))
    return out


def _merged(pieces: Counter[tuple[str, float | None]], stock: StockList) -> dict[tuple[str, float | None], int]:
    """Return the counts by bore, those that one package for any bore serves put together."""
    out: dict[tuple[str, float | None], int] = defaultdict(int)
    for (use, bore), count in pieces.items():
        item = stock.supply(use, bore)
        any_bore = item is not None and item.ware.diameter is None
        out[use, None if any_bore else bore] += count
    return dict(out)


def total(items: Sequence[PartsListLine], currency: str | None) -> tuple[Decimal | None, tuple[str, ...]]:
    """Return the sum of the priced lines (None where none is), and what has no price."""
    prices = [line.price for line in items if line.price is not None]
    missing = [line.item or line.at or line.what for line in items if line.price is None]
    return (money.summed(prices, currency) if prices else None), tuple(dict.fromkeys(missing))
