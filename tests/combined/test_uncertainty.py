"""How sure an answer is: against closed forms, against brute force, and reproducible."""

from __future__ import annotations

import json
import math
import time
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from msgspec import structs

from airbough_service import catalogue
from airbough_service.catalogue.spreads import spread_of
from airbough_service.core.evidence import draws
from airbough_service.core.network import sampling
from airbough_service.shop.packing import pack_shop
from airbough_service.shop.pieces import Pieces
from airbough_service.shop.shop import build
from airbough_service.solving.uncertain_terms import gathered
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal
from random_documents import document
from site_shop import BY_NAME, ask, faults

DEMO = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text("utf-8"))


def single(**more: Any) -> dict[str, Any]:
    """Return one duct without length: all of its loss is a known entry's, under a fan of constant pressure."""
    return {
        "units": "metric",
        "runs": [{"id": "a", "into": None, "diameter": 150, "length": 0,
                  "hood": {"flow": 1000, "entry": {"type": "known-coefficient", "coefficient": 4.0}}}],
        "collector": {"fan": {"curve": [{"flow": 0, "pressure": 800}, {"flow": 4000, "pressure": 800}],
                              "rated_as": "fan-static"}},
        "uncertainty": {"samples": 10000, "seed": 3},
    } | more  # fmt: skip


def test_a_single_duct_by_hand():
    # 4 (density / 2) (Q / A)^2 = f P, so ln Q = ln(f) / 2 + constant: half the spread of the curve.
    answer = ask("operating-point", single())
    flow = answer.uncertainty.flow
    q = math.pi * 0.15**2 / 4.0 * math.sqrt(800.0 / (4.0 * 0.6)) * 3600.0
    half = spread_of("fan-curve").spread / 2.0
    assert answer.system.flow == pytest.approx(q, rel=1.0e-9)
    assert flow.middle == pytest.approx(q, rel=1.0e-3)
    assert flow.low == pytest.approx(q * math.exp(-half), rel=2.0e-3)
    assert flow.high == pytest.approx(q * math.exp(half), rel=2.0e-3)


def test_suction_after_a_single_hood_by_hand():
    # The entry takes 4 of the 4 velocity pressures that the fan has, and the moving air is a fifth: -5/4 of f P.
    answer = ask("operating-point", single())
    (hood,) = answer.uncertainty.hoods
    spread = spread_of("fan-curve").spread
    assert hood.static_pressure.middle == pytest.approx(-1000.0, rel=1.0e-3)
    assert hood.static_pressure.low == pytest.approx(-1000.0 * math.exp(spread), rel=4.0e-3)
    assert hood.static_pressure.high == pytest.approx(-1000.0 * math.exp(-spread), rel=4.0e-3)


@pytest.mark.parametrize("seed", [1, 4, 7])
def test_suction_after_hoods_lies_around_what_is_told(seed):
    answer = ask("operating-point", document(seed) | {"uncertainty": {"samples": 200, "seed": 1}})
    told = {hood.run: hood.static_pressure for hood in answer.hoods}
    for hood in answer.uncertainty.hoods:
        assert hood.static_pressure.low < told[hood.run] < hood.static_pressure.high < 0.0


def test_all_uses_of_an_entry_share_a_draw():
    # Two runs of the same elbow: required pressure is VP (4 + 2 c f), so its ends are those of one f, not of two.
    elbow = {"type": "elbow", "angle": 90, "radius_ratio": 1.5}
    body = single()
    body["runs"][0] |= {"fittings": [elbow], "id": "a"}
    body["runs"].append(body["runs"][0] | {"id": "b", "into": "a"})
    del body["runs"][0]["hood"]
    told = ask("balance", body).uncertainty
    loss = catalogue.fitting_loss("elbow", {"angle": 90.0, "radius_ratio": 1.5}, 0.15)
    pressure = 0.6 * (1000.0 / 3600.0 / (math.pi * 0.15**2 / 4.0)) ** 2
    for value, sign in ((told.fan_static_pressure.low, -1.0), (told.fan_static_pressure.high, 1.0)):
        by_hand = pressure * (4.0 + 2.0 * loss.coefficient * math.exp(sign * loss.passport.spread))
        assert value == pytest.approx(by_hand, rel=3.0e-3)
    assert told.terms_explain == "fan-static-pressure"
    assert told.terms[0].entry == loss.entry
    assert told.terms[0].share == pytest.approx(1.0, abs=1.0e-9)
    assert told.terms[0].raises


def test_no_spread_no_width():
    body = single(uncertainty={"samples": 50, "seed": 1})
    del body["collector"]
    told = ask("balance", body).uncertainty
    assert told.fan_static_pressure.low == told.fan_static_pressure.high
    assert told.flow.low == told.flow.high == pytest.approx(1000.0)
    assert told.terms == ()


def test_the_same_seed_gives_the_same_and_another_not():
    asked = {"uncertainty": {"samples": 100, "seed": 5}}
    one, two = (ask("operating-point", DEMO | asked).uncertainty for _ in range(2))
    assert one == two
    assert ask("operating-point", DEMO | {"uncertainty": {"samples": 100, "seed": 6}}).uncertainty.flow != one.flow


def test_more_samples_settle():
    many = ask("operating-point", DEMO | {"uncertainty": {"samples": 10000, "seed": 1}}).uncertainty.flow
    width = many.high - many.low
    errors = []
    for samples in (100, 2500):
        found = [
            ask("operating-point", DEMO | {"uncertainty": {"samples": samples, "seed": seed}}).uncertainty.flow.high
            for seed in range(2, 14)
        ]
        errors.append(float(np.sqrt(np.mean((np.array(found) - many.high) ** 2))) / width)
    assert errors[1] < 0.5 * errors[0]
    assert errors[1] < 0.03


def test_shares_and_their_errors():
    body = DEMO | {"uncertainty": {"samples": 400, "seed": 1}}
    checks = {(check.check, check.run): check for check in ask("operating-point", body).uncertainty.checks}
    fine = {
        (c.check, c.run): c.share_holding
        for c in ask("operating-point", DEMO | {"uncertainty": {"samples": 10000, "seed": 9}}).uncertainty.checks
    }
    assert checks.keys() == fine.keys()
    assert ("transport-velocity", "planer") in checks
    assert ("design-flow", "planer") in checks
    for key, check in checks.items():
        assert abs(check.share_holding - fine[key]) < 4.0 * check.standard_error
        assert check.standard_error > 0.0


def test_a_balance_tells_whether_the_fan_has_the_pressure():
    told = ask("balance", DEMO | {"uncertainty": {"samples": 200, "seed": 1}}).uncertainty
    (available,) = [check for check in told.checks if check.check == "pressure-available"]
    assert available.share_holding == 1.0
    weak = json.loads(json.dumps(DEMO)) | {"uncertainty": {"samples": 200, "seed": 1}}
    weak["collector"]["fan"]["speed_ratio"] = 0.83
    (available,) = [c for c in ask("balance", weak).uncertainty.checks if c.check == "pressure-available"]
    assert 0.02 < available.share_holding < 0.98


@pytest.mark.parametrize("seed", [2, 5, 8, 11, 14])
def test_draws_agree_with_the_tree_packed_again(seed):
    # Witness: each piece and wall of the shop multiplied by its factor, and the tree packed anew, one draw at a time.
    request = units.to_si(msgspec.convert(document(seed), BY_NAME["operating-point"].request))
    from airbough_service.core.network.operating import operate
    from airbough_service.shop import collector

    shop, fan = build(request), collector.build(build(request))
    gate = shop.gates()
    terms, uses = gathered(shop, gate, ["cyclone", "bag"])
    factor = draws.factors(1, terms.names, terms.spreads, 5)
    kept = [k for k, name in enumerate(terms.names) if name.split("/")[0] in ("elbow", "duct", "stretch", "taper")]
    factor[:, [k for k in range(factor.shape[1]) if k not in kept]] = 1.0
    found = sampling.solved(shop.tree, fan, gate, uses, factor)
    assert sampling.settled(found).all()
    for s in range(5):
        tree = multiplied(shop, {terms.names[k]: float(factor[s, k]) for k in kept})
        assert found.flow[s] == pytest.approx(operate(tree, fan, gate).flow, rel=1.0e-9)


def multiplied(shop, factors):
    def of_wall(wall):
        stretched, rough = (factors.get(entry, 1.0) for entry in (wall.multiplier_entry, wall.entry))
        return structs.replace(wall, multiplier=wall.multiplier * stretched, roughness=wall.roughness * rough)

    def of_piece(piece):
        return structs.replace(piece, coefficient=piece.coefficient * factors.get(piece.entry, 1.0))

    def of_part(part):
        return structs.replace(part, wall=of_wall(part.wall), pieces=Pieces(map(of_piece, part.pieces)))

    runs, discharge = (tuple(map(of_part, parts)) for parts in (shop.runs, shop.discharge))
    return pack_shop(shop.request, shop.air, shop.shape, runs, discharge, shop.leaking)[0]


@pytest.mark.parametrize("seed", range(12))
def test_random_trees_have_ranges_around_their_answer(seed):
    answer = ask("operating-point", document(seed) | {"uncertainty": {"samples": 200, "seed": 1}})
    told = answer.uncertainty
    assert told.share_solved > 0.9
    assert told.flow.low < answer.system.flow < told.flow.high
    assert len(told.terms) == 5
    assert sum(term.share for term in told.terms) > 0.5
    speeds = {run.id: run.velocity for run in answer.runs}
    for run in told.runs:
        assert run.velocity.low <= speeds[run.run] * 1.02
        assert run.velocity.high >= speeds[run.run] * 0.98


def test_by_flow_draws_too():
    told = ask("balance", DEMO | {"by": "flow", "uncertainty": {"samples": 40, "seed": 1}}).uncertainty
    assert told.flow.low < told.flow.high
    assert told.terms_explain == "flow"


def test_a_humped_curve_is_searched_in_every_draw():
    body = single(uncertainty={"samples": 60, "seed": 1})
    body["collector"]["fan"]["curve"] = [
        {"flow": q, "pressure": p} for q, p in ((0, 700), (600, 650), (1200, 800), (2400, 500))
    ]
    told = ask("operating-point", body).uncertainty
    assert told.share_solved == 1.0
    assert told.flow.low < told.flow.middle < told.flow.high


def test_draws_beyond_the_curve_are_left_out_and_told():
    body = single(uncertainty={"samples": 200, "seed": 1})
    flow = ask("operating-point", body).system.flow
    body["collector"]["fan"]["curve"][1]["flow"] = flow
    answer = ask("operating-point", body | {"collector": body["collector"]})
    assert 0.3 < answer.uncertainty.share_solved < 0.7
    assert "draws-beyond-curve" in [finding.code for finding in answer.findings]


def test_too_many_draws_are_refused():
    body = DEMO | {"uncertainty": {"samples": 10000, "seed": 1}, "by": "flow"}
    with pytest.raises(Refusal) as refused:
        ask("balance", body)
    assert faults(refused.value) == {"uncertainty.samples": "too-many-samples"}


def test_four_hundred_draws_of_the_demo_shop_are_quick():
    body = DEMO | {"uncertainty": {"samples": 400, "seed": 1}}
    ask("operating-point", body)
    spent = []
    for _ in range(5):
        start = time.process_time()  # however long it waits for a processor
        ask("operating-point", body)
        spent.append(time.process_time() - start)
    assert min(spent) < 0.1


def test_power_law_friction_of_a_construction_is_uncertain_by_its_own_term():
    """By the power law a duct's friction is drawn; a roughness of the caller's own rests on no published constant."""
    hood = {"flow": 400, "entry": {"type": "known-coefficient", "coefficient": 0.5}}
    run = {"id": "a", "into": None, "diameter": 4, "length": 60, "hood": hood, "duct": "spiral-galvanized"}
    fan = {"curve": [{"flow": 0, "pressure": 10}, {"flow": 900, "pressure": 0}], "rated_as": "fan-static"}
    model = {"friction": "power-law", "junctions": "none"}
    body = {"units": "us", "runs": [run], "collector": {"fan": fan}, "model": model, "uncertainty": {"samples": 200}}
    answer = ask("operating-point", body)
    terms = {term.entry for term in answer.uncertainty.terms}
    assert any(term.startswith("power-law/") for term in terms), terms


def test_what_the_caller_knows_is_not_drawn():
    """A level curve alone is uncertain: each draw is one of another level, and the flow that of the level told."""

    def asked(pressure, **more):
        hood = {"flow": 300, "entry": {"type": "known-coefficient", "coefficient": 1.0}}
        run = {"id": "a", "into": None, "diameter": 100, "length": 30, "roughness": "3 mm", "hood": hood}
        run |= {"gate": {"opening": 0.5, "known": [{"opening": 0.5, "coefficient": 20}]}}
        curve = [{"flow": flow, "pressure": pressure} for flow in (0, 5000)]
        fan = {"curve": curve, "rated_as": "fan-static", "interpolation": "linear"}
        body = {"units": "metric", "runs": [run], "collector": {"fan": fan}}
        return ask("operating-point", body | more)

    drawn = asked(1000, uncertainty={"samples": 200, "seed": 7}).uncertainty
    assert [term.entry for term in drawn.terms] == ["fan-curve"]
    assert drawn.fan_static_pressure.low < 970 < 1030 < drawn.fan_static_pressure.high
    for end in ("low", "high"):
        level = asked(getattr(drawn.fan_static_pressure, end))
        assert getattr(drawn.flow, end) == pytest.approx(level.system.flow, rel=1e-4)
