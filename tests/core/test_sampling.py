"""A draw of the packed tree: each term multiplies what is its own, by hand, and nothing else."""

import numpy as np
import pytest

from airbough_service.core.laws.fan import Fan, curve_pieces
from airbough_service.core.network import columns as c
from airbough_service.core.network import sampling
from airbough_service.core.network.operating import operate
from airbough_service.core.network.status import NOT_CONVERGED, OK
from airbough_service.core.network.tree import Arm, Run, pack

NONE = np.full(3, -1, np.int32)


def uses(**more):
    """Return where terms stand in a tree of three rows: nowhere, but for what is given."""
    plain = dict.fromkeys(("rough", "friction", "power", "inside", "junction", "beside", "gate"), NONE)
    nowhere = {"row": np.zeros(0, np.int32), "term": np.zeros(0, np.int32), "amount": np.zeros(0)}
    return sampling.Uses(**{"fan": -1, "losses": np.zeros(0, np.int32)} | plain | nowhere | more)


def third(term):
    """Return a term of the last row alone."""
    return np.array([-1, -1, term], np.int32)


def tree(**more):
    """Return a straight run and a branch into a main, with every loss; `more` of the branch."""
    shape = {"start": 0.1, "end": 0.1, "roughness": 1.0e-4, "length": 3.0, "fittings": 500.0}
    branch = Arm(is_branch=True, cosine=0.7, factor=(0.6, 0.1, 0.8, 0.5), linear=0.3)
    powers = {"power_law": (4000.0, 1.9), "resistance": (3000.0, 1.5)}
    runs = [Run(parent=-1, **shape), Run(parent=0, **shape), Run(parent=0, **shape, **{"arm": branch} | powers | more)]
    return pack(runs, 1.2, 1.82e-5, c.ENTRY)


@pytest.mark.parametrize(
    ("name", "columns"),
    [
        ("rough", [c.ROUGH]),
        ("friction", [c.FRICTION, c.POWER_A]),
        ("power", [c.POWER_A]),
        ("inside", [c.POWER_B]),
        ("beside", [c.SIDE_LINEAR]),
        ("junction", [c.ENTRY_FACTOR, c.FACTOR_LOW, c.FACTOR_SLOPE, c.FACTOR_HIGH]),
    ],
)
def test_a_term_multiplies_its_own_numbers_of_its_own_row(name, columns):
    base = tree().table
    drawn = np.empty_like(base)
    sampling.apply(base, np.array([7.0, 1.25]), uses(**{name: third(1)}), drawn)
    expected = base.copy()
    expected[2, columns] *= 1.25
    assert np.array_equal(drawn, expected, equal_nan=True)
    assert not np.array_equal(drawn, base, equal_nan=True)


def test_a_local_term_moves_its_amount_alone():
    base = tree().table
    drawn = np.empty_like(base)
    one = uses(row=np.array([1], np.int32), term=np.array([0], np.int32), amount=np.array([200.0]))
    sampling.apply(base, np.array([1.5]), one, drawn)
    assert drawn[1, c.LOCAL] == pytest.approx(base[1, c.LOCAL] + 100.0)
    drawn[1, c.LOCAL] = base[1, c.LOCAL]
    assert np.array_equal(drawn, base, equal_nan=True)


def test_gates_and_the_fan_are_drawn_by_their_terms():
    # One run that loses 1000 + gate Pa per (m3/s)^2 under a fan of 4000 Pa: q = (4000 f / (1000 + 3000 g + 500 l))^.5
    run = Run(parent=-1, start=0.1, end=0.1, length=0.0, roughness=0.0, fittings=1000.0, gate=3000.0)
    packed = pack([run], 1.2, 1.82e-5, c.MEET)
    fan = Fan(curve_pieces([0.0, 5.0], [4000.0, 4000.0], True), np.array([[500.0, 2.0]]), 0.0)
    first = np.array([0], np.int32)
    one = uses(
        **dict.fromkeys(("rough", "friction", "power", "inside", "junction", "beside"), np.array([-1], np.int32)),
        gate=first, fan=1, losses=np.array([2], np.int32),
    )  # fmt: skip
    factor = np.array([[1.0, 1.0, 1.0], [2.0, 1.0, 1.0], [1.0, 0.5, 1.0], [1.0, 1.0, 3.0]])
    found = sampling.solved(packed, fan, packed.gate, one, factor)
    assert sampling.settled(found).all()
    by_hand = [(4000.0 * f / (1000.0 + 3000.0 * g + 500.0 * loss)) ** 0.5 for g, f, loss in factor]
    assert found.flow[:, 0] == pytest.approx(by_hand, rel=1e-9)


def test_what_drawn_flows_need_is_that_of_the_deepest_arm():
    # By hand: of two hoods that meet without loss the deeper governs, whichever of them a draw deepens; what the first
    # loses by its change of size, 320 / 16 Pa, is no draw's.
    shape = {"start": 0.1, "end": 0.1, "length": 0.0, "roughness": 0.0}
    hoods = [Run(parent=0, fittings=1000.0, change=320.0, **shape), Run(parent=0, fittings=800.0, **shape)]
    packed = pack([Run(parent=-1, fittings=100.0, **shape), *hoods], 1.2, 1.82e-5, c.MEET)
    one = uses(row=np.array([1, 2], np.int32), term=np.array([0, 1], np.int32), amount=np.array([1000.0, 800.0]))
    factor = np.array([[1.0, 1.0], [1.0, 2.0], [0.5, 1.0]])
    told = sampling.needed(packed, packed.gate, np.array([0.5, 0.25, 0.25]), one, factor)
    assert told == pytest.approx([25.0 + 1320.0 / 16.0, 25.0 + 1600.0 / 16.0, 25.0 + 820.0 / 16.0])


@pytest.mark.parametrize("status", [OK, NOT_CONVERGED])
def test_a_state_that_is_not_settled_at_once_is_searched_for(monkeypatch, status):
    own, fan = tree(), Fan(curve_pieces((0.0, 0.3), (2500.0, 0.0), True), np.zeros((0, 2)), 0.0)
    assert fan.crosses_once
    if status != OK:
        monkeypatch.setattr(sampling, "solve_state", lambda *asked: status)
    found = sampling.flow_of(own, fan, own.gate)
    assert found == pytest.approx(operate(own, fan, own.gate).flow, rel=1e-9)
    assert found[0] == pytest.approx(found[1] + found[2], rel=1e-9)
    assert found.min() > 0.0


def test_a_straight_run_has_none_of_a_branchs_numbers():
    """The columns' own words: of a branch; both 0 for a straight."""
    branch = tree().table[2]
    straight = tree(arm=Arm(is_branch=False, cosine=0.7, factor=(0.6, 0.1, 0.8, 0.5), linear=0.3)).table[2]
    of_a_branch = [c.FACTOR_LOW, c.FACTOR_SLOPE, c.FACTOR_HIGH, c.FACTOR_STEP, c.SIDE_LINEAR, c.SIDE_DRAG]
    assert branch[[c.FACTOR_LOW, c.FACTOR_SLOPE, c.FACTOR_HIGH, c.FACTOR_STEP, c.SIDE_LINEAR]].tolist() == [
        0.6, 0.1, 0.8, 0.5, 0.3
    ]  # fmt: skip
    assert straight[of_a_branch].tolist() == [0.0] * 6
    others = np.setdiff1d(np.arange(c.FLOAT_COLUMNS), [*of_a_branch, c.FACTOR_JOIN, c.LIFT])
    assert np.array_equal(straight[others], branch[others], equal_nan=True)
