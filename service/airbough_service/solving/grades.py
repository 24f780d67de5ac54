"""Grades of a run and of a machine: how far they are from what they ought to reach, in one word."""

from __future__ import annotations

from collections.abc import Sequence

from airbough.wire.answer import Carrying, Served
from airbough_service import catalogue
from airbough_service.catalogue import Dust
from airbough_service.catalogue.checks import check
from airbough_service.shop.gates import open_hoods
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import HOLDS


def dusts_of(
    shop: Shop, openings: dict[int, float] | None = None, is_open: Sequence[bool] | None = None
) -> list[tuple[Dust, ...]]:
    """Return, by run, the dusts that reach it from the hoods open in this state.

    Args:
        shop: the tree.
        openings: of the state's gates.
        is_open: which hoods are open in it, where that is known.
    """
    out: list[tuple[Dust, ...]] = [() for _ in shop.runs]
    opened = open_hoods(shop, openings) if is_open is None else is_open
    for index in reversed(shop.shape.order):
        found: tuple[Dust, ...] = ()
        for arm in shop.shape.children[index]:
            found = _joined(found, out[arm])
        if opened[index]:
            found = _joined(found, tuple([catalogue.dust(word) for word in shop.runs[index].dust]))
        out[index] = found
    return out


def _joined(some: tuple[Dust, ...], others: tuple[Dust, ...]) -> tuple[Dust, ...]:
    """Return dusts, each once."""
    if not some or not others or some == others:
        return some or others
    return tuple({dust.id: dust for dust in (*some, *others)}.values())


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
