"""Whether any arrangement has the pressure that its air needs: in each state the least that one could do with."""

from __future__ import annotations

from typing import Final

import numpy as np

from airbough.wire.layout import LayoutLack
from airbough_service.combined.layout.pressing import Pressing, pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import Search
from airbough_service.combined.layout.trying import PRESSURE, Tried
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats, Prices
from airbough_service.core.limits import most_held

MOST: Final = 4  # ways of a machine in a state that are looked at


def lacking(search: Search, work: Priced) -> tuple[LayoutLack, ...]:
    """Return the states for which no arrangement leaves enough pressure, of those that the layouts tried break.

    Args:
        search: with what was tried, none of which holds.
        work: the program's input, nothing left out.
    """
    best = min(search.pool, key=lambda one: one.rank, default=None)
    if best is None:
        return ()
    press = pressing(search.asked, search.where, work)
    out, left = [], MOST
    for state in _broken(search, best):
        machines = np.flatnonzero(press.opened[state])
        left -= machines.size
        needed = machines.size * relaxed.work(search.where.lattice, len(search.where.machines))
        if left < 0 or needed > search.left or not np.isfinite(press.available[state]):
            break
        search.left -= needed
        least = max(_least(search, work, press, state, int(machine)) for machine in machines)
        if least > press.available[state]:
            out.append(_told(search, press, state, least))
    return tuple(out)


def _broken(search: Search, best: Tried) -> list[int]:
    """Return the states in which a layout lacks pressure, the worst first."""
    number = {name: at for at, (name, _) in enumerate(search.asked.opened)}
    missed = {
        number[item.state]: item.share or 0.0
        for item in best.sized.broken
        if item.rule in PRESSURE and item.state in number
    }
    return sorted(missed, key=lambda state: -missed[state])


def _least(search: Search, work: Priced, press: Pressing, state: int, machine: int) -> float:
    """Return what the way from a machine loses at least in a state, in whatever arrangement, Pa."""
    weight = np.zeros(press.opened.shape)
    weight[state, machine] = 1.0
    free = Prices(*(np.where(np.isfinite(price), 0.0, np.inf) for price in work.prices))
    without = Priced(work.flows, work.rows, free, _free(work.riser), _free(work.change), 0.0)
    prices, where = press.prices(without, weight), search.where
    found = relaxed.solve(where.lattice, where.machines, work.rows, prices)
    here = slice(None) if where.inlet.heading < 0 else where.inlet.heading
    own = work.rows.number[-1] >= 0
    return float(found.arrived[-1, here, where.inlet.point].min() + prices.end[own].min())


def _free(prices: Floats) -> Floats:
    return np.where(np.isfinite(prices), 0.0, np.inf)


def _told(search: Search, press: Pressing, state: int, least: float) -> LayoutLack:
    """Return what is missing, with what the collector itself needs, Pa."""
    needed = least + float(press.constant[state])
    available = float(press.available[state] + press.constant[state]) / most_held(1.0)
    return LayoutLack(
        state=search.asked.opened[state][0],
        needed=needed,
        available=available,
        missing=needed - available,
    )
