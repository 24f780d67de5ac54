"""Sizing's core against plain enumeration of random problems, and its kernel against definitions."""

import itertools
import math
import random
from dataclasses import dataclass

import numpy as np
import pytest

from airbough_service.core.choosing.bounds import bounds_of
from airbough_service.core.choosing.merging import (
    frontier,
    thinned,
)
from airbough_service.core.choosing.sites import Site, steps
from airbough_service.core.choosing.sizing import (
    Aim,
    Chosen,
    needs,
    solve,
)

STATES = 2


@dataclass
class Choice:
    """One bore of a run, with every set of its arms' bores that may meet there."""

    own: np.ndarray
    cost: float
    broken: float
    arms: np.ndarray
    join: np.ndarray
    meeting: np.ndarray
    row_cost: np.ndarray
    row_broken: np.ndarray


def site_of(arms, choices):
    """Return a run in several bores as the core takes it."""
    columns = {name: np.concatenate([getattr(one, name) for one in choices]) for name in ("join", "meeting")}
    columns |= {name: np.concatenate([getattr(one, name) for one in choices]) for name in ("row_cost", "row_broken")}
    return Site(
        arms=arms,
        own=np.array([one.own for one in choices]),
        cost=np.array([one.cost for one in choices]),
        broken=np.array([one.broken for one in choices]),
        begins=np.cumsum([0, *(len(one.arms) for one in choices)]),
        sets=np.concatenate([one.arms for one in choices]),
        **columns,
    )


def choices_of(site):
    """Return the bores of a run one by one."""
    parts = [slice(*pair) for pair in itertools.pairwise(site.begins)]
    return [
        Choice(site.own[number], site.cost[number], site.broken[number], site.sets[part], site.join[part],
               site.meeting[part], site.row_cost[part], site.row_broken[part])
        for number, part in enumerate(parts)
    ]  # fmt: skip


def choice(dice, options):
    """Return a bore of a run over arms that have so many bores; small whole numbers make ties common."""
    rows = [row for row in itertools.product(*map(range, options)) if dice.random() < 0.9 or not options]
    shape = (len(rows), len(options), STATES)
    join = np.array([dice.randint(-2, 4) for _ in range(math.prod(shape))], float).reshape(shape)
    return Choice(
        own=np.array([dice.randint(0, 6) for _ in range(STATES)], float),
        cost=float(dice.randint(0, 5)),
        broken=float(dice.random() < 0.3),
        arms=np.array(rows, np.int64).reshape(len(rows), len(options)),
        join=join,
        meeting=join.copy(),
        row_cost=np.array([dice.randint(0, 4) for _ in rows], float),
        row_broken=np.array([dice.random() < 0.2 for _ in rows], float),
    )


def problem(seed):
    """Return the sites of a random tree of five runs."""
    dice = random.Random(seed)
    arms = [(), (), (0, 1), (), (2, 3), (4,)]
    numbers: list[int] = []
    sites = []
    for number, of_site in enumerate(arms):
        count = 1 if number == len(arms) - 1 else dice.randint(1, 3)
        sites.append(site_of(of_site, [choice(dice, [numbers[arm] for arm in of_site]) for _ in range(count)]))
        numbers.append(count)
    return sites, dice


def aim(dice):
    return Aim(
        objective=dice.choice(("cost", "fan-pressure")),
        ceiling=np.array([dice.choice((12.0, 18.0, math.inf)) for _ in range(STATES)]),
        wanted=np.array([[dice.choice((8.0, math.inf)) for _ in range(STATES)]]),
        meet=dice.choice((0, 0, 1, 2)),
        tolerance=0.3,
    )


def weighed(dice):
    """Return an aim of several pressures of unlike weights, as a request makes it: the first of them asks nothing."""
    limits = (7.0, 9.0, 10.0, 12.0, math.inf, 0.0, -math.inf)
    rules = dice.randint(1, 3)
    return Aim(
        objective=dice.choice(("cost", "fan-pressure")),
        ceiling=np.array([dice.choice((15.0, math.inf)) for _ in range(STATES)]),
        wanted=np.array([[math.inf] * STATES, *([dice.choice(limits) for _ in range(STATES)] for _ in range(rules))]),
        meet=dice.choice((0, 0, 2)),
        tolerance=0.3,
        weights=np.array([dice.choice((1.0, 40.0)), 0.0, *(dice.choice((1.0, 7.0, 1000.0)) for _ in range(rules))]),
        most=np.array([1.0, *(dice.choice((1.0, 10.0)) for _ in range(rules))]),
    )


def every_choice(sites):
    every = [choices_of(site) for site in sites]
    for options in itertools.product(*(range(len(choices)) for choices in every)):
        picked = [choices[option] for choices, option in zip(every, options, strict=True)]
        rows = []
        for site, one in zip(sites, picked, strict=True):
            wanted = [options[arm] for arm in site.arms]
            rows.append([row for row in range(len(one.arms)) if list(one.arms[row]) == wanted])
        for row in itertools.product(*rows):
            yield options, row, picked


def key_of(sites, wanted, options, rows, picked):
    """Return (broken, objective, other) of one choice, None where it is not allowed; written apart from the core."""
    need, cost, broken = [], 0.0, 0.0
    for site, row, one in zip(sites, rows, picked, strict=True):
        above = np.array([need[arm] for arm in site.arms]).reshape(len(site.arms), STATES) + one.join[row]
        need.append(one.own + (above.max(axis=0) if len(site.arms) else 0.0))
        cost += one.cost + one.row_cost[row]
        broken += one.broken + one.row_broken[row]
        if wanted.meet and len(site.arms) > 1:
            apart = (above.max(axis=0) - above.min(axis=0)) > wanted.tolerance * np.abs(above.max(axis=0)) + 1e-6
            if wanted.meet == 1 and apart.any():
                return None
            broken += wanted.weighing[0] * apart.sum()
    if (need[-1] > wanted.ceiling).any():
        return None
    for limits, weight, most in zip(wanted.wanted, wanted.weighing[1:], wanted.counting, strict=True):
        for one, limit in zip(need[-1], limits, strict=True):
            over = math.ceil((one / limit - 1.0) * 10.0 - 1e-6) if limit > 0.0 else math.inf
            broken += weight * min(max(over, 1), most) if one > limit else 0.0
    pair = (cost, need[-1].max())
    return (broken, *(pair if wanted.objective == "cost" else pair[::-1]))


@pytest.mark.parametrize(
    ("seed", "drawn"), [*((seed, aim) for seed in range(150)), *((n, weighed) for n in range(150))]
)
def test_the_best_choice_is_that_of_plain_enumeration(seed, drawn):
    sites, dice = problem(seed)
    wanted = drawn(dice)
    keys = [key_of(sites, wanted, *one) for one in every_choice(sites)]
    best = min((key for key in keys if key is not None), default=None)
    outcome = solve(sites, wanted, 1000, 10**7)
    assert outcome.exact
    if best is None:
        assert outcome.best is None
        return
    assert outcome.best is not None
    assert outcome.best.key(wanted.objective) == pytest.approx(best)
    picked = [choices_of(site)[option] for site, option in zip(sites, outcome.best.choice, strict=True)]
    assert key_of(sites, wanted, outcome.best.choice, outcome.best.row, picked) == pytest.approx(best)
    assert needs(sites, outcome.best)[-1] == pytest.approx(outcome.best.need)


@pytest.mark.parametrize("seed", range(60))
def test_the_bounds_lie_below_every_choice(seed):
    sites, _ = problem(seed)
    free = Aim("cost", np.full(STATES, math.inf), np.full((1, STATES), math.inf))
    keys = [key for one in every_choice(sites) if (key := key_of(sites, free, *one)) is not None]
    if not keys:
        assert solve(sites, free, 1000, 10**7).best is None
        return
    inlet = bounds_of(sites).inlet
    assert inlet[STATES] == min(cost for _, cost, _ in keys)
    assert inlet[STATES + 1] <= min(broken for broken, _, _ in keys)
    assert inlet[:STATES].max() <= min(pressure for _, _, pressure in keys)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("objective", ["cost", "fan-pressure"])
def test_past_the_limit_of_work_the_answer_is_a_choice_and_its_bound_lies_below_the_best(seed, objective):
    sites, _ = problem(seed)
    free = Aim(objective, np.full(STATES, math.inf), np.full((1, STATES), math.inf))
    exact = solve(sites, free, 1000, 10**7)
    cut = solve(sites, free, 1, 10**7)
    if exact.best is None or cut.exact:
        return
    assert cut.best is not None
    assert exact.best.key(objective) <= cut.best.key(objective)
    assert cut.cost <= exact.best.cost + 1e-9
    assert cut.pressure <= exact.best.pressure + 1e-9
    assert cut.broken <= exact.best.broken


@pytest.mark.parametrize("seed", range(60))
def test_past_the_limit_of_work_nothing_is_called_proven_that_is_not(seed):
    sites, dice = problem(seed)
    wanted = weighed(dice)
    keys = [key for one in every_choice(sites) if (key := key_of(sites, wanted, *one)) is not None]
    cut = solve(sites, wanted, 1, 400, any_will_do=seed % 5 == 0)
    if not keys:
        assert cut.best is None
        return
    best = dict(zip(("broken", wanted.objective, "other"), min(keys), strict=True))
    assert not cut.exact or cut.best.key(wanted.objective) == pytest.approx(tuple(best.values()))
    assert cut.broken <= best["broken"]
    assert cut.cost <= best.get("cost", best["other"]) + 1e-9
    assert cut.pressure <= best.get("fan-pressure", best["other"]) + 1e-9


def test_some_problem_is_cut_so_that_the_test_before_says_something():
    free = Aim("cost", np.full(STATES, math.inf), np.full((1, STATES), math.inf))
    assert any(not solve(problem(seed)[0], free, 1, 10**7).exact for seed in range(40))


@pytest.mark.parametrize("two_sided", [False, True])
def test_the_frontier_is_what_no_other_row_beats(two_sided):
    values = np.random.default_rng(3).integers(0, 4, (300, 4)).astype(float)
    kept, _ = frontier(values, len(values), two_sided, 10**9)

    def beats(one, other):
        needs_less = (one[:2] == other[:2]).all() if two_sided else (one[:2] <= other[:2]).all()
        return needs_less and (one[2:] <= other[2:]).all()

    for row in range(len(values)):
        others = [other for other in kept if other != row and beats(values[other], values[row])]
        assert (row in kept) == (not others) or (values[others] == values[row]).all(axis=1).any()
    rows = values[kept]
    assert len(np.unique(rows, axis=0)) == len(rows)


def test_a_thinned_set_keeps_the_best_of_each_column():
    values = np.random.default_rng(4).random((200, 4))
    rows = thinned(values, np.arange(200), 10)
    assert len(rows) <= 14
    assert (values[rows].min(axis=0) == values.min(axis=0)).all()


@pytest.mark.parametrize(("one", "into", "count"), [(0.1, 0.08, 2), (100.0, 80.0, 2), (0.14, 0.08, 5), (4.0, 3.6, 1)])
def test_a_step_that_rounding_begins_counts_for_none(one, into, count):
    """100 mm into 80 are a fifth narrower: two tenths, in metres 1 - 0.08 / 0.1 = 0.20000000000000007."""
    assert steps(1.0 - into / one) == count


def test_a_choice_tells_its_greatest_pressure():
    chosen = Chosen((0,), (0,), np.array([3.0, 7.0]), 5.0, 2)
    assert chosen.key("cost") == (2, 5.0, 7.0)
    assert chosen.key("fan-pressure") == (2, 7.0, 5.0)
