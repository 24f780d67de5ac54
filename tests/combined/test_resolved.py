"""A resolved request holds no word that bears on a flow, and gives the same flows when sent back."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec
import pytest

from airbough_service import catalogue
from airbough_service.catalogue.leakage import all_leakage_classes
from airbough_service.shop import (
    packing,
    pieces,
    shop,
)
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal
from junction_models import under
from random_documents import document
from site_shop import BY_NAME, ask

DEMO = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text("utf-8"))
QUESTIONS = ("operating-point", "balance")


def sent_back(answer: Any) -> dict[str, Any]:
    """Return the resolved request as it would travel."""
    return msgspec.json.decode(msgspec.json.encode(answer.resolved))


def same(one: Any, two: Any, within: float) -> bool:
    return all(
        abs(a.flow - b.flow) <= within * max(a.flow, 1.0) and abs(a.static_pressure - b.static_pressure) < 1.0e-9
        for a, b in zip(one.runs, two.runs, strict=True)
    )


def without_catalogue(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make every number of the catalogue that bears on a flow unreachable."""

    def gone(*_: Any, **__: Any) -> None:
        raise AssertionError("the catalogue was asked")

    for name in ("fitting_loss", "entry_loss", "change_of_size", "gate_loss", "branch_law", "entry_factor", "duct"):
        monkeypatch.setattr(pieces.catalogue, name, gone)


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize("junctions", ["flow-ratio", "flow-ratio-third-edition", "entry-angle", "none"])
def test_the_demo_shop_comes_back_with_the_same_flows(question, junctions):
    first = ask(question, under(DEMO, junctions) | {"resolved": True})
    again = ask(question, sent_back(first))
    assert again.resolved is None
    assert same(first, again, 1.0e-12)


@pytest.mark.parametrize("seed", range(40))
def test_random_trees_come_back_with_the_same_flows(seed):
    body = document(seed) | {"resolved": True}
    first = ask("operating-point", body)
    again = ask("operating-point", sent_back(first))
    assert first.outcome == again.outcome
    assert same(first, again, 1.0e-12)
    assert any(run.flow > 0.0 for run in first.runs)


def test_power_law_friction_comes_back_with_the_same_flows():
    body = under(DEMO, "entry-angle", friction="power-law") | {"resolved": True}
    body["runs"] = [dict(run) for run in body["runs"]]
    for run in body["runs"]:
        run["duct"] = "spiral-galvanized"
        run.pop("stretch", None)
    first = ask("balance", body)
    back = sent_back(first)
    assert all("duct" not in run and run["power_law"]["scale"] > 0.0 for run in back["runs"])
    assert same(first, ask("balance", back), 1.0e-12)


def test_the_catalogue_is_not_asked_again(monkeypatch):
    body = document(3) | {"resolved": True}
    first = ask("operating-point", body)
    back = msgspec.json.decode(msgspec.json.encode(first.resolved), type=BY_NAME["operating-point"].request)
    made = units.to_si(back)
    without_catalogue(monkeypatch)
    ready = shop.build(made)
    assert [run.wall.duct for run in ready.runs] == [None] * len(ready.runs)
    assert all(piece.entry == "" for run in ready.runs for piece in run.pieces)


def test_what_the_caller_wrote_stays_as_written():
    body = DEMO | {"resolved": True}
    body["runs"] = [dict(run) for run in body["runs"]]
    body["runs"][0]["diameter"] = "7 in"
    back = sent_back(ask("operating-point", body))
    assert back["runs"][0]["diameter"] == "7 in"
    assert back["units"] == "us"
    assert "resolved" not in back
    assert back["runs"][0]["fittings"][0]["type"] == "known-coefficient"


def test_a_metric_request_comes_back_too():
    body = {
        "units": "metric",
        "resolved": True,
        "air": {"temperature": 25, "altitude": 300},
        "runs": [{"id": "a", "into": None, "diameter": 125, "length": 6.3, "duct": "spiral-galvanized",
                  "hood": {"entry": {"type": "flanged-opening"}}}],
        "collector": {"fan": {"curve": [{"flow": 0, "pressure": 2000}, {"flow": 3000, "pressure": 0}],
                              "rated_as": "inlet-static", "inlet_diameter": 125}},
    }  # fmt: skip
    first = ask("operating-point", body)
    assert same(first, ask("operating-point", sent_back(first)), 1.0e-12)


def test_every_tree_question_resolves():
    answer = ask("strength", DEMO | {"resolved": True})
    assert sent_back(answer)["air"]["density"] == pytest.approx(answer.air.density, rel=1.0e-15)


def test_known_gate_coefficients_hold_at_just_their_openings():
    gate = DEMO["runs"][7]["gate"] | {"known": [{"opening": 1.0, "coefficient": 0.0}]}
    body = DEMO | {"runs": [run | ({"gate": gate} if run["id"] == "planer" else {}) for run in DEMO["runs"]]}
    loss = next(run.gate_loss for run in ask("operating-point", body).runs if run.id == "planer")
    assert loss == 0.0
    assert catalogue.gate_loss(1.0).coefficient > 0.0


def test_leaking_runs_come_back_with_the_same_flows():
    body = DEMO | {"resolved": True, "runs": [run | {"leakage_class": leaky()} for run in DEMO["runs"]]}
    first = ask("operating-point", body)
    back = sent_back(first)
    assert all("leakage_class" not in run and run["leak"]["coefficient"] > 0.0 for run in back["runs"])
    assert first.runs[0].flow_upstream < first.runs[0].flow
    assert same(first, ask("operating-point", back), 1.0e-12)


def leaky() -> str:
    return all_leakage_classes()[-1].id


def test_gates_keep_their_coefficients_in_every_state_of_the_request(monkeypatch):
    """A later catalogue may say otherwise of gates; the request resolved no longer asks it."""
    states = [{"name": "half", "openings": {"planer": 0.4}}, {"name": "throttled", "open": ["planer"]}]
    body = DEMO | {"resolved": True, "detail": "runs", "states": states, "openings": {"planer": 0.6}}
    first = ask("gate-states", body)
    right = catalogue.gate_loss
    monkeypatch.setattr(packing, "_catalogued", packing._catalogued.__wrapped__)  # what was asked before is not kept
    monkeypatch.setattr(catalogue, "gate_loss", lambda opening: replace(right(opening), coefficient=9.0))
    again = ask("gate-states", sent_back(first))
    for one, two in zip(first.states, again.states, strict=True):
        assert same(one, two, 1.0e-12), one.name
    assert not same(first.states[1], ask("gate-states", body).states[1], 1.0e-3)


def test_gates_keep_their_coefficients_at_the_openings_of_a_day(monkeypatch):
    day = [{"machine": "planer", "opening": 0.45, "times": [{"on": 0, "off": 60}]}]
    first = ask("working-day", DEMO | {"resolved": True, "machines": day, "duration": 60})
    right = catalogue.gate_loss
    monkeypatch.setattr(packing, "_catalogued", packing._catalogued.__wrapped__)  # what was asked before is not kept
    monkeypatch.setattr(catalogue, "gate_loss", lambda opening: replace(right(opening), coefficient=9.0))
    assert same(first, ask("working-day", sent_back(first)), 1.0e-12)


def test_more_openings_than_a_document_has_room_for_are_not_resolved():
    states = [{"name": f"state {k}", "openings": {"planer": 0.1 + 0.001 * k}} for k in range(101)]
    ask("gate-states", DEMO | {"states": states})
    with pytest.raises(Refusal) as caught:
        ask("gate-states", DEMO | {"resolved": True, "states": states})
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [("resolved", "too-many-states")]
