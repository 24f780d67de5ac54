"""Many states of the gates judged by what flows in them: which run is slowest for its dust, which hood has least."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled
from airbough_service.core.laws.friction import LAMINAR_END, TURBULENT_START
from airbough_service.core.limits import least_held, most_held

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]

LEAST_HELD, MOST_HELD = least_held(1.0), most_held(1.0)  # shares


class Judging(NamedTuple):
    """What the R runs of a document are judged by.

    Attributes:
        parents, order: as of `core.network.reaching`.
        upper, lower: shape (R,), rows of the packed tree: of the runs' upstream and downstream ends.
        widest, narrowest: shape (R,), areas where air is slowest and fastest, m2.
        carried, needed: shape (R,), transport and upper velocity of the own hood's dust, m/s; 0 without.
        design: shape (R,), design flow of its hood, m3/s; not a number where there is none.
        reynolds: shape (R,), Reynolds number per flow; 0 where it has no length.
    """

    parents: Whole
    order: Whole
    upper: Whole
    lower: Whole
    widest: Floats
    narrowest: Floats
    carried: Floats
    needed: Floats
    design: Floats
    reynolds: Floats


class States(NamedTuple):
    """S states of a tree of n rows.

    Attributes:
        flow: shape (S, n), m3/s.
        known: shape (S,), whether something flows at a known point.
        open, active: shape (S, R), as of `core.network.reaching`.
        running: shape (R,), the hoods whose design flow counts; of no length: those open in each state.
    """

    flow: Floats
    known: Flags
    open: Flags
    active: Flags
    running: Flags


class Worst(NamedTuple):
    """What each of S states comes to, shape (S,); infinite and 0 where nothing is judged.

    Attributes:
        margin, margin_run: least velocity over transport velocity, and the run.
        share, share_run: least share of a design flow among the hoods that count, and the run.
        fast: whether some run is needlessly fast.
        transitional: whether the flow of some active run is between laminar and turbulent.
    """

    margin: Floats
    margin_run: Whole
    share: Floats
    share_run: Whole
    fast: Flags
    transitional: Flags


class Noted(NamedTuple):
    """By run, in how many states it fails, and the worst of them; shape (R,), or (0,) where nothing is to be noted.

    Attributes:
        slow, starved, fast: in how many states.
        margin, share, excess: the least margin and share, and the greatest velocity over the upper one, below 0.
        margin_state, share_state, excess_state: in which state first.
        carried, carried_state: velocity over transport velocity in the first state in which its dust is carried.
    """

    slow: Whole
    starved: Whole
    fast: Whole
    margin: Floats
    share: Floats
    excess: Floats
    margin_state: Whole
    share_state: Whole
    excess_state: Whole
    carried: Floats
    carried_state: Whole


def worst_of(count: int) -> Worst:
    """Return room for what so many states come to."""
    whole, flags = np.empty((2, count), np.int64), np.empty((2, count), np.bool_)
    return Worst(np.empty(count), whole[0], np.empty(count), whole[1], flags[0], flags[1])


def nothing_noted(runs: int) -> Noted:
    """Return that of so many runs none has failed in any state yet; of 0 runs nothing will be noted."""

    def none() -> Whole:
        return np.zeros(runs, np.int64)

    def nowhere() -> Whole:
        return np.full(runs, -1)

    def far() -> Floats:
        return np.full(runs, np.inf)

    return Noted(
        none(), none(), none(), far(), far(), np.zeros(runs), nowhere(), nowhere(), nowhere(), far(), nowhere()
    )


@compiled
def judge(runs: Judging, states: States, seen: int, worst: Worst, noted: Noted) -> None:
    """Fill what states come to, and add them to what was noted; seen: states noted before.

    Dust comes down from open hoods; a run is judged by the most demanding of it, slow where its air comes in.
    """
    count, noting = runs.parents.size, noted.slow.size > 0
    carried, needed = np.empty(count), np.empty(count)
    for s in range(states.known.size):
        flow, known = states.flow[s], states.known[s]
        _velocities(runs, states.open[s], carried, needed)
        margin, slowest, share, starved = np.inf, 0, np.inf, 0
        fast, transitional = False, False
        for run in range(count):
            here, least = flow[runs.lower[run]], flow[runs.upper[run]]
            if known and carried[run] > 0.0:
                enough, most = runs.widest[run] * carried[run], runs.narrowest[run] * needed[run]
                if min(here, least) < margin * enough:
                    margin, slowest = min(here, least) / enough, run
                fast = fast or (most > 0.0 and here > MOST_HELD * most)
                if noting:
                    _note_velocity(noted, run, seen + s, (min(here, least), enough), (here, most))
            counts = states.open[s, run] if states.running.size == 0 else states.running[run]
            if known and counts and runs.design[run] > 0.0:
                if least < share * runs.design[run]:
                    share, starved = least / runs.design[run], run
                if noting:
                    _note_share(noted, run, seen + s, least, runs.design[run])
            if states.active[s, run]:
                reynolds = runs.reynolds[run] * here
                transitional = transitional or LAMINAR_END < reynolds < TURBULENT_START
        worst.margin[s], worst.margin_run[s], worst.share[s], worst.share_run[s] = margin, slowest, share, starved
        worst.fast[s], worst.transitional[s] = fast, transitional


@compiled
def _velocities(runs: Judging, is_open: np.ndarray, carried: np.ndarray, needed: np.ndarray) -> None:
    """Fill the velocities that the dust of the open hoods upstream of each run asks for, m/s; 0 where none is open."""
    for run in range(runs.parents.size):
        carried[run] = runs.carried[run] if is_open[run] else 0.0
        needed[run] = runs.needed[run] if is_open[run] else 0.0
    for k in range(runs.order.size - 1, -1, -1):
        run = runs.order[k]
        parent = runs.parents[run]
        if parent >= 0:
            carried[parent] = max(carried[parent], carried[run])
            needed[parent] = max(needed[parent], needed[run])


@compiled
def _note_velocity(noted: Noted, run: int, state: int, slow: tuple[float, float], fast: tuple[float, float]) -> None:
    """Note how fast the air of a run is in a state.

    slow: the least that flows, and what must for the dust that needs most; fast: likewise the most, and what may.
    Shares are compared as products, and only one that is noted is worked out: a division takes as long as all else.
    """
    if slow[0] < LEAST_HELD * slow[1]:
        noted.slow[run] += 1
    elif noted.carried_state[run] < 0:
        noted.carried[run], noted.carried_state[run] = slow[0] / slow[1], state
    if slow[0] < noted.margin[run] * slow[1]:
        noted.margin[run], noted.margin_state[run] = slow[0] / slow[1], state
    if fast[1] > 0.0:
        if fast[0] > MOST_HELD * fast[1]:
            noted.fast[run] += 1
        if fast[0] > -noted.excess[run] * fast[1]:
            noted.excess[run], noted.excess_state[run] = -fast[0] / fast[1], state


@compiled
def _note_share(noted: Noted, run: int, state: int, flow: float, design: float) -> None:
    """Note what of its design flow a hood has in a state."""
    if flow < LEAST_HELD * design:
        noted.starved[run] += 1
    if flow < noted.share[run] * design:
        noted.share[run], noted.share_state[run] = flow / design, state
