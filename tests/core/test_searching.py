"""A curve that may be crossed more than once is solved at some of its points only: against every point solved."""

import random

import msgspec
import numpy as np
import pytest

import heavy
from airbough.calls import OPERATING_POINT
from airbough_service.core.network import operating
from airbough_service.shop import (
    collector as fans,
)
from airbough_service.shop import (
    shop,
)
from airbough_service.terms import units


def waved(dice):
    """Return a random curve with humps and dips."""
    flows = sorted(dice.sample(range(1, 2_500), dice.choice((6, 12, 40))))
    return [{"flow": flow, "pressure": dice.uniform(1.0, 12.0)} for flow in [0, *flows]]


@pytest.mark.parametrize("seed", range(60))
def test_crossings_are_those_of_the_whole_curve_solved(seed, monkeypatch):
    dice = random.Random(seed)
    runs = []
    for run in heavy.comb(dice.choice((1, 3, 12))):
        own = {"diameter": dice.choice((3, 4, 5, 6)), "length": dice.choice((0, 1, 20, 400))}
        runs.append(run | own if "hood" in run else run)
    collector = {"fan": {"curve": waved(dice), "rated_as": "fan-static"}}
    body = {
        "units": "us",
        "runs": runs,
        "collector": collector,
        "model": {"junctions": dice.choice(("none", "flow-ratio"))},
    }
    request = units.to_si(msgspec.convert(body, OPERATING_POINT.request))
    made = shop.build(request)
    fan = fans.build(made)
    found = operating.operate(made.tree, fan, made.gates())
    monkeypatch.setattr(operating, "NODES", 10**9)
    every = operating.operate(made.tree, fan, made.gates())
    assert found.outcome == every.outcome
    np.testing.assert_allclose(found.flow, every.flow, rtol=1e-9)
    assert [one.stable for one in found.crossings] == [one.stable for one in every.crossings]
    np.testing.assert_allclose([one.flow for one in found.crossings], [one.flow for one in every.crossings], rtol=1e-9)


def test_a_fan_that_gives_nothing_at_no_flow_has_no_crossing_there():
    curve = [{"flow": 0, "pressure": 0}, {"flow": 600, "pressure": 11}, {"flow": 3000, "pressure": 0}]
    collector = {"fan": {"curve": curve, "rated_as": "fan-static"}}
    body = {"units": "us", "runs": heavy.comb(3), "collector": collector}
    made = shop.build(units.to_si(msgspec.convert(body, OPERATING_POINT.request)))
    found = operating.operate(made.tree, fans.build(made), made.gates())
    assert all(one.flow > 0.01 for one in found.crossings)
    assert len(found.crossings) == 1
