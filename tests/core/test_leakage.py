"""Leaks in the balance: against their own law, against the tree without leaks, and against published examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from airbough_service.core.laws.fan import (
    Fan,
    curve_pieces,
)
from airbough_service.core.laws.junction import FlowRatioConstants
from airbough_service.core.laws.leakage import leak_coefficient, leak_flow
from airbough_service.core.network import columns
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import operate
from airbough_service.core.network.parted_runs import part_runs, whole_runs
from airbough_service.core.network.tree import (
    Arm,
    Run,
    dynamic,
    pack,
)

DENSITY, VISCOSITY, EXPONENT = 1.2, 1.82e-5, 0.65
CLASS_ONE = 1.40680323e-06
FAN = Fan(curve_pieces([0.0, 0.4, 0.8], [2600.0, 2200.0, 1100.0], False), np.zeros((0, 2)), 0.0, 0.0)
LAW = FlowRatioConstants(momentum=2.0, join=0.02)
BRANCH = Arm(
    is_branch=True, cosine=math.cos(math.radians(45)), area_ratio=(0.18 / 0.1) ** 2, linear=2.0, drag=1.0, constants=LAW
)


def shop(law=columns.FLOW_RATIO):
    """Two hoods into one main; the branch has a gate."""
    arm = BRANCH if law == columns.FLOW_RATIO else BRANCH._replace(entry_factor=0.28)
    runs = [
        Run(-1, 0.18, 0.18, 8.0, 9.0e-5, fittings=0.3 * dynamic(DENSITY, 0.18)),
        Run(0, 0.18, 0.18, 5.0, 9.0e-5, entry=0.93 * dynamic(DENSITY, 0.18), arm=Arm(constants=LAW)),
        Run(0, 0.1, 0.1, 4.0, 9.0e-5, entry=0.49 * dynamic(DENSITY, 0.1), gate=0.1 * dynamic(DENSITY, 0.1), arm=arm),
    ]
    return runs, law


def solved(runs, law, gate_of=None):
    tree = pack(runs, DENSITY, VISCOSITY, law)
    gate = tree.gate.copy()
    for index, value in (gate_of or {}).items():
        gate[tree.place[index]] = value
    found = operate(tree, FAN, gate)
    assert found.outcome == "operating-point"
    at_fan = FAN.left_for_tree(float(found.flow[0]))
    return tree, found.flow, losses(tree, gate, found.flow, at_fan)


def leaky(classes):
    runs, _ = shop()
    return [leak_coefficient(c, CLASS_ONE, r.start, r.length) for c, r in zip(classes, runs, strict=True)]


@pytest.mark.parametrize("law", [columns.FLOW_RATIO, columns.ENTRY, columns.MEET])
def test_no_leak_changes_nothing(law):
    runs, law = shop(law)
    leaks = part_runs(runs, [0.0, 0.0, 0.0], EXPONENT)
    assert list(leaks.runs) == runs
    tree, flow, _ = solved(runs, law)
    same, flow_too, _ = solved(leaks.runs, law)
    assert np.array_equal(flow[tree.place], flow_too[same.place])


@pytest.mark.parametrize("law", [columns.FLOW_RATIO, columns.ENTRY, columns.MEET])
@pytest.mark.parametrize("classes", [(3.0, 3.0, 3.0), (30.0, 0.0, 48.0), (0.0, 0.0, 500.0)])
def test_each_leak_follows_its_law_at_the_static_pressure_of_its_place(law, classes):
    runs, law = shop(law)
    coefficients = leaky(classes)
    leaks = part_runs(runs, coefficients, EXPONENT)
    tree, flow, lost = solved(leaks.runs, law)
    assert lost.mass_residual < 1e-9
    assert lost.energy_residual < 1e-9
    for index, coefficient in enumerate(coefficients):
        if coefficient == 0.0:
            assert leaks.leak[index] == -1
            continue
        suction = -lost.static_pressure[tree.place[index]]
        leaked = flow[tree.place[leaks.leak[index]]]
        assert suction > 0.0
        assert leaked == pytest.approx(leak_flow(coefficient, suction, EXPONENT), rel=1e-9)
        through = flow[tree.place[leaks.lower[index]]] - flow[tree.place[index]]
        assert through == pytest.approx(leaked, rel=1e-9)


@pytest.mark.parametrize("law", [columns.FLOW_RATIO, columns.ENTRY])
def test_a_vanishing_leak_leaves_flows_and_losses_alone(law):
    runs, law = shop(law)
    tree, flow, lost = solved(runs, law)
    leaks = part_runs(runs, leaky((1e-7,) * 3), EXPONENT)
    parted, flow_parted, lost_parted = solved(leaks.runs, law)
    whole, at_end, _ = whole_runs(parted, leaks, lost_parted, flow_parted)
    assert at_end[parted.place[:3]] == pytest.approx(flow[tree.place], rel=1e-7)
    for name in ("entry", "gate", "friction", "fittings", "join", "total", "total_pressure", "static_pressure"):
        got = getattr(whole, name)[parted.place[:3]]
        assert got == pytest.approx(getattr(lost, name)[tree.place], rel=1e-6, abs=1e-4), name


def test_the_parts_of_a_leaking_run_sum_to_its_total():
    runs, law = shop()
    leaks = part_runs(runs, leaky((48.0, 48.0, 48.0)), EXPONENT)
    tree, flow, lost = solved(leaks.runs, law)
    whole, at_end, upstream = whole_runs(tree, leaks, lost, flow)
    rows = tree.place[:3]
    parts = ("entry", "port", "resistance", "gate", "friction", "fittings", "join")
    assert sum(getattr(whole, part)[rows] for part in parts) == pytest.approx(whole.total[rows], rel=1e-12)
    assert (at_end[rows] > upstream[rows]).all()
    assert at_end[tree.place[0]] == pytest.approx(flow[0])


def test_a_leak_takes_flow_from_the_hoods():
    runs, law = shop()
    tree, flow, _ = solved(runs, law)
    parted, leaking, _ = solved(part_runs(runs, leaky((48.0, 48.0, 48.0)), EXPONENT).runs, law)
    assert (leaking[parted.place[1:3]] < flow[tree.place[1:3]]).all()


def test_behind_a_shut_gate_only_the_leak_flows():
    runs, law = shop()
    leaks = part_runs(runs, leaky((0.0, 0.0, 30.0)), EXPONENT)
    tree, flow, lost = solved(leaks.runs, law, {2: math.inf})
    assert flow[tree.place[2]] == 0.0
    leaked = flow[tree.place[leaks.leak[2]]]
    assert leaked == flow[tree.place[leaks.lower[2]]] > 0.0
    suction = -lost.static_pressure[tree.place[2]]
    assert leaked == pytest.approx(leak_flow(leaky((0.0, 0.0, 30.0))[2], suction, EXPONENT), rel=1e-9)
    assert lost.energy_residual < 1e-9


def test_power_law_friction_is_halved_too():
    runs = [Run(-1, 0.15, 0.15, 10.0, 9e-5, entry=0.5 * dynamic(DENSITY, 0.15), power_law=(9000.0, 1.9))]
    parted, flow, lost = solved(part_runs(runs, [1e-13], EXPONENT).runs, columns.ENTRY)
    tree, plain, plain_lost = solved(runs, columns.ENTRY)
    assert flow[parted.place[0]] == pytest.approx(plain[tree.place[0]], rel=1e-7)
    assert lost.friction.sum() - lost.friction[parted.place[2]] == pytest.approx(plain_lost.friction.sum(), rel=1e-6)
