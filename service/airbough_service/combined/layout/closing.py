"""The gap that weights leave, closed by labels: every tree whose price and pressure may still do is looked at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.pressing import Pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import Search
from airbough_service.core.choosing.placing import labels, outside
from airbough_service.core.choosing.placing.program import Floats, Prices, Solved
from airbough_service.core.choosing.placing.trace import Traced
from airbough_service.core.limits import HOLDS

LABELS: Final = 200_000
TRIED: Final = 8  # cheapest trees that are traced
SIZED: Final = 3  # trees that are sized of all, for which time is held back when labels are looked at
PAIR: Final = 120.0  # as many sums take two labels that are compared or joined


def still_of(where: Places, solved: Solved, prices: Prices) -> Floats:
    """Return what is still to pay from every state on."""
    return outside.still(where.lattice, where.machines, solved, prices, where.inlet)


@dataclass(frozen=True, slots=True)
class Left:
    """Rows that bounds leave, their losses, and what is still to pay at some weights, shape (rows, headings, n)."""

    priced: Priced
    press: Pressing
    still: Floats


def cheapest(search: Search, left: Left, weight: Floats, most: float) -> tuple[list[Traced], bool]:
    """Return the cheapest trees that the pressure suffices for and that cost no more than so much.

    Args:
        search: what may still be spent; it is paid from.
        left: rows that are looked at.
        weight: of losses, by which `still` was found; shape (states, machines).
        most: price, with hoses.

    Returns:
        The trees by price, and whether none was left out.
    """
    priced, press, where = left.priced, left.press, search.where
    needs = labels.Needs(
        press.length, press.turn, press.straight, press.branch, press.start, press.tap, press.end,
        press.available + HOLDS * np.where(np.isfinite(press.available), np.abs(press.available), 0.0),
    )  # fmt: skip
    asked = labels.Asked(
        rows=priced.rows,
        plain=priced.prices,
        weighted=press.prices(priced, weight),
        starts=labels.Starts(priced.riser, press.risers(priced, weight), priced.change),
        needs=needs,
        still=left.still,
        most=most - priced.hoses + press.allowed(weight),
        limit=LABELS,
        work=max(search.left - SIZED * search.trying, 0.0) / PAIR,
    )
    found, whole, spent = labels.cheapest(where.lattice, where.machines, asked, where.inlet, TRIED)
    search.left -= PAIR * spent
    return found, whole
