"""What tried changes cost: the parts list with the change against that of the shop as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final, get_args

from msgspec import structs

from airbough.wire.answer import Advice, Purchase
from airbough.wire.parts_list import PartsListAnswer, PartsListLine, PartsListNeed, PartsListRequest
from airbough.wire.problem import Fault
from airbough.wire.stock import Stock, SupplyUse
from airbough.wire.tree import Tree
from airbough_service.core import deadline
from airbough_service.questions.parts_list import question as parts_list
from airbough_service.terms import money
from airbough_service.terms.refusal import Refusal

_SMALL_PARTS: Final = frozenset(get_args(SupplyUse))
_LEAST_LENGTH: Final = 1.0e-6  # m: below, a length is the same but for rounding


def refuse_idle_stock(request: Any) -> None:
    """Refuse a stock that no advice would use.

    Raises:
        Refusal: `stock-without-advice`.
    """
    if getattr(request, "stock", None) is not None and not request.advice:
        detail = "a stock prices advised changes here; ask for them with advice: true, or leave stock out"
        raise Refusal("not-computable", [Fault(path="stock", code="stock-without-advice", detail=detail)])


def priced(request: Tree, stock: Stock, found: Sequence[Advice], changed: Sequence[Tree | None]) -> tuple[Advice, ...]:
    """Return advice with what each change buys, its price, and its rank by air for the price; in SI.

    Args:
        request: the shop as it stands, in SI.
        stock: with prices.
        found: the advice.
        changed: the shop with each change; None where no parts list tells what it takes.

    Raises:
        Refusal: faults of the stock.
    """
    before = _parts(request, stock)
    out = [
        one if tree is None else _with_price(one, before, tree, stock) for one, tree in zip(found, changed, strict=True)
    ]
    worth = [place for place, one in enumerate(out) if one.price_complete]
    worth.sort(key=lambda place: _air_for_price(out[place]), reverse=True)
    rank = {place: number for number, place in enumerate(worth, start=1)}
    return tuple(structs.replace(one, rank_for_price=rank.get(place)) for place, one in enumerate(out))


def _air_for_price(one: Advice) -> tuple[bool, float]:
    """Return what changes are ordered by: what costs nothing first, then by air gained for the price."""
    price = float(one.price or 0)
    return (price == 0.0, one.flow_gained if price == 0.0 else one.flow_gained / price)


def _parts(tree: Tree, stock: Stock) -> PartsListAnswer:
    fields: dict[str, Any] = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    return parts_list.answer(PartsListRequest(**fields | {"uncertainty": None, "explain": False}, stock=stock))


def _with_price(one: Advice, before: PartsListAnswer, tree: Tree, stock: Stock) -> Advice:
    """Return the advice with its purchases; as it is where the changed shop has no parts list."""
    deadline.check()
    try:
        after = _parts(tree, stock)
    except Refusal:
        return one
    bought = _bought(before, after, small_parts=bool(stock.supplies))
    return structs.replace(
        one,
        buys=bought,
        price=money.summed((item.price for item in bought if item.price is not None), stock.currency),
        price_complete=all(item.price is not None for item in bought),
        currency=stock.currency,
    )


def _bought(before: PartsListAnswer, after: PartsListAnswer, *, small_parts: bool) -> tuple[Purchase, ...]:
    """Return what the second list has more of than the first."""
    there = {_of_line(line): line for line in before.lines}
    lines = [line for line in after.lines if small_parts or line.what not in _SMALL_PARTS]
    missed = {_of_need(need): need for need in before.not_stocked}
    found = [
        *(_more(line, there.get(_of_line(line))) for line in lines),
        *(_missing(need, missed.get(_of_need(need))) for need in after.not_stocked),
    ]
    return tuple(one for one in found if one is not None)


def _of_line(line: PartsListLine) -> tuple[Any, ...]:
    return (line.at,) if line.at is not None else (line.what, line.diameter)


def _of_need(need: PartsListNeed) -> PartsListNeed:
    """Return what a need is, whatever its amount and place."""
    return structs.replace(need, quantity=None, length=None, runs=())


def _more(line: PartsListLine, old: PartsListLine | None) -> Purchase | None:
    """Return a purchase of what a line has more than before; None where it has no more."""
    pieces, length = _difference(line, old)
    if (pieces or 0) <= 0 and (line.quantity is not None or length is None):
        return None
    price = None if line.price is None else line.price - (old.price or Decimal(0) if old is not None else Decimal(0))
    return Purchase(
        what=line.what, item=line.item or line.at, diameter=line.diameter, quantity=pieces, length=length, price=price
    )


def _missing(need: PartsListNeed, old: PartsListNeed | None) -> Purchase | None:
    """Return what is wanted more of what is not to be had."""
    pieces, length = _difference(need, old)
    if (pieces or 0) <= 0 and (need.quantity is not None or length is None):
        return None
    return Purchase(what=need.type, diameter=max(need.diameters), quantity=pieces, length=length)


def _difference(
    new: PartsListLine | PartsListNeed, old: PartsListLine | PartsListNeed | None
) -> tuple[int | None, float | None]:
    """Return pieces more, and length more (None where it is no more)."""
    pieces = None if new.quantity is None else new.quantity - ((old.quantity or 0) if old is not None else 0)
    more = (new.length or 0.0) - ((old.length or 0.0) if old is not None else 0.0)
    return pieces, more if more > _LEAST_LENGTH else None
