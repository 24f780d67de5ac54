"""Many states judged in one loop against their definitions, state by state and run by run."""

import numpy as np
import pytest

from airbough_service.core.laws.friction import LAMINAR_END, TURBULENT_START
from airbough_service.core.limits import above, below
from airbough_service.core.network import judged_states

ROUNDED = 1.0e-15  # shares are compared as products
PARENTS = np.array([-1, 0, 0, 1, 1, 2])
ORDER = np.array([0, 1, 2, 3, 4, 5])
HOODS = np.array([False, False, False, True, True, True])


def runs(random):
    count = len(PARENTS)
    return judged_states.Judging(
        PARENTS, ORDER,
        upper=random.permutation(count + 2)[:count], lower=random.permutation(count + 2)[:count],
        widest=random.uniform(0.5, 1.0, count), narrowest=random.uniform(0.3, 0.5, count),
        carried=np.where(HOODS, random.choice([0.0, 1.0, 2.0], count), 0.0),
        needed=np.where(HOODS, random.choice([0.0, 3.0, 4.0], count), 0.0),
        design=np.where(HOODS & (random.random(count) < 0.8), 1.0, np.nan),
        reynolds=np.where(random.random(count) < 0.7, 3000.0, 0.0),
    )  # fmt: skip


def states(random, count, *, running):
    is_open = (random.random((count, len(PARENTS))) < 0.6) & HOODS
    active = is_open.copy()
    for run in ORDER[::-1]:
        if PARENTS[run] >= 0:
            active[:, PARENTS[run]] |= active[:, run]
    counted = (random.random(len(PARENTS)) < 0.5) & HOODS if running else np.empty(0, bool)
    flow, known = random.uniform(0.0, 3.0, (count, len(PARENTS) + 2)), random.random(count) < 0.9
    return judged_states.States(flow, known, is_open, active, counted)


def upstream(run):
    """Return a run and all that flow into it."""
    return [run, *(other for arm in np.flatnonzero(run == PARENTS) for other in upstream(arm))]


def one(judging, here, s, run):
    """Return a run's margin, excess and share in a state, None where it is not judged by that."""
    feeding = [hood for hood in upstream(run) if here.open[s, hood]]
    lower, upper = here.flow[s, judging.lower[run]], here.flow[s, judging.upper[run]]
    margin = excess = share = None
    carried = max((judging.carried[hood] for hood in feeding), default=0.0)
    needed = max((judging.needed[hood] for hood in feeding), default=0.0)
    if here.known[s] and carried > 0.0:
        margin = min(lower, upper) / judging.widest[run] / carried
        excess = lower / judging.narrowest[run] / needed if needed > 0.0 else None
    counts = here.running[run] if here.running.size else here.open[s, run]
    if here.known[s] and counts and np.isfinite(judging.design[run]):
        share = upper / judging.design[run]
    return margin, excess, share


@pytest.mark.parametrize("running", [False, True])
@pytest.mark.parametrize("seed", range(20))
def test_each_state_and_run_is_judged_by_its_definition(seed, running):
    random = np.random.default_rng(seed)
    judging, noted, seen = runs(random), judged_states.nothing_noted(len(PARENTS)), 0
    every = []
    for count in (7, 1, 12):  # block by block
        here, worst = states(random, count, running=running), judged_states.worst_of(count)
        judged_states.judge(judging, here, seen, worst, noted)
        found = [[one(judging, here, s, run) for run in range(len(PARENTS))] for s in range(count)]
        every, seen = every + found, seen + count
        for s, told in enumerate(found):
            for part, least, where in ((0, worst.margin, worst.margin_run), (2, worst.share, worst.share_run)):
                values = [own[part] for own in told if own[part] is not None]
                assert least[s] == pytest.approx(min(values, default=np.inf), rel=ROUNDED)
                assert not values or told[where[s]][part] == pytest.approx(least[s], rel=ROUNDED)
            assert worst.fast[s] == any(own[1] is not None and above(own[1], 1.0) for own in told)
            reynolds = judging.reynolds * here.flow[s, judging.lower]
            between = (reynolds > LAMINAR_END) & (reynolds < TURBULENT_START) & here.active[s]
            assert worst.transitional[s] == between.any()
    for run in range(len(PARENTS)):
        margins = [told[run][0] for told in every]
        excesses = [None if told[run][1] is None else -told[run][1] for told in every]
        shares = [told[run][2] for told in every]
        assert noted.slow[run] == sum(margin is not None and below(margin, 1.0) for margin in margins)
        assert noted.starved[run] == sum(share is not None and below(share, 1.0) for share in shares)
        assert noted.fast[run] == sum(excess is not None and above(-excess, 1.0) for excess in excesses)
        _first_of(margins, noted.margin[run], noted.margin_state[run], np.inf)
        _first_of(shares, noted.share[run], noted.share_state[run], np.inf)
        _first_of(excesses, noted.excess[run], noted.excess_state[run], 0.0)
        carried = [s for s, margin in enumerate(margins) if margin is not None and not below(margin, 1.0)]
        assert noted.carried_state[run] == (carried[0] if carried else -1)
        assert noted.carried[run] == pytest.approx(margins[carried[0]] if carried else np.inf, rel=ROUNDED)


def _first_of(values, least, state, none):
    """Hold the least value noted, and that the state is the first with it."""
    known = [none if value is None else value for value in values]
    assert least == pytest.approx(min(known), rel=ROUNDED)
    assert state == (known.index(min(known)) if min(known) < none else -1)


def test_what_is_not_noted_takes_no_room_and_changes_no_verdict():
    random = np.random.default_rng(2)
    judging, here = runs(random), states(random, 9, running=False)
    noted, plain = judged_states.worst_of(9), judged_states.worst_of(9)
    judged_states.judge(judging, here, 0, noted, judged_states.nothing_noted(len(PARENTS)))
    judged_states.judge(judging, here, 0, plain, judged_states.nothing_noted(0))
    for with_notes, without in zip(noted, plain, strict=True):
        assert (with_notes == without).all()
