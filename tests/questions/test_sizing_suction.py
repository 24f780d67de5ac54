"""Suction that one density cannot answer: the cheapest diameters that stay above it, against every choice."""

import itertools

import pytest

import layout_shops
from airbough_service.terms.refusal import Refusal
from asking import ask

SIZES = (80, 100, 112, 125)


def tree(length, flow, **more):
    """Two machines on one trunk, without a fan."""
    runs = [
        {"id": "trunk", "into": None, "length": length, "fittings": [{"type": "elbow", "angle": 90}]},
        {"id": "far", "into": "trunk", "length": length / 2, "join": {"type": "straight"}, "hood": {"flow": flow}},
        {"id": "near", "into": "trunk", "length": 2.0, "join": {"type": "branch", "angle": 45}, "hood": {"flow": 900}},
    ]
    for run in runs:
        run |= {"diameter": 125, "duct": "spiral-galvanized"}
        if "hood" in run:
            run["hood"] |= {"entry": layout_shops.ENTRY}
            run["gate"] = {"opening": 1}
    return {
        "units": "metric",
        "dust": "sawdust",
        "runs": runs,
        "flows": "design",
        "stock": layout_shops.stock(SIZES),
        "rules": {"upper_velocity": "off", "transport_velocity": "must", "no_narrowing": "must"},
        "states": [{"name": name, "open": [name]} for name in ("far", "near")],
    } | more


def apart(length, flow):
    """The same machines, each on a run of its own into the collector, where it loses its velocity pressure."""
    body = tree(length, flow)
    runs = [{name: value for name, value in run.items() if name != "join"} for run in body["runs"][1:]]
    return body | {"runs": [run | {"into": None, "length": length} for run in runs]}


def priced(body, sizes):
    """Price of the tree in these diameters, all fixed; None where sizing refuses it."""
    runs = [run | {"diameter": size} for run, size in zip(body["runs"], sizes, strict=True)]
    asked = body | {"runs": runs, "fixed": [run["id"] for run in runs]}
    try:
        answer = ask("sizing", asked)
    except Refusal as refusal:
        if {fault.code for fault in refusal.faults} != {"suction-too-deep"}:
            raise
        return None
    return float(answer.price) if answer.outcome == "sized" else None


@pytest.mark.parametrize(("length", "flow"), [(20.0, 1300), (35.0, 1200), (50.0, 1300), (12.0, 1500)])
def test_the_cheapest_above_the_deepest_suction_is_found_and_proven(length, flow):
    body = tree(length, flow)
    answer = ask("sizing", body)
    every = [
        priced(body, (trunk, far, near))
        for trunk, far, near in itertools.product(SIZES, repeat=3)
        if max(far, near) <= trunk
    ]
    assert answer.proof == "exact"
    assert None in every
    assert float(answer.price) == pytest.approx(min(price for price in every if price is not None), abs=0.05)
    assert max(state.fan_static_pressure for state in answer.states) == answer.fan_static_pressure


@pytest.mark.parametrize(("length", "flow"), [(28.0, 1300), (30.0, 1500), (38.0, 1400)])
def test_runs_that_each_enter_the_collector_lose_their_velocity_pressure_once(length, flow):
    body = apart(length, flow)
    answer = ask("sizing", body)
    every = [priced(body, sizes) for sizes in itertools.product(SIZES, repeat=2)]
    assert answer.proof == "exact"
    assert None in every
    assert float(answer.price) == pytest.approx(min(price for price in every if price is not None), abs=0.05)
