"""Whether any arrangement has the pressure that its air needs: in each state the least that one could do with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeAlias

import numpy as np

from airbough.wire.layout import LayoutLack
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.pressing import Pressing, limits, pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import Search
from airbough_service.combined.layout.trying import PRESSURE, Tried
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats, Prices
from airbough_service.core.limits import most_held

OfWay: TypeAlias = Callable[[Search, Priced, Pressing, int, int], float]
CLOSELY: Final = 0.1  # of all that may be spent, for which every way of a shop is looked at closely
MOST: Final = 4  # ways of a machine in a state that are else


def beyond(asked: Asked) -> tuple[LayoutLack, ...]:
    """Return the states whose air lies beyond the fan's curve: no arrangement has a known pressure for it."""
    known, limit = limits(asked)
    if known.fan is None:
        return ()
    low, high = known.fan.lowest, known.fan.highest
    more = 1.0 + float(asked.request.allowance or 0.0)  # for which the fan is told slower
    return tuple(
        LayoutLack(
            state=asked.opened[state][0], flow=more * float(flow), flow_of_curve=more * min(max(float(flow), low), high)
        )
        for state, flow in enumerate(known.flow)
        if np.isneginf(limit[state])
    )


def lacking(search: Search, work: Priced, *, quickly: bool = False) -> tuple[LayoutLack, ...]:
    """Return the states for which no arrangement leaves enough pressure, of those that the layouts tried break.

    What is told to be needed does not hang on the fan: wherever every way of the shop may be looked at closely, all
    that are told were.

    Args:
        search: with what was tried, none of which holds.
        work: the program's input, nothing left out.
        quickly: whether nothing is looked at closely unless the easiest ways prove that some state lacks pressure.
    """
    off = beyond(search.asked)
    best = min(search.pool, key=lambda one: one.rank, default=None)
    if best is None:
        return off
    press = pressing(search.asked, search.where, work)
    states = [state for state in _broken(search, best) if np.isfinite(press.available[state])]
    least = {state: _most(search, work, press, state, _way) for state in states}
    if quickly and all(least[state] <= press.available[state] for state in states):
        return off
    for state in _closely(search, press, states):
        least[state] = max(least[state], _most(search, work, press, state, _least))
    short = [state for state in states if least[state] > press.available[state]]
    return (*off, *(_told(search, press, state, least[state]) for state in short))


def _most(search: Search, work: Priced, press: Pressing, state: int, of_way: OfWay) -> float:
    """Return what the hardest way of a state loses at least, Pa."""
    machines = map(int, np.flatnonzero(press.opened[state]))
    return max(of_way(search, work, press, state, machine) for machine in machines)


def _closely(search: Search, press: Pressing, states: list[int]) -> list[int]:
    """Return the states of some whose ways may be looked at closely, and pay for them: all, else the first few."""
    each = relaxed.work(search.where.lattice, len(search.where.machines))
    if press.opened.sum() * each <= CLOSELY * search.given:
        search.left -= each * press.opened[states].sum()
        return states
    out, ways = [], 0
    for state in states:
        ways += int(press.opened[state].sum())
        if ways > MOST or ways * each + search.trying > search.left:
            break
        out.append(state)
    search.left -= each * press.opened[out].sum()
    return out


def _broken(search: Search, best: Tried) -> list[int]:
    """Return the states in which a layout lacks pressure, the worst first."""
    number = {name: at for at, (name, _) in enumerate(search.asked.opened)}
    missed = {
        number[item.state]: item.share or 0.0
        for item in best.sized.broken
        if item.rule in PRESSURE and item.state in number
    }
    return sorted(missed, key=lambda state: -missed[state])


def _way(search: Search, work: Priced, press: Pressing, state: int, machine: int) -> float:
    """Return the same as `_least`, quickly: by the easiest way, in what loses least of all that its air may be in."""
    mine, where = (work.rows.group >> machine & 1).astype(bool), search.where
    metre, turn = press.length[mine, state].min(), press.turn[mine, :, state].min(axis=0)
    begun = np.where(np.isfinite(work.riser[machine]), press.start[machine, :, state], np.inf)
    entered = np.where(np.isfinite(work.prices.tap[machine]), press.tap[machine, :, state], np.inf)
    aside = press.branch[mine, :, :, state].min(axis=(0, 1))
    joined = min(press.straight[mine, :, state].min(), aside.min())
    turn = np.minimum(turn, aside - joined)  # who enters a join from its side turns by that alone
    joins = (len(where.machines) > 1) if joined > 0.0 else len(where.machines) - 1
    end = press.end[work.rows.number[-1] >= 0, state].min()
    way = relaxed.least_way(where.lattice, int(where.machines[machine]), where.inlet, float(metre), turn)
    return float(min(begun.min(), entered.min()) + way + joins * joined + end)


def _least(search: Search, work: Priced, press: Pressing, state: int, machine: int) -> float:
    """Return what the way from a machine loses at least in a state, in whatever arrangement, Pa."""
    weight = np.zeros(press.opened.shape)
    weight[state, machine] = 1.0
    free = Prices(*(np.where(np.isfinite(price), 0.0, np.inf) for price in work.prices))
    without = Priced(work.flows, work.rows, free, _free(work.riser), _free(work.change), 0.0)
    prices, where = press.prices(without, weight), search.where
    found = relaxed.solve(where.lattice, where.machines, work.rows, prices)
    return relaxed.least(found, work.rows, prices, where.inlet)


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
