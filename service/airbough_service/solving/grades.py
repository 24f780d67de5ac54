"""Grades of a run and of a machine: how far they are from what they ought to reach, in one word."""

from __future__ import annotations

from airbough.wire.answer import Carrying, Served
from airbough_service import catalogue
from airbough_service.catalogue import Dust
from airbough_service.catalogue.checks import check
from airbough_service.shop.gates import open_hoods
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import HOLDS


def dusts_of(shop: Shop, openings: dict[int, float] | None = None) -> list[tuple[Dust, ...]]:
    """Return, by run, the dusts that reach it from the hoods open in this state."""
    out: list[tuple[Dust, ...]] = [() for _ in shop.runs]
    is_open = open_hoods(shop, openings)
    for index in reversed(shop.shape.order):
        words = [dust for arm in shop.shape.children[index] for dust in out[arm]]
        if is_open[index]:
            words += [catalogue.dust(word) for word in shop.runs[index].dust]
        out[index] = tuple({dust.id: dust for dust in words}.values())
    return out


def carrying(ratio: float) -> Carrying:
    """Return the grade of a run's velocity over the transport velocity of its dust."""
    if ratio >= 1.0 - HOLDS:
        return "holds"
    return "short" if ratio >= 1.0 - check("little-short").value else "settles"


def serving(share: float) -> Served:
    """Return the grade of an open hood's flow over its design flow."""
    if share >= 1.0 - HOLDS:
        return "holds"
    return "short" if share >= 1.0 - check("little-short").value else "starved"
