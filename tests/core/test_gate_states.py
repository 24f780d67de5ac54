"""Many states at once: against one state at a time, and the suction in each against the losses told."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from airbough_service.core.laws.curve import curve_at, curve_values
from airbough_service.core.laws.fan import (
    Fan,
    curve_pieces,
)
from airbough_service.core.laws.junction import FlowRatioConstants
from airbough_service.core.network import (
    columns,
    operating,
    states,
)
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import operate
from airbough_service.core.network.tree import (
    Arm,
    Run,
    dynamic,
    pack,
)

DENSITY, VISCOSITY = 1.2, 1.82e-5
FALLING = Fan(curve_pieces([0.0, 0.7, 1.8, 3.6], [3000.0, 2800.0, 1900.0, 0.0], False), np.array([[500.0, 2.0]]), 0.0)
DIPPING = Fan(curve_pieces([0.0, 0.2, 0.4, 3.6], [2000.0, 700.0, 2100.0, 0.0], False), np.zeros((0, 2)), 30.0)
SHORT = Fan(curve_pieces([0.02, 0.5, 0.9], [3000.0, 2700.0, 2300.0], False), np.array([[100.0, 1.3]]), 0.0)
LAW = FlowRatioConstants(2.0, 0.02)
LAWS = (columns.MEET, columns.FLOW_RATIO, columns.ENTRY)


def tree(random, hoods, law):
    """Return a random tree of junctions of two and three arms, with a gate at each hood and at some runs inside."""
    runs, open_ends = [Run(-1, 0.25, 0.25, 4.0, 9.0e-5)], [0]
    while len(open_ends) < hoods:
        parent = open_ends.pop(random.integers(len(open_ends)))
        for arm in range(3 if random.random() < 0.2 else 2):
            bore = runs[parent].start * float(random.choice([0.7, 0.8, 1.0]))
            angle = math.radians(float(random.choice([30.0, 45.0])))
            branch = Arm(
                True,
                math.cos(angle),
                (runs[parent].start / bore) ** 2,
                0.28,
                (0.9, -0.9, 0.55, 0.4),
                linear=float(random.choice([1.55, 2.0])),
                drag=1.0,
                constants=LAW,
            )
            fittings = random.uniform(0.0, 2.0) * dynamic(DENSITY, bore)
            change = random.uniform(0.0, 0.3) * dynamic(DENSITY, bore)
            within = (800.0, 1.6) if random.random() < 0.1 else None
            open_ends.append(len(runs))
            runs.append(
                Run(parent, bore, bore, random.uniform(0.0, 9.0), 1.5e-4, fittings=fittings, change=change,
                    resistance=within, arm=branch if arm else Arm(constants=LAW))
            )  # fmt: skip
    return pack(runs, DENSITY, VISCOSITY, law)


def gates(random, packed, count):
    """Return random states: gates at the hoods open, part open or shut, few inside."""
    leaf = packed.links[:, columns.CHILDREN] == 0
    size = (count, len(leaf))
    part = 10.0 ** random.uniform(1.0, 5.0, size) * (random.random(size) < 0.3)
    shut = random.random(size) < np.where(leaf, random.uniform(0.1, 0.9), 0.04)
    return np.where(shut, np.inf, np.where(leaf, part, 0.0))


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("fan", [FALLING, DIPPING, SHORT], ids=["falling", "dipping", "short"])
def test_many_states_are_the_single_ones(law, fan):
    assert fan.crosses_once == (fan is not DIPPING)
    random = np.random.default_rng(7)
    seen = set()
    for hoods in (1, 2, 5, 12):
        packed = tree(random, hoods, law)
        asked = gates(random, packed, 12)
        found = states.solve(packed, fan, asked)
        for s in range(len(asked)):
            alone = operate(packed, fan, asked[s])
            assert states.OUTCOMES[found.outcome[s]] == alone.outcome
            np.testing.assert_allclose(found.flow[s], alone.flow, rtol=2e-9, atol=1e-12)
            seen.add(alone.outcome)
    assert "operating-point" in seen
    assert fan is not SHORT or "beyond-fan-curve" in seen


@pytest.mark.parametrize("law", LAWS)
def test_the_deepest_suction_is_that_of_the_losses(law):
    random = np.random.default_rng(11)
    for hoods in (1, 3, 9):
        packed = tree(random, hoods, law)
        asked = gates(random, packed, 20)
        found = states.solve(packed, FALLING, asked, with_roots=True)
        known = found.outcome != states.BEYOND
        found = states.Flows(found.flow[known], found.outcome[known], found.roots[known])
        asked, flow = asked[known], found.flow
        at_fan = operating.fan_pressures(FALLING.pieces, FALLING.terms, FALLING.net_quadratic, flow[:, 0].copy())
        told = random.random(len(packed.gate)) < 0.8
        told[0] = True
        deepest, where = states.deepest_suctions(packed, packed.change, told, asked, found, at_fan)
        for s in range(len(asked)):
            static = losses(packed, asked[s], flow[s], FALLING.left_for_tree(float(flow[s, 0]))).static_pressure
            assert told[where[s]]
            assert deepest[s] == pytest.approx(-static[told].min(), rel=1e-9)
            assert -static[where[s]] == pytest.approx(deepest[s], rel=1e-9)


def test_the_order_of_states_does_not_matter():
    random = np.random.default_rng(3)
    packed = tree(random, 10, columns.FLOW_RATIO)
    asked = gates(random, packed, 200)
    forth, back = states.solve(packed, FALLING, asked), states.solve(packed, FALLING, asked[::-1])
    np.testing.assert_allclose(forth.flow, back.flow[::-1], rtol=1e-9, atol=1e-14)
    assert (forth.outcome == back.outcome[::-1]).all()


def test_residuals_promised_hold_in_every_state():
    random = np.random.default_rng(5)
    for law, hoods in itertools.product(LAWS, (2, 8, 20)):
        packed = tree(random, hoods, law)
        asked = gates(random, packed, 40)
        found = states.solve(packed, FALLING, asked)
        for s in np.flatnonzero(found.outcome == states.POINT):
            told = losses(packed, asked[s], found.flow[s], FALLING.left_for_tree(float(found.flow[s, 0])))
            assert max(told.mass_residual, told.energy_residual) < 1e-9


def test_sets_are_all_there_are_and_counted():
    for members, most in ((1, 1), (5, 2), (5, 9), (7, 3)):
        flags = np.concatenate(list(states.sets_of(members, range(1, min(most, members) + 1), 4)))
        assert len(flags) == states.sets_up_to(members, most) == len({row.tobytes() for row in flags})
        assert np.array_equal(flags, [states.set_at(members, number) for number in range(len(flags))])
        with pytest.raises(IndexError):
            states.set_at(members, states.sets_up_to(members, members))
        sizes = flags.sum(axis=1)
        assert sizes.min() == 1
        assert sizes.max() == min(most, members)
        assert (np.diff(sizes) >= 0).all()


def test_a_curve_by_pieces_is_that_of_one_flow_at_a_time():
    pieces = curve_pieces([0.1, 0.4, 0.6, 1.0], [300.0, 900.0, 1000.0, 1400.0], False)
    flows = np.linspace(0.0, 1.1, 45)
    values = curve_values(pieces, flows)
    for flow, value in zip(flows, values, strict=True):
        if 0.1 <= flow <= 1.0:
            assert value == pytest.approx(curve_at(pieces, float(flow))[0], rel=1e-12)
        else:
            assert math.isnan(value)


def test_a_state_in_which_air_would_leave_a_hood_is_unsolved_and_the_others_are_not():
    """By the momentum law with this factor, a branch of four times the main's area leaves the straight no inflow."""
    wide = Arm(
        True, math.cos(math.radians(45.0)), 0.25, 0.28, (0.9, -0.9, 0.55, 0.4), linear=2.0, drag=1.0, constants=LAW
    )
    runs = [
        Run(-1, 0.1, 0.1, 4.0, 9.0e-5),
        Run(0, 0.1, 0.1, 3.0, 9.0e-5, entry=0.9 * dynamic(DENSITY, 0.1), arm=Arm(constants=LAW)),
        Run(0, 0.2, 0.2, 3.0, 9.0e-5, entry=0.9 * dynamic(DENSITY, 0.2), arm=wide),
    ]
    packed = pack(runs, DENSITY, VISCOSITY, columns.FLOW_RATIO)
    asked = np.array([[0.0, 0.0, 0.0], [0.0, np.inf, 0.0], [0.0, 0.0, np.inf], [0.0, np.inf, np.inf]])
    found = states.solve(packed, FALLING, asked)
    assert list(found.outcome) == [states.UNSOLVED, states.POINT, states.POINT, states.NOTHING]
    assert (found.flow[0] == 0.0).all()
