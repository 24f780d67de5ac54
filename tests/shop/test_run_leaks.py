"""Leakage classes of a document become leaks of the packed tree."""

import msgspec
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import operate
from airbough_service.core.network.tree import (
    Run,
    pack,
)
from airbough_service.shop import collector
from airbough_service.shop.run_leaks import leaking
from airbough_service.shop.shop import build
from airbough_service.terms import units
from site_shop import ask, codes, shop


def runs(word):
    body = shop()
    body["runs"][0]["leakage_class"] = word
    request = msgspec.json.decode(msgspec.json.encode(body), type=OperatingPointRequest)
    return units.to_si(request).runs


def test_a_class_is_its_published_flow():
    # Class 12: 12 ft3/min through 100 ft2 at 1 inH2O, by the definition of the class (SMACNA, from memory).
    found, faults = leaking(runs("round-joints-sealed"))
    assert faults == []
    area = 3.141592653589793 * (8 / 12) * 14  # ft2
    flow = found.coefficients[0] * 249.08891**found.exponent / (0.3048**3 / 60)
    assert flow == pytest.approx(12 * area / 100, rel=1e-6)
    assert found.coefficients[1:] == (0.0, 0.0)
    assert {passport.source for passport in found.passports} == {"duct-leakage-tester-manual", "ashrae-hof-2021-ch21"}


def test_european_classes_are_their_printed_coefficients():
    found, _ = leaking(runs("en-c"))
    area = 3.141592653589793 * 8 * 0.0254 * 14 * 0.3048
    assert found.coefficients[0] == pytest.approx(3e-6 * area, rel=1e-4)


def test_an_unknown_class_is_a_fault_with_the_nearest_words():
    _, faults = leaking(runs("round-sealed"))
    assert [(fault.path, fault.code) for fault in faults] == [("runs[0].leakage_class", "unknown-word")]
    assert "round-joints-sealed" in faults[0].detail
    _, faults = leaking(runs("A"))
    assert "en-a" in faults[0].detail


def test_without_classes_nothing_leaks():
    found, faults = leaking(runs(None))
    assert not found.any
    assert faults == []
    row = Run(-1, 0.1, 0.1, 1.0, 1e-4)
    assert list(found.parted([row, row, row]).runs) == [row, row, row]


def test_a_whole_shop_balances_with_its_leaks():
    request = units.to_si(msgspec.json.decode(msgspec.json.encode(shop()), type=OperatingPointRequest))
    made = build(request)
    fan = collector.build(made)
    found, _ = leaking(runs("round-unsealed"))
    rows = [
        Run(-1, 0.2, 0.2, 4.0, 9e-5),
        Run(0, 0.1, 0.1, 2.0, 9e-5, entry=0.5 * 1.2 / 2 / 0.00785**2),
        Run(0, 0.15, 0.15, 2.0, 9e-5, entry=0.5 * 1.2 / 2 / 0.0177**2),
    ]
    leaks = found.parted(rows)
    tree = pack(leaks.runs, 1.2, 1.82e-5, 0)
    operating = operate(tree, fan, tree.gate)
    lost = losses(tree, tree.gate, operating.flow, fan.left_for_tree(float(operating.flow[0])))
    assert lost.energy_residual < 1e-9
    assert lost.mass_residual < 1e-9


def test_a_leaking_run_is_judged_where_its_air_is_slowest():
    """20 m/s for sawdust (catalogue); the run's far end is faster by what leaks in on the way."""
    between = 0
    for ratio in [0.4 + 0.02 * k for k in range(45)]:
        body = {
            "units": "metric",
            "dust": "sawdust",
            "runs": [
                {"id": "main", "into": None, "diameter": 150, "length": 30, "duct": "snap-lock-galvanized"}
                | {"leakage_class": "round-unsealed", "gate": {"opening": 1.0}}
                | {"hood": {"entry": {"type": "plain-opening"}}}
            ],
            "collector": {"fan": {"curve": [{"flow": 0, "pressure": 2600}, {"flow": 3000, "pressure": 600}]}},
        }
        body["collector"]["fan"] |= {"rated_as": "fan-static", "speed_ratio": ratio}
        answer = ask("operating-point", body)
        (run,) = answer.runs
        upstream = run.velocity * run.flow_upstream / run.flow
        assert upstream < run.velocity
        slow = "below-transport-velocity" in codes(answer)
        assert slow == (upstream < 20.0)
        states = ask("gate-states", body | {"states": [{"name": "open"}]})
        assert slow == ("below-transport-velocity" in states.states[1].findings)
        between += upstream < 20.0 < run.velocity
    assert between > 0


def test_the_slowest_run_is_that_with_the_slowest_air_anywhere():
    """Two equal drops, one of which leaks: at its junction it flows faster than the tight one, at its hood slower."""
    drop = {"into": "main", "diameter": 100, "duct": "snap-lock-galvanized"}
    drop["hood"] = {"entry": {"type": "known-coefficient", "coefficient": 0.5}}
    tight = drop | {"id": "tight", "length": 30, "join": {"type": "branch", "angle": 45}}
    leaky = drop | {"id": "leaky", "length": 30, "join": {"type": "branch", "angle": 45}}
    leaky |= {"leak": {"coefficient": 4.0e-4, "exponent": 0.65}}
    main = {"id": "main", "into": None, "diameter": 140, "length": 1, "duct": "snap-lock-galvanized"}
    fan = {"curve": [{"flow": 0, "pressure": 2600}, {"flow": 3000, "pressure": 600}], "rated_as": "fan-static"}
    body = {"units": "metric", "runs": [main, tight, leaky], "collector": {"fan": fan}}
    answer = ask("operating-point", body)
    told = {run.id: run for run in answer.runs}
    assert told["leaky"].flow_upstream < told["tight"].flow < told["leaky"].flow
    assert answer.system.slowest_run == "leaky"
