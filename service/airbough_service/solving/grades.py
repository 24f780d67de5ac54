"""Grades of a run and of a machine: how far they are from what they ought to reach, in one word."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import Carrying, Served
from airbough_service import catalogue
from airbough_service.catalogue import Dust
from airbough_service.catalogue.checks import check
from airbough_service.core.limits import above, below
from airbough_service.shop.gates import open_hoods
from airbough_service.shop.shop import Shop, ShopRun

_MOST_LISTS: Final = 1024  # of dusts, that are remembered
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


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
    opened, children = open_hoods(shop, openings) if is_open is None else is_open, shop.shape.children
    for index in reversed(shop.shape.order):
        found: tuple[Dust, ...] = ()
        for arm in children[index]:
            if out[arm] is not found:
                found = _joined(found, out[arm])
        out[index] = _joined(found, _named(shop.runs[index].dust)) if opened[index] else found
    return out


@lru_cache(_MOST_LISTS)
def _named(words: tuple[str, ...]) -> tuple[Dust, ...]:
    """Return the dusts of words that the catalogue has."""
    return tuple([catalogue.dust(word) for word in words])


def _joined(some: tuple[Dust, ...], others: tuple[Dust, ...]) -> tuple[Dust, ...]:
    """Return dusts, each once."""
    if not some or not others or some == others:
        return some or others
    return tuple({dust.id: dust for dust in (*some, *others)}.values())


def carrier(dusts: Sequence[Dust]) -> Dust:
    """Return the dust that needs the fastest air of those that reach a run."""
    return dusts[0] if len(dusts) == 1 else max(dusts, key=lambda dust: dust.transport_velocity)


def highest(dusts: Sequence[Dust]) -> Dust:
    """Return the dust that has a use for the fastest air of those that reach a run."""
    return dusts[0] if len(dusts) == 1 else max(dusts, key=lambda dust: dust.upper_velocity)


def of_hoods(shop: Shop) -> tuple[Floats, Floats]:
    """Return, by run, the transport and the upper velocity of its own hood's dust, m/s; 0 where it has none."""
    own = [tuple([catalogue.dust(word) for word in run.dust]) if run.run.hood is not None else () for run in shop.runs]
    lower = [carrier(dusts).transport_velocity if dusts else 0.0 for dusts in own]
    return np.array(lower), np.array([highest(dusts).upper_velocity if dusts else 0.0 for dusts in own])


@overload
def settles(ratio: float) -> bool: ...
@overload
def settles(ratio: Floats) -> Flags: ...
def settles(ratio: float | Floats) -> bool | Flags:
    """Return whether dust settles in air of this share of the transport velocity; of an array, where."""
    return below(ratio, 1.0)


@overload
def needlessly_fast(ratio: float) -> bool: ...
@overload
def needlessly_fast(ratio: Floats) -> Flags: ...
def needlessly_fast(ratio: float | Floats) -> bool | Flags:
    """Return whether air of this share of the upper velocity is faster than it need be; of an array, where."""
    return above(ratio, 1.0)


@overload
def starves(share: float) -> bool: ...
@overload
def starves(share: Floats) -> Flags: ...
def starves(share: float | Floats) -> bool | Flags:
    """Return whether an open hood that gets this share of its design flow starves; of an array, where."""
    return below(share, 1.0)


def narrows(run: ShopRun, into: ShopRun) -> bool:
    """Return whether a run flows into a narrower one."""
    return below(into.start, run.end)


def carrying(ratio: float) -> Carrying:
    """Return the grade of a run's velocity over the transport velocity of its dust."""
    if ratio >= 1.0 or not settles(ratio):
        return "holds"
    return "short" if ratio >= 1.0 - check("little-short").value else "settles"


def serving(share: float) -> Served:
    """Return the grade of an open hood's flow over its design flow: `short` and `starved` are what `starves` tells."""
    if share >= 1.0 or not starves(share):
        return "holds"
    return "short" if share >= 1.0 - check("little-short").value else "starved"
