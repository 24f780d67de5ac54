"""What is required and what to buy, line by line, with prices where the caller gave them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from msgspec import structs

from airbough.wire.parts_list import (
    PartsListLine,
    PartsListNeed,
)
from airbough_service.core.choosing.laying import packages
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


def requirement(needs: dict[Need, Wanted], served: dict[Need, str]) -> tuple[PartsListNeed, ...]:
    """Return the needs in the answer's structs."""
    return tuple(_need(need, entry, served.get(need)) for need, entry in needs.items())


def _need(need: Need, entry: Wanted, item: str | None) -> PartsListNeed:
    room, straight = room_of(need)
    return PartsListNeed(
        corner_to_end=None if room is None else room.corner_to_end,
        reach=None if room is None else room.reach,
        straight_way=straight,
        type=need.type,
        diameters=need.bores,
        quantity=entry.count or None,
        length=entry.length or None,
        angle=need.angle,
        radius_ratio=need.radius_ratio,
        construction=need.construction,
        duct=need.duct,
        fitting_length=need.length,
        runs=tuple(entry.runs or ()),
        item=item,
    )


def served_items(needs: dict[Need, Wanted], stock: StockList, cut: Cutting) -> dict[Need, str]:
    """Return, for each need that the stock list serves, the item; a duct's is the first of its lengths."""
    out = {}
    for need in needs:
        if need.type in ("duct", "hose"):
            groups = [group for key, group in cut.groups.items() if key[:2] == (need.duct or "", need.bores[0])]
            if groups and all(group.items for group in groups):
                out[need] = groups[0].items[0].item
        else:
            served = stock.serve(need)
            if served is not None:
                out[need] = served.item.item
    return out


def lines(
    needs: dict[Need, Wanted], stock: StockList, cut: Cutting, joints: Sequence[Made], supplies: Supplies
) -> list[PartsListLine]:
    """Return every line to buy: duct, fittings and gates, adapters, small parts. What is not stocked is no line."""
    return [
        *_duct_lines(cut),
        *_fitting_lines(needs, stock),
        *_adapter_lines(joints, stock),
        *_supply_lines(supplies, stock),
    ]


def _line(line: PartsListLine, price: float | None) -> PartsListLine:
    """Return a line with its price."""
    if price is None or line.item is None:
        return line
    return structs.replace(line, price_each=float(price), price=float(price) * (line.quantity or 0))


def _duct_lines(cut: Cutting) -> list[PartsListLine]:
    counted: Counter[str] = Counter()
    items = {}
    for group in cut.groups.values():
        for item, _ in group.bars:
            counted[item.item] += 1
            items[item.item] = item
    out = []
    for word, count in counted.items():
        item = items[word]
        kind = str(type(item).__struct_config__.tag)
        what = f"{kind}, {item.duct}"
        length = float(item.piece_length) * count
        line = PartsListLine(what=what, quantity=count, item=word, diameter=item.diameter, length=length)  # type: ignore[arg-type]  # in SI
        out.append(_line(line, item.price))
    return out


def _fitting_lines(needs: dict[Need, Wanted], stock: StockList) -> list[PartsListLine]:
    counted: Counter[str] = Counter()
    found = {}
    for need, entry in needs.items():
        served = None if need.type in ("duct", "hose") else stock.serve(need)
        if served is not None:
            counted[served.item.item] += entry.count
            found[served.item.item] = (need, served)
    out = []
    for word, count in counted.items():
        need, served = found[word]
        what = need.type if need.angle is None else f"{need.type}, {need.angle:g} deg"
        line = PartsListLine(what=what, quantity=count, item=word, diameter=float(served.item.diameter))
        out.append(_line(line, served.item.price))
    return out


def _adapter_lines(joints: Sequence[Made], stock: StockList) -> list[PartsListLine]:
    counted = Counter((made.joint.adapter, made.bore) for made in joints if made.joint.adapter is not None)
    out = []
    for (use, bore), count in sorted(counted.items(), key=lambda entry: (str(entry[0][0]), entry[0][1])):
        item = stock.adapter(str(use), bore)
        line = PartsListLine(what=str(use), quantity=count, item=None if item is None else item.item, diameter=bore)
        out.append(_line(line, None if item is None else item.price))
    return out


def _supply_lines(supplies: Supplies, stock: StockList) -> list[PartsListLine]:
    out = []
    for (use, bore), count in _merged(supplies.pieces, stock).items():
        item = stock.supply(use, bore)
        quantity = count if item is None else packages(count, item.count or 1)
        line = PartsListLine(
            what=use, quantity=quantity, item=None if item is None else item.item, diameter=bore, needed=count
        )
        out.append(_line(line, None if item is None else item.price))
    for (use, bore), length in supplies.lengths.items():
        item = stock.supply(use, bore)
        bought = None if item is None or item.length is None else packages(length, float(item.length))
        line = PartsListLine(what=use, quantity=bought, item=None if item is None else item.item, length=length)
        out.append(_line(line, None if item is None else item.price))
    return out


def _merged(pieces: Counter[tuple[str, float | None]], stock: StockList) -> dict[tuple[str, float | None], int]:
    """Return the counts by bore, those that one package for any bore serves put together."""
    out: dict[tuple[str, float | None], int] = defaultdict(int)
    for (use, bore), count in pieces.items():
        item = stock.supply(use, bore)
        any_bore = item is not None and item.diameter is None
        out[use, None if any_bore else bore] += count
    return dict(out)


def total(items: Sequence[PartsListLine]) -> tuple[float | None, tuple[str, ...]]:
    """Return the sum of the priced lines (None where none is), and what has no price."""
    prices = [line.price for line in items if line.price is not None]
    missing = [line.item or line.what for line in items if line.price is None]
    return (sum(prices) if prices else None), tuple(dict.fromkeys(missing))
