"""Sizing for a fan that just suffices: whatever pressure is there is kept, and more diameters never cost more."""

import random

import pytest

import layout_shops
from asking import ask

EVERY = (100, 112, 118, 125, 132, 140)
ELBOW = {"type": "elbow", "angle": 90}


def comb(seed, machines, top, sizes):
    """An invented shop: branches along a main, one machine after the other, each running alone."""
    draw, runs, after = random.Random(seed), [], None
    for number in range(1, machines):
        main = {"id": f"main {number}", "into": after, "length": 6.0, "fittings": [ELBOW]}
        if after is not None:
            main |= {"length": round(draw.uniform(0.8, 3.0), 1), "join": {"type": "straight"}, "fittings": []}
        after = main["id"]
        branch = {"id": f"branch {number}", "into": after, "length": round(draw.uniform(2.0, 6.0), 1)}
        branch |= {"join": {"type": "branch", "angle": 45}, "fittings": [ELBOW, {"type": "elbow", "angle": 45}]}
        runs += [main, branch]
    last = {"id": f"branch {machines}", "into": after, "length": 4.0, "join": {"type": "straight"}, "fittings": [ELBOW]}
    runs.append(last)
    for run in runs:
        run |= {"diameter": 125, "duct": "spiral-galvanized"}
        if run["id"].startswith("branch"):
            run |= {"hood": {"flow": 1000, "entry": layout_shops.ENTRY}, "gate": {"opening": 1}}
    return {
        "units": "metric",
        "runs": runs,
        "dust": "sawdust",
        "collector": layout_shops.fan(top),
        "flows": "design",
        "stock": layout_shops.stock(sizes),
        "rules": {"transport_velocity": "must", "no_narrowing": "must"},
        "states": [{"name": run["id"], "open": [run["id"]]} for run in runs if "hood" in run],
    }


@pytest.mark.parametrize(("seed", "machines", "top"), [(0, 12, 2000.0), (0, 10, 1800.0), (2, 8, 1600.0)])
def test_more_diameters_cost_no_more_where_the_fan_just_suffices(seed, machines, top):
    """Two diameters keep every rule; of six, those two among them, none that costs more is taken (it was 8 % more)."""
    few = ask("sizing", comb(seed, machines, top, (118, 132)))
    every = ask("sizing", comb(seed, machines, top, EVERY))
    assert not few.broken
    assert not every.broken
    assert every.price <= few.price
    assert few.proof == every.proof == "exact"  # what misses any pressure misses more than what keeps all
    assert every.lower_bound.price == every.price


def test_what_cannot_be_kept_is_still_missed_by_the_fewest_steps():
    """No diameters keep the pressure of this fan; the answer tells it and takes what misses least."""
    found = ask("sizing", comb(0, 10, 1600.0, (118, 132)))
    assert found.proof == "exact"
    assert {item.rule for item in found.broken} == {"design_flow", "pressure_available"}
    alone = [ask("sizing", comb(0, 10, 1600.0, (size,))) for size in (118, 132)]
    most = min(max(item.share for item in one.broken) for one in alone if one.outcome == "sized")
    assert max(item.share for item in found.broken) <= most


@pytest.mark.parametrize("sizes", [(118, 132), EVERY])
def test_a_state_off_the_curve_leaves_the_pressure_of_the_others_kept_and_proven(sizes):
    """Two machines at once ask for more air than the curve tells of; nothing changes for each alone."""
    body = comb(0, 10, 1800.0, sizes)
    body["rules"]["upper_velocity"] = "off"
    body["collector"]["fan"]["curve"] = [{"flow": 0, "pressure": 1800}, {"flow": 1500, "pressure": 1550}]
    alone = ask("sizing", body)
    body["states"].append({"name": "two", "open": ["branch 1", "branch 2"]})
    found = ask("sizing", body)
    assert not alone.broken
    assert {(item.rule, item.state) for item in found.broken} == {("design_flow", "two"), ("pressure_available", "two")}
    assert found.proof == "exact"
    assert found.price == alone.price


def test_one_run_misses_two_pressures_by_all_their_steps_before_a_wish_is_given_up():
    """Its narrower diameter keeps the dust moving, as was wished, at eight times the pressure that there is."""
    run = {"id": "only", "into": None, "diameter": 160, "length": 10, "duct": "spiral-galvanized"}
    run |= {"hood": {"flow": 600, "entry": layout_shops.ENTRY}}
    body = {"units": "metric", "dust": "sawdust", "runs": [run], "flows": "design"}
    body |= {"collector": layout_shops.fan(150.0), "stock": layout_shops.stock((100, 160))}
    for weight in (None, "prefer"):
        body["rules"] = {} if weight is None else {"transport_velocity": weight}
        found = ask("sizing", body)
        assert found.sizes[0].diameter == (160 if weight is None else 100), found.broken
