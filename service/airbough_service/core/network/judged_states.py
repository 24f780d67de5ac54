"""Many states of the gates judged by what flows in them: which run is slowest for its dust, which hood has least."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled, inner
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

    Dust comes down from open hoods; a run is judged by the most demanding of it, slow where its air comes in. Shares
    are compared as products, and only one that is kept is worked out: a division takes as long as all else.
    """
    upper, lower, design = runs.upper, runs.lower, runs.design  # out of their tuple once: each time is counted
    is_open, active, running, every_open = states.open, states.active, states.running, states.running.size == 0
    count, noting = runs.parents.size, noted.slow.size > 0
    enough, most, held = np.empty(count), np.empty(count), np.empty(count)
    for s in range(states.known.size):
        flow, known = states.flow[s], states.known[s]
        _velocities(runs, is_open[s], enough, most)
        margin, slowest, share, starved = np.inf, 0, np.inf, 0
        fast, transitional = False, False
        for run in range(count):
            here, least = flow[lower[run]], min(flow[lower[run]], flow[upper[run]])
            if not known:
                enough[run], most[run] = 0.0, 0.0
            if enough[run] > 0.0:
                if least < margin * enough[run]:
                    margin, slowest = least / enough[run], run
                fast = fast or (most[run] > 0.0 and here > MOST_HELD * most[run])
            held[run] = design[run] if known and (is_open[s, run] if every_open else running[run]) else np.nan
            if flow[upper[run]] < share * held[run]:
                share, starved = flow[upper[run]] / held[run], run
            if active[s, run]:
                reynolds = runs.reynolds[run] * here
                transitional = transitional or LAMINAR_END < reynolds < TURBULENT_START
        worst.margin[s], worst.margin_run[s], worst.share[s], worst.share_run[s] = margin, slowest, share, starved
        worst.fast[s], worst.transitional[s] = fast, transitional
        if noting:
            state = seen + s
            _note_slow(flow, upper, lower, enough, state, noted.slow, noted.margin, noted.margin_state, noted.carried,
                       noted.carried_state)  # fmt: skip
            _note_fast(flow, lower, enough, most, state, noted.fast, noted.excess, noted.excess_state)
            _note_shares(flow, upper, held, state, noted.starved, noted.share, noted.share_state)


@inner
def _velocities(runs: Judging, is_open: np.ndarray, enough: np.ndarray, most: np.ndarray) -> None:
    """Fill what must and what may flow in each run for the dust of the open hoods upstream, m3/s; 0 where none is."""
    parents, order, carried, needed = runs.parents, runs.order, runs.carried, runs.needed
    for run in range(parents.size):
        enough[run] = carried[run] if is_open[run] else 0.0
        most[run] = needed[run] if is_open[run] else 0.0
    for k in range(order.size - 1, -1, -1):
        run = order[k]
        parent = parents[run]
        if parent >= 0:
            enough[parent] = max(enough[parent], enough[run])
            most[parent] = max(most[parent], most[run])
    for run in range(parents.size):
        enough[run] *= runs.widest[run]
        most[run] *= runs.narrowest[run]


@inner
def _note_slow(
    flow: np.ndarray, upper: np.ndarray, lower: np.ndarray, enough: np.ndarray, state: int, slow: np.ndarray,
    margin: np.ndarray, margin_state: np.ndarray, carried: np.ndarray, carried_state: np.ndarray,
) -> None:  # fmt: skip
    """Note which runs are too slow for their dust in a state."""
    for run in range(enough.size):
        if enough[run] > 0.0:
            least = min(flow[lower[run]], flow[upper[run]])
            if least < LEAST_HELD * enough[run]:
                slow[run] += 1
            elif carried_state[run] < 0:
                carried[run], carried_state[run] = least / enough[run], state
            if least < margin[run] * enough[run]:
                margin[run], margin_state[run] = least / enough[run], state


@inner
def _note_fast(
    flow: np.ndarray, lower: np.ndarray, enough: np.ndarray, most: np.ndarray, state: int, fast: np.ndarray,
    excess: np.ndarray, excess_state: np.ndarray,
) -> None:  # fmt: skip
    """Note which runs are needlessly fast in a state, of those that are judged."""
    for run in range(enough.size):
        if enough[run] > 0.0 and most[run] > 0.0:
            here = flow[lower[run]]
            if here > MOST_HELD * most[run]:
                fast[run] += 1
            if here > -excess[run] * most[run]:
                excess[run], excess_state[run] = -here / most[run], state


@inner
def _note_shares(
    flow: np.ndarray, upper: np.ndarray, held: np.ndarray, state: int, starved: np.ndarray, share: np.ndarray,
    share_state: np.ndarray,
) -> None:  # fmt: skip
    """Note which hoods starve in a state; held: the design flows that count, not a number where none does."""
    for run in range(held.size):
        if flow[upper[run]] < LEAST_HELD * held[run]:
            starved[run] += 1
        if flow[upper[run]] < share[run] * held[run]:
            share[run], share_state[run] = flow[upper[run]] / held[run], state
