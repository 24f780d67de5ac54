"""Lines of a bill: whole packages, prices to the coin, and what is there of each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from msgspec import structs

from airbough.wire.parts_list import PartsListLine
from airbough.wire.quantity import Preset
from airbough_service.core.choosing.laying import packages
from airbough_service.questions.parts_list.stock import StockList
from airbough_service.shop.stock import Entry
from airbough_service.terms import money


@dataclass(frozen=True, slots=True)
class Bill:
    """In which preset lengths are priced, and in whose coins."""

    preset: Preset
    currency: str | None

    def by_piece(self, line: PartsListLine, entry: Entry[Any] | None, pieces: int) -> PartsListLine:
        """Return a line for so many pieces, whole packages bought; one of nobody's where there is no entry."""
        if entry is None:
            return structs.replace(line, quantity=pieces)
        told = self.things(line, entry, packages(pieces, entry.pack))
        return structs.replace(told, needed=pieces) if entry.pack > 1 else told

    def things(self, line: PartsListLine, entry: Entry[Any], quantity: int) -> PartsListLine:
        """Return a line for so many of what an entry sells."""
        price = None if entry.price is None else money.coined(entry.price * quantity, self.currency)
        there = entry.ware.quantity
        return structs.replace(
            line,
            item=entry.ware.item,
            at=entry.at,
            quantity=quantity,
            price_each=money.shown(entry.price),
            price=price,
            in_stock=there if there is not None and there < quantity else None,
        )

    def by_length(self, line: PartsListLine, entry: Entry[Any], length: float) -> PartsListLine:
        """Return a line for a length [m] that the seller cuts."""
        told, there = money.in_preset(length, self.preset), entry.ware.quantity
        return structs.replace(
            line,
            item=entry.ware.item,
            at=entry.at,
            length=length,
            price_each=money.shown(entry.rate),
            price=None if entry.rate is None else money.coined(entry.rate * told, self.currency),
            in_stock=there if there is not None and there < told else None,
        )

    def amount(self, line: PartsListLine, entry: Entry[Any]) -> Decimal:
        """Return how many of what another entry sells stand in for a line: packages, or feet or metres."""
        if line.quantity is None or getattr(entry.ware, "piece_length", None) is not None:
            return self._of_duct(line, entry)
        return Decimal(packages(line.needed or line.quantity, entry.pack))

    def _of_duct(self, line: PartsListLine, entry: Entry[Any]) -> Decimal:
        piece = getattr(entry.ware, "piece_length", None)
        length = float(line.length or 0.0)
        if piece is None:
            return money.in_preset(length, self.preset)
        return Decimal(packages(length, float(piece) * entry.pack))

    def substitute(self, line: PartsListLine, entries: dict[str, Entry[Any]], used: dict[str, Decimal]) -> str | None:
        """Return the first item named instead of a line's of which enough are there beside what is bought anyway."""
        own = next(entry for entry in entries.values() if entry.at == line.at)
        for word in own.ware.substitutes:
            other = entries[word]
            there = other.ware.quantity
            if there is None or self.amount(line, other) + used.get(word, Decimal(0)) <= there:
                return str(word)
        return None


def with_substitutes(lines: Sequence[PartsListLine], stock: StockList, bill: Bill) -> list[PartsListLine]:
    """Return the lines; where too few are there, with the substitute that the seller names."""
    entries = {entry.ware.item or entry.at: entry for entry in _all(stock)}
    used: dict[str, Decimal] = {}
    for line in lines:
        if line.item is not None:
            own = entries[line.item]
            amount = Decimal(line.quantity) if line.quantity is not None else bill.amount(line, own)
            used[line.item] = used.get(line.item, Decimal(0)) + amount
    return [
        line if line.in_stock is None else structs.replace(line, substitute=bill.substitute(line, entries, used))
        for line in lines
    ]


def _all(stock: StockList) -> Iterable[Entry[Any]]:
    yield from stock.ducts
    yield from (entry for some in stock.fittings.values() for entry in some)
    yield from stock.gates
    yield from stock.supplies
