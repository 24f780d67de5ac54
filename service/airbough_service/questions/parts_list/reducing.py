"""Whether one wye with a straight that changes size serves where a wye and a change of size are needed."""

from __future__ import annotations

from decimal import Decimal

from airbough.wire.tree import Straight
from airbough_service.questions.parts_list.fittings import change_need, junction_need, straight_arm
from airbough_service.questions.parts_list.parts import Need
from airbough_service.questions.parts_list.stock import StockList
from airbough_service.shop.shop import Shop


def reduces(shop: Shop, index: int, stock: StockList) -> bool:
    """Return whether the stock has such a wye for the junction into a run, and nothing else serves for less."""
    arm, plain = straight_arm(shop, index), junction_need(shop, index)
    if arm is None or plain is None or plain.type == "manifold":
        return False
    one = junction_need(shop, index, reducing=True)
    if one is None or one == plain or stock.serve(one) is None:
        return False
    join = shop.runs[arm].run.join
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    two = (plain, change_need(shop.runs[arm].end, shop.runs[index].start, length, plain.duct))
    apart = _price(stock, *two)
    if any(stock.serve(need) is None for need in two):
        return True
    together = _price(stock, one)
    return together is not None and (apart is None or together < apart)


def _price(stock: StockList, *needs: Need) -> Decimal | None:
    """Return what pieces cost together; None where one is not stocked or has no price."""
    prices = [None if (served := stock.serve(need)) is None else served.item.each for need in needs]
    return None if None in prices else sum((price for price in prices if price is not None), Decimal(0))
