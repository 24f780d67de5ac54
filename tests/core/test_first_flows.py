"""The first guess: where every loss goes with the square of the flow it is the answer itself."""

import math

import numpy as np
import pytest

from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import columns as c
from airbough_service.core.network import first_flows, solver, work
from airbough_service.core.network.operating import flows_at, operate
from airbough_service.core.network.tree import Arm, FlowRatioConstants, Run, pack

NO_FAN, NO_TERMS = np.zeros((1, 6)), np.zeros((0, 2))


def run(parent, loss, **more):
    """Return a run without length whose fittings lose `loss` Pa per (m3/s)^2."""
    return Run(parent=parent, start=0.1, end=0.1, length=0.0, roughness=0.0, fittings=loss, **more)


def guessed(runs, given):
    """Return the first guess of each run at a flow at the fan, m3/s, by row."""
    return first_guess(pack(runs, 1.2, 1.82e-5, c.MEET), given)


def first_guess(tree, given=0.0, fan=NO_FAN):
    """Return the first guess of each row's flow, m3/s: at a flow at the fan, or under one."""
    runs = tree.table
    room = work.scratch(len(runs))
    solver.prepare(tree.table, tree.links, room.work)
    live = solver.open_runs(tree.table, tree.links, tree.gate, room.order, room.slots, room.work)
    first_flows.first_flows(tree.table, tree.links, room.order, live, room.work, fan, NO_TERMS, 0.0, given)
    flows = np.zeros(len(runs))
    flows[room.order[work.ROW, :live]] = room.work[:live, work.FLOW]
    return flows


def test_quadratic_losses_share_by_the_roots_of_their_conductances():
    # By hand: 9 q1^2 = 4 q2^2 and q1 + q2 = 1 give q1 = .4; behind run 2 the runs of 1 and 16 share as 4 to 1.
    runs = [run(-1, 5.0e4), run(0, 9.0e4), run(0, 4.0e4 - 0.64e4), run(2, 1.0e4), run(2, 16.0e4)]
    # together 1 and 16 are (1 + 1/4)^-2 = .64, so that run 2 with what is behind it is 4
    assert guessed(runs, 1.0) == pytest.approx([1.0, 0.4, 0.6, 0.48, 0.12], rel=1e-6)


def test_a_machines_resistance_that_is_quadratic_counts_as_it_is():
    runs = [run(-1, 0.0), run(0, 1.0e4), run(0, 1.0e3, resistance=(8.0e3, 2.0))]
    assert guessed(runs, 0.5) == pytest.approx(
        [0.5, 0.5 * 3.0 / (3.0 + math.sqrt(10.0)), 0.5 * math.sqrt(10.0) / (3.0 + math.sqrt(10.0))], rel=1e-6
    )


def test_a_run_that_one_run_alone_flows_into_carries_what_that_carries():
    runs = [run(-1, 1.0e3), run(0, 2.0e3), run(1, 3.0e3), run(2, 1.0e4), run(2, 1.0e4)]
    assert guessed(runs, 0.4) == pytest.approx([0.4, 0.4, 0.4, 0.2, 0.2], rel=1e-6)


def test_friction_counts_as_in_rough_duct():
    # By hand: rough duct of 1 mm in 100 mm has 1/f^.5 = -2 log10(.01 / 3.7), f = 0.0379 (von Karman). 10 m of it lose
    # 3.79 velocity pressures, at 1.2 kg/m3 9727 Pa per (m3/s)^2 each: against fittings that lose as much, half goes
    # each way.
    factor = (-2.0 * math.log10(0.01 / 3.7)) ** -2
    at_bore = 1.2 / 2.0 / (math.pi * 0.1**2 / 4.0) ** 2
    rough = Run(parent=0, start=0.1, end=0.1, length=10.0, roughness=1.0e-3)
    found = guessed([run(-1, 0.0), rough, run(0, factor * 10.0 / 0.1 * at_bore)], 0.3)
    assert found == pytest.approx([0.3, 0.15, 0.15], rel=0.02)


@pytest.mark.parametrize(("kind", "exponent"), [("power_law", 1.9), ("power_law", 1.0), ("resistance", 1.4)])
def test_a_loss_that_is_not_quadratic_counts_as_it_is_at_a_usual_speed(kind, exponent):
    """By hand: at 200 Pa of velocity pressure, 18.3 m/s, both runs lose as much, so that half goes each way."""
    usual = math.pi * 0.1**2 / 4.0 * math.sqrt(200.0 / 0.6)
    quadratic = 5.0e4
    other = run(0, 0.0, **{kind: (quadratic * usual ** (2.0 - exponent), exponent)})
    assert guessed([run(-1, 0.0), other, run(0, quadratic)], 0.1) == pytest.approx([0.1, 0.05, 0.05], rel=1e-6)


def wye():
    """Return a straight run and a branch of equal losses of their own, by the flow-ratio law with fixed numbers."""
    law = {"constants": FlowRatioConstants(2.0, 0.02), "linear": 1.25, "drag": 0.7}
    branch = Arm(is_branch=True, cosine=math.cos(math.pi / 4), area_ratio=1.0, lift=1.0, **law)
    runs = [run(-1, 0.0), run(0, 2.0e4, arm=Arm(**law)), run(0, 2.0e4, arm=branch)]
    return pack(runs, 1.2, 1.82e-5, c.FLOW_RATIO)


def test_what_a_junction_does_is_in_the_guess():
    """Arms of equal losses share equally but for the junction; the guess has most of the difference."""
    tree = wye()
    flow, _ = flows_at(tree, tree.gate, 0.2)
    apart = flow[1] - 0.1
    assert abs(apart) > 0.004
    assert abs(first_guess(tree, 0.2)[1] - flow[1]) < 0.3 * abs(apart)


def test_under_a_fan_a_junction_resists_in_the_guess_as_in_the_answer():
    tree, level = wye(), np.array([[0.0, 0.5, 1000.0, 0.0, 0.0, 0.0]])
    flow = operate(tree, Fan(level, NO_TERMS, 0.0), tree.gate).flow
    assert first_guess(tree, fan=level) == pytest.approx(flow, rel=0.03)


@pytest.mark.parametrize("resistance", [2.0e3, 1.0e4, 1.0e5, 2.0e6])
def test_where_the_fan_meets_the_tree_is_met_within_a_hundredth_or_twice_the_last_half(resistance):
    # A fan of 1000 Pa at every flow up to 1 m3/s: q = (1000 / R)^.5. Four halvings leave a sixteenth of the curve; one
    # Newton step on a parabola then errs by half the square of the share still wrong, and at most doubles or halves.
    fan = np.array([[0.0, 1.0, 1000.0, 0.0, 0.0, 0.0]])
    exact = math.sqrt(1000.0 / resistance)
    found = first_flows.first_at_fan(resistance, fan, NO_TERMS, 0.0)
    wrong = (1.0 / 32.0) / exact
    assert abs(found / exact - 1.0) <= 0.5 * wrong * wrong / (1.0 - min(wrong, 0.5)) + 1e-12
