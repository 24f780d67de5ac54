"""Where one crossing is certain: the curve's elasticity, and random trees against a brute-force search."""

import math

import numpy as np
import pytest

import random_trees as trees
from airbough_service.core.laws.fan import Fan, curve_pieces
from airbough_service.core.network.operating import fan_pressures, operate, system_curve
from airbough_service.core.network.tree import Tree

NONE = np.zeros((0, 2))
POINTS = 2_000  # at which a tree is solved by brute force


def left(fan, flows):
    """Return what a fan leaves at each flow, Pa."""
    return fan_pressures(fan.pieces, fan.terms, fan.net_quadratic, flows)


def elastic(fan):
    """Return whether p' q < p at every one of many flows at which p is above 0; p' by differences."""
    flows, step = np.linspace(fan.lowest, fan.highest, 20_001)[1:-1], 1.0e-6 * fan.highest
    slope = (left(fan, flows + step) - left(fan, flows - step)) / (2.0 * step)
    slack = 1.0e-6 * fan.left_for_tree(fan.lowest)
    return not ((left(fan, flows) > 1.0e-6) & (slope * flows - left(fan, flows) >= slack)).any()


def test_by_hand():
    # p = 100 + 50 q: p' q = 50 q is below p everywhere. p = 50 q - 10 above q = 0.3: p' q = 50 q is above p.
    assert Fan(np.array([[0.0, 1.0, 100.0, 50.0, 0.0, 0.0]]), NONE, 0.0).crosses_once
    assert not Fan(np.array([[0.3, 1.0, 5.0, 50.0, 0.0, 0.0]]), NONE, 0.0).crosses_once
    # A term of an exponent below 1 is steepest at the start: 100 - 90 q^0.5 has p' q = -45 q^0.5, below p; with a curve
    # of 100 + 100 q, p' q - p = -100 + 45 q^0.5 is still below 0, and with 40 + 100 q it is above from q = 0.79 on.
    terms = np.array([[90.0, 0.5]])
    assert Fan(np.array([[0.0, 1.0, 100.0, 0.0, 0.0, 0.0]]), terms, 0.0).crosses_once
    assert Fan(np.array([[0.0, 1.0, 100.0, 100.0, 0.0, 0.0]]), terms, 0.0).crosses_once
    assert not Fan(np.array([[0.0, 1.0, 40.0, 100.0, 0.0, 0.0]]), terms, 0.0).crosses_once
    # A recovery of b q^2 adds b q^2 to p' q - p: 100 + 80 q^2 has -100 + 80 q^2, 100 + 120 q^2 passes 0 at 0.91.
    flat = np.array([[0.0, 1.0, 100.0, 0.0, 0.0, 0.0]])
    assert Fan(flat, NONE, 0.0, 80.0).crosses_once
    assert not Fan(flat, NONE, 0.0, 120.0).crosses_once
    assert Fan(flat, NONE, 20.0, 110.0).crosses_once
    # Where nothing is left, nothing is asked: -5 + 50 (q - 1) rises, but stays below 0 to q = 1.1.
    assert Fan(np.array([[0.0, 1.0, 5.0, -10.0, 0.0, 0.0], [1.0, 1.09, -5.0, 50.0, 0.0, 0.0]]), NONE, 0.0).crosses_once
    # And a curve that comes back above 0 may be met again.
    assert not Fan(
        np.array([[0.0, 1.0, 5.0, -10.0, 0.0, 0.0], [1.0, 1.2, -5.0, 50.0, 0.0, 0.0]]), NONE, 0.0
    ).crosses_once


def test_it_is_what_many_points_of_the_curve_say():
    dice = np.random.default_rng(2)
    seen = set()
    for _ in range(200):
        count = int(dice.integers(3, 9))
        flows = np.concatenate([[0.0], np.cumsum(dice.uniform(0.1, 0.5, count - 1))])
        pressures = 2000.0 - 1500.0 * flows / flows[-1] + dice.choice((0.0, 100.0, 500.0)) * dice.normal(size=count)
        pieces = curve_pieces(flows, np.maximum(pressures, 1.0), bool(dice.random() < 0.3))
        terms = np.array([[dice.uniform(0.0, 300.0), dice.choice((0.6, 1.0, 1.7, 2.0))]])
        fan = Fan(pieces, terms, dice.uniform(0.0, 60.0), dice.choice((0.0, 120.0)))
        # A linear curve's slope jumps at its points, which differences smear: those are held to one side only.
        if fan.crosses_once or pieces[0, 4] != 0.0:
            assert fan.crosses_once == elastic(fan)
        seen.add(bool(fan.crosses_once))
    assert seen == {True, False}


def curve(kind, dice, highest, top):
    """Return a fan that falls, has a hump, a surge or a deep dip, to this flow and about this pressure."""
    shares = {
        "falling": [(0.0, 1.0), (0.3, 0.95), (0.6, 0.7), (1.0, 0.0)],
        "humped": [(0.0, 1.0), (0.15, 1.0 + 0.3 * dice.random()), (0.5, 0.9), (1.0, 0.05)],
        "surging": [(0.0, 1.0), (0.1, 0.2 + 0.8 * dice.random()), (0.3, 1.1), (0.6, 0.8), (1.0, 0.0)],
        "dipped": [(0.0, 1.0), (0.2, 0.05 + 0.2 * dice.random()), (0.45, 0.9), (1.0, 0.0)],
    }[kind]
    flows, pressures = zip(*shares, strict=True)
    return curve_pieces([q * highest for q in flows], [p * top for p in pressures], bool(dice.random() < 0.3))


def brute(tree, gate, fan):
    """Return every crossing found where the surplus changes its sign between many flows, halved until it is met."""
    flows = np.linspace(fan.lowest, fan.highest, POINTS + 1)

    def surplus(at):
        return left(fan, at) - system_curve(tree.table, tree.links, gate, at)

    values, out = surplus(flows), []
    for i in np.flatnonzero((values[1:] > 0.0) != (values[:-1] > 0.0)):
        low, high = flows[i], flows[i + 1]
        for _ in range(40):
            middle = 0.5 * (low + high)
            if (surplus(np.array([middle]))[0] > 0.0) == (values[i] > 0.0):
                low = middle
            else:
                high = middle
        out.append(0.5 * (low + high))
    return out


@pytest.mark.parametrize("kind", ["falling", "humped", "surging", "dipped"])
def test_crossings_are_those_of_brute_force(kind):
    """A hundred random trees of each kind of curve: number of crossings, their flows, and every run's flow."""
    dice = np.random.default_rng(["falling", "humped", "surging", "dipped"].index(kind))
    asked, certain, several, seed = 0, 0, 0, 0
    while asked < 100:
        seed += 1
        table, links, gate, change, old, terms = trees.random_tree(seed, 12, trees.LAWS)
        zeros = np.zeros(len(gate))
        tree = Tree(table, links, gate, zeros, zeros, zeros, change, np.arange(len(gate), dtype=np.int32), 1.2)
        highest, top = float(old[-1, 1]), float(old[0, 2])
        terms[1, 1] = dice.choice((0.6, 1.0, 1.5))
        fan = Fan(curve(kind, dice, highest, top), terms, 0.0, dice.choice((0.0, 0.1)) * top / highest**2)
        found = operate(tree, fan, gate)
        if found.outcome == "no-flow" or not np.isfinite(system_curve(table, links, gate, np.array([highest]))).all():
            continue
        asked += 1
        expected = brute(tree, gate, fan)
        assert [one.flow for one in found.crossings] == pytest.approx(expected, rel=1e-8, abs=1e-9 * highest)
        assert not fan.crosses_once or len(expected) <= 1
        if expected:
            assert math.isclose(found.flow[0], found.crossings[0].flow, rel_tol=1e-8)
        certain += fan.crosses_once
        several += len(expected) > 1
    if kind in ("falling", "humped"):
        assert certain > 90
        assert several == 0
    else:
        assert certain == 0 if kind == "dipped" else 10 < certain < 90
        assert several > 0 or kind == "surging"
