"""What a layout costs to buy in all, by the parts list of its tree, beside the price by which layouts are compared."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from airbough.wire.layout import LayoutOnTop
from airbough.wire.parts_list import PartsListLine, PartsListRequest
from airbough.wire.tree import Tree
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.trying import Tried
from airbough_service.drafting.following import followed
from airbough_service.questions.parts_list import question as parts_list
from airbough_service.terms import units
from airbough_service.terms.finding import plain
from airbough_service.terms.refusal import Refusal

_HELD = "the price holds duct by the length that is laid, hoses, elbows, wyes, tapers and gates"
_WHOLE = "whole lengths, packages and pieces bought otherwise"


@dataclass(frozen=True, slots=True)
class Bought:
    """What the parts list says.

    Attributes:
        price: of all that it buys; None where the stock does not name it.
        complete: whether every piece has a price.
        on_top: what of it the layout's price knows nothing of.
        words: what the price holds, what comes on top, and how much.
    """

    price: Decimal | None
    complete: bool
    on_top: tuple[LayoutOnTop, ...]
    words: str


def bought(asked: Asked, one: Tried) -> Bought:
    """Return what is to be bought for a layout."""
    tree = followed(units.to_si(one.tree))[0]
    fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    try:
        told = parts_list.answer(PartsListRequest(**fields, stock=asked.request.stock))
    except Refusal:
        return Bought(None, False, (), f"{_HELD}; it has no parts list")
    held = {piece.type for run in one.sized.sizes for piece in run.pieces} | {"hose"}
    more = [line for line in told.lines if line.what.split(",")[0] not in held]
    return Bought(
        told.system.price,
        told.system.price_complete,
        tuple(
            LayoutOnTop(
                what=line.what,
                quantity=line.quantity,
                length=line.length if line.quantity is None else None,
                price=line.price,
            )
            for line in more
        ),
        _words(asked, one, told.system.price, more),
    )


def _words(asked: Asked, one: Tried, whole: Decimal | None, more: list[PartsListLine]) -> str:
    money = "" if asked.request.stock.currency is None else f" {asked.request.stock.currency}"
    parts = [f"{_HELD}: {one.price}{money}"]
    if whole is not None:
        priced = _names(line for line in more if line.price is not None)
        rest = whole - one.price - sum((line.price for line in more if line.price is not None), Decimal(0))
        why = ", ".join([*priced, *([_WHOLE] if abs(rest) > one.rounded else [])])
        apart = whole - one.price
        if abs(apart) <= one.rounded:
            parts.append(f"the parts list of this tree buys the same for {whole}{money}")
        else:
            than = f"{abs(apart)}{money} {'more' if apart > 0 else 'less'}"
            parts.append(f"the parts list of this tree comes to {whole}{money}, {than}: {why}")
    without = _names(line for line in more if line.price is None)
    if without:
        parts.append(f"the stock has no price for {', '.join(without)}, which come on top")
    return "; ".join(parts)


def _names(lines: Iterable[PartsListLine]) -> list[str]:
    return list(dict.fromkeys(plain(line.what.replace("-", " ")) for line in lines))
