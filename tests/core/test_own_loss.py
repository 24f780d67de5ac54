"""A run's own loss: the fused sum of the Newton loop against the settled one, and its slope against differences."""

import numpy as np
import pytest

from airbough_service.core.laws import friction
from airbough_service.core.network import columns as c
from airbough_service.core.network import own_loss, solver, work
from airbough_service.core.network.tree import Run, dynamic, pack

DENSITY, VISCOSITY = 1.2, 1.82e-5
PIPE = {"parent": -1, "start": 0.1, "end": 0.1, "roughness": 1.5e-4}
RUNS = {
    "turbulent": Run(length=6.0, entry=300.0, fittings=900.0, change=40.0, **PIPE),
    "powers": Run(length=0.0, entry=300.0, power_law=(4000.0, 1.9), resistance=(3000.0, 1.5), **PIPE),
    "square and straight": Run(length=0.0, power_law=(4000.0, 2.0), resistance=(3000.0, 1.0), **PIPE),
    "all": Run(length=2.0, port=70.0, resistance=(2000.0, 1.3), gate=5000.0, **PIPE),
}
FLOWS = (1.0e-4, 3.0e-3, 4.5e-3, 0.02, 0.2)  # Reynolds number 84, 2500, 3800, 16,800, 168,000


def linearised(run, q):
    """Return pressure and slope of a run by the Newton loop, once its friction has settled."""
    tree = pack([run], DENSITY, VISCOSITY, c.MEET)
    order, slots, scratch = work.scratch(1)
    solver.prepare(tree.table, tree.links, scratch)
    assert solver.open_runs(tree.table, tree.links, tree.gate, order, slots, scratch) == 1
    scratch[0, work.FLOW], scratch[0, work.Y] = q, scratch[0, work.KEPT_Y]
    for _ in range(8):
        solver.linearise(tree.table, tree.links, order, 1, scratch)
    return scratch[0, work.ALPHA] + scratch[0, work.BETA] * q, scratch[0, work.BETA]


def own(run, q):
    tree = pack([run], DENSITY, VISCOSITY, c.MEET)
    return own_loss.own_loss(tree.table, 0, 0.0, tree.gate[0], q, tree.table[0, c.START])[0]


@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("q", FLOWS)
def test_the_newton_loops_own_sum_is_the_loss(name, q):
    run = RUNS[name]
    loss, slope = linearised(run, q)
    assert loss == pytest.approx(own(run, q), rel=1e-12)
    step = 1.0e-5 * q
    assert slope == pytest.approx((own(run, q + step) - own(run, q - step)) / (2.0 * step), rel=1e-6)


@pytest.mark.parametrize("q", FLOWS)
def test_the_loss_is_its_terms(q):
    """Darcy-Weisbach with the friction factor, c q^n for the powers, and the quadratic rest, summed by hand."""
    run = RUNS["all"]
    at_bore = dynamic(DENSITY, 0.1)
    reynolds = float(friction.reynolds_number(q, 0.1, DENSITY, VISCOSITY))
    factor = float(friction.friction_factor(reynolds, 1.5e-3))
    expected = (70.0 + 5000.0 + factor * 2.0 / 0.1 * at_bore) * q * q + 2000.0 * q**1.3
    assert own(run, q) == pytest.approx(expected, rel=1e-12)


def test_shut_gates_and_changes_of_size_are_not_in_it():
    run = RUNS["turbulent"]
    tree = pack([run], DENSITY, VISCOSITY, c.MEET)
    filled = np.empty(1)
    own_loss.fill_own_losses(tree.table, tree.change, np.array([np.inf]), np.array([0.05]), np.arange(1), filled)
    assert filled[0] == pytest.approx(own(run, 0.05) - 40.0 * 0.05**2, rel=1e-12)
    own_loss.fill_own_losses(tree.table, tree.change, tree.gate, np.zeros(1), np.arange(1), filled)
    assert filled[0] == 0.0


def test_friction_and_resistance_of_each_run_are_their_own():
    """By hand: c q^n of the powers; nothing where nothing flows; duct as `test_the_loss_is_its_terms`."""
    tree = pack(
        [RUNS["powers"], RUNS["all"]._replace(parent=0), RUNS["all"]._replace(parent=0)], DENSITY, VISCOSITY, c.MEET
    )
    friction_loss, resistance = own_loss.straight_losses(tree.table, np.array([0.2, 0.2, 0.0]))
    reynolds = float(friction.reynolds_number(0.2, 0.1, DENSITY, VISCOSITY))
    wall = float(friction.friction_factor(reynolds, 1.5e-3)) * 2.0 / 0.1 * dynamic(DENSITY, 0.1) * 0.04
    assert friction_loss == pytest.approx([4000.0 * 0.2**1.9, wall, 0.0], rel=1e-9)
    assert resistance == pytest.approx([3000.0 * 0.2**1.5, 2000.0 * 0.2**1.3, 0.0], rel=1e-12)
