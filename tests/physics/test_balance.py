"""Balance at design flows: what gates add really balances; raising flow follows the manuals' rule and never lowers."""

import copy
import math
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import airbough
import shops
from airbough_service.solving.design import limits

CLIENT = airbough.local()
LEFT, RAISED = limits().left, limits().raised
SEEDS, HOODS = st.integers(0, 10_000), st.integers(2, 10)
LAWS = st.sampled_from(("flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"))
quick = settings(max_examples=40, deadline=None, derandomize=True)


def open_shop(seed: int, hoods: int, law: str) -> dict[str, Any]:
    """Return a shop with every gate open."""
    document = shops.shop(seed, hoods, law)
    for run in document["runs"]:
        if "gate" in run:
            run["gate"] = {"opening": 1.0}
    return document


def balanced(document: dict[str, Any]) -> airbough.BalanceAnswer:
    """Return the balance; shops too narrow for what they should move, above 60 inH2O of suction, are passed over."""
    try:
        return CLIENT.balance(document)
    except airbough.NotComputable as refusal:
        assume([fault.code for fault in refusal.problem.errors] != ["suction-too-deep"])
        raise


@quick
@given(SEEDS, HOODS, LAWS)
def test_gates_balance_the_tree(seed: int, hoods: int, law: str) -> None:
    """With the gates' losses added as known coefficients and a fan of just that duty, the design flows really flow."""
    document = open_shop(seed, hoods, law)
    answer = balanced(document)
    assert answer.branches
    changed = copy.deepcopy(document)
    number = {run["id"]: index for index, run in enumerate(document["runs"])}
    told = {run.id: run for run in answer.runs}
    for branch in answer.branches:
        if branch.action == "gate":
            added = branch.gate_loss / told[branch.run].velocity_pressure
            fitting = {"type": "known-coefficient", "coefficient": added}
            changed["runs"][number[branch.run]]["fittings"].append(fitting)
    duty = answer.system.required
    assume(duty.fan_static_pressure < 50.0)  # inH2O; the wire ends at 60
    changed["collector"]["fan"]["curve"] = [
        {"flow": duty.flow * 0.5, "pressure": duty.fan_static_pressure * 1.15},
        {"flow": duty.flow, "pressure": duty.fan_static_pressure},
        {"flow": duty.flow * 1.5, "pressure": duty.fan_static_pressure * 0.2},
    ]
    changed["collector"]["fan"]["interpolation"] = "linear"
    changed["collector"]["fan"]["rated_air"] = None
    found = CLIENT.operating_point(changed)
    for hood in found.hoods:
        assert hood.flow == pytest.approx(hood.design_flow, rel=1.0e-6)


@quick
@given(SEEDS, HOODS, LAWS)
def test_one_path_governs_at_every_junction(seed: int, hoods: int, law: str) -> None:
    """Each junction has one governing run with ratio 1; no other asks for more; the path runs from fan to hood."""
    document = open_shop(seed, hoods, law)
    answer = balanced(document)
    into = {run["id"]: run["into"] for run in document["runs"]}
    for branch in answer.branches:
        assert branch.pressure <= branch.governing_pressure * (1.0 + 1.0e-9)
        assert branch.governs == (branch.action == "none" and branch.pressure == branch.governing_pressure)
    path = answer.system.governing_path
    assert into[path[0]] is None
    assert all(into[run] == below for below, run in pairwise(path))
    assert any(hood.run == path[-1] for hood in answer.hoods)


@quick
@given(SEEDS, HOODS, LAWS, st.sampled_from(("square-root", "exact")))
def test_flow_is_raised_by_the_rule(seed: int, hoods: int, law: str, correction: str) -> None:
    """Up to 1.05 left, to 1.20 raised, above that resized (the velocity-pressure method's rule, from memory)."""
    document = open_shop(seed, hoods, law)
    answer = balanced({**document, "by": "flow", "correction": correction})
    for branch in answer.branches:
        if branch.ratio is None or branch.governs:
            continue
        if branch.ratio <= LEFT * (1.0 - 1e-9):
            assert branch.action == "none"
        elif LEFT * (1.0 + 1e-9) < branch.ratio <= RAISED * (1.0 - 1e-9):
            assert branch.action == "raise-flow"
        elif branch.ratio > RAISED * (1.0 + 1e-9):
            assert branch.action == "resize"
    for hood in answer.hoods:
        assert hood.flow >= hood.design_flow * (1.0 - 1.0e-12)


def test_square_root_rule_by_hand() -> None:
    """A branch of 1.1 times less pressure takes sqrt(1.1) the flow: two lossless-but-for-entry hoods, law none."""
    run: dict[str, Any] = {"into": "main", "diameter": "100 mm", "length": 0.0, "roughness": 0.0}
    document = {
        "units": "metric",
        "model": {"junctions": "none"},
        "runs": [
            {"id": "main", "into": None, "diameter": 150.0, "length": 0.0, "roughness": 0.0},
            {**run, "id": "a", "join": {"type": "straight"},
             "hood": {"flow": 500.0, "entry": {"type": "known-coefficient", "coefficient": 1.1}}},
            {**run, "id": "b", "join": {"type": "branch", "angle": 45.0},
             "hood": {"flow": 500.0, "entry": {"type": "known-coefficient", "coefficient": 1.0}}},
        ],
    }  # fmt: skip
    answer = CLIENT.balance({**document, "by": "flow"})
    flows = {hood.run: hood.flow for hood in answer.hoods}
    assert flows["a"] == pytest.approx(500.0)
    assert flows["b"] == pytest.approx(500.0 * 1.1**0.5)
    assert answer.system.governing_path == ("main", "a")


def test_a_gate_that_no_opening_makes_tight_enough_is_told_without_an_opening():
    """A trickle of 0.05 cfm in a 6 in run beside a saw: the loss to add is told, no opening of a gate has it."""
    duct = {"diameter": 6, "length": 8, "duct": "spiral-galvanized"}
    hood = {"entry": {"type": "flanged-opening"}}
    branch = {"into": "main", "join": {"type": "branch", "angle": 45}, **duct, "diameter": 4}
    runs = [
        {"id": "main", "into": None, **duct},
        {"id": "trickle", "into": "main", "join": {"type": "straight"}, **duct, "hood": {"flow": 0.05, **hood}},
        {"id": "saw", **branch, "hood": {"flow": 400, **hood}},
    ]
    answer = CLIENT.balance({"units": "us", "runs": runs, "by": "gates"})
    told = next(told for told in answer.branches if told.run == "trickle")
    assert told.action == "gate"
    assert told.gate_loss is not None
    assert told.gate_loss > 0
    assert told.gate_opening is None


def test_the_duty_at_standard_air_by_hand() -> None:
    """From 1.0 to 1.2 kg/m3 both pressures grow by 1.2; total is static and rho/2 (Q/A)^2 at the outlet of 0.2 m."""
    hood = {"flow": 1800, "entry": {"type": "known-coefficient", "coefficient": 0.5}}
    run = {"id": "run", "into": None, "diameter": 200, "length": 0, "duct": "spiral-galvanized", "hood": hood}
    curve = [{"flow": 0, "pressure": 2000}, {"flow": 4000, "pressure": 500}]
    fan = {"curve": curve, "rated_as": "fan-total", "outlet_diameter": 200}
    air = {"density": 1.0, "viscosity": 1.8e-5}
    required = CLIENT.balance({"units": "metric", "air": air, "runs": [run], "collector": {"fan": fan}}).system.required
    dynamic = 0.5 * (0.5 / (math.pi / 4.0 * 0.2**2)) ** 2
    assert required.fan_static_pressure == pytest.approx(0.5 * dynamic, rel=1e-9)
    assert required.fan_total_pressure == pytest.approx(1.5 * dynamic, rel=1e-9)
    standard = required.at_standard_air
    assert standard.flow == required.flow == pytest.approx(1800)
    assert standard.fan_static_pressure == pytest.approx(1.2 * 0.5 * dynamic, rel=1e-9)
    assert standard.fan_total_pressure == pytest.approx(1.2 * 1.5 * dynamic, rel=1e-9)
