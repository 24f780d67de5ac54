"""A fault is planted in the tree, readings are taken from it, and the diagnosis has to find it."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from airbough_service.terms.refusal import Refusal
from random_documents import document
from site_shop import ask, faults

DEMO = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text("utf-8"))
PLACES: tuple[tuple[str, str | None], ...] = (
    ("static-pressure", "main"),
    ("static-pressure", "main-2"),
    ("static-pressure", "main-3"),
    ("static-pressure", "south"),
    ("static-pressure", "planer"),
    ("static-pressure", "band-saw"),
    ("hood-static-pressure", "planer"),
    ("hood-static-pressure", "band-saw"),
    ("velocity", "main"),
    ("fan-static-pressure", None),
)


def run_of(body: dict[str, Any], word: str) -> dict[str, Any]:
    return next(run for run in body["runs"] if run["id"] == word)


def read(body: dict[str, Any], places: Any = PLACES, spread: float = 0.02) -> list[dict[str, Any]]:
    """Return readings without noise from a tree."""
    answer = ask("operating-point", body)
    runs, hoods = {run.id: run for run in answer.runs}, {hood.run: hood for hood in answer.hoods}
    out = []
    for quantity, run in places:
        if run is None:
            value = answer.system.fan_static_pressure
        elif quantity == "hood-static-pressure":
            value = hoods[run].static_pressure
        else:
            value = getattr(runs[run], quantity.replace("-", "_"))
        out.append({"quantity": quantity, "value": value, "spread": spread} | ({} if run is None else {"run": run}))
    return out


def diagnose(readings: list[dict[str, Any]], body: dict[str, Any] = DEMO, **more: Any) -> Any:
    return ask("diagnosis", body | {"readings": readings, "state": "as-document"} | more)


def faulty(word: str, **changes: Any) -> dict[str, Any]:
    body = copy.deepcopy(DEMO)
    run_of(body, word).update(changes)
    return body


def test_nothing_amiss_where_the_readings_agree():
    answer = diagnose(read(DEMO))
    assert answer.outcome == "readings-agree"
    assert answer.chi_square == pytest.approx(0.0, abs=1.0e-12)
    assert answer.suspects == ()
    assert all(abs(reading.deviation) < 1.0e-9 for reading in answer.readings)


def test_nothing_amiss_within_the_spreads():
    readings = read(DEMO)
    for k, reading in enumerate(readings):
        reading["value"] *= 1.0 + 0.01 * (-1) ** k
    answer = diagnose(readings)
    assert answer.outcome == "readings-agree"
    assert 0.0 < answer.chi_square < answer.chi_square_limit


@pytest.mark.parametrize("coefficient", [0.8, 3.0, 25.0])
@pytest.mark.parametrize("word", ["planer", "band-saw", "main-2"])
def test_a_blockage_is_found_and_measured(word, coefficient):
    body = copy.deepcopy(DEMO)
    run = run_of(body, word)
    known = {"type": "known-coefficient", "coefficient": coefficient}
    run["fittings"] = [*run.get("fittings", []), known]
    answer = diagnose(read(body, spread=0.005))
    first = answer.suspects[0]
    assert answer.outcome == "suspects"
    assert (first.suspect, first.run) == ("added-resistance", word)
    assert first.change == pytest.approx(coefficient, rel=0.01)
    assert first.low < coefficient < (first.high or 1.0e9)
    assert first.remaining == pytest.approx(0.0, abs=1.0e-6)
    assert first.plausible
    assert first.telling


def test_a_gate_further_shut_is_told_as_its_opening():
    body = copy.deepcopy(DEMO)
    run_of(body, "planer")["gate"]["opening"] = 0.6
    first = diagnose(read(body)).suspects[0]
    assert (first.suspect, first.run) == ("added-resistance", "planer")
    assert first.gate_opening == pytest.approx(0.6, rel=0.01)


@pytest.mark.parametrize("opening", [0.25, 1.0])
def test_a_gate_left_open_is_found(opening):
    body = copy.deepcopy(DEMO)
    run_of(body, "router-table")["gate"]["opening"] = opening
    places = (*PLACES, ("static-pressure", "north"), ("static-pressure", "router-table"), ("flow", "router-table"))
    answer = diagnose(read(body, places))
    first = answer.suspects[0]
    assert (first.suspect, first.run, first.quantity) == ("gate", "router-table", "opening")
    assert first.change == pytest.approx(opening, rel=0.01)


def test_a_leak_is_found_and_measured():
    # The leak is planted by the caller's own number: the run's wall leaks c p^0.5.
    body = faulty("planer", leak={"coefficient": 0.0025, "exponent": 0.5})
    answer = diagnose(read(body, spread=0.005))
    planted = next(run for run in ask("operating-point", body).runs if run.id == "planer")
    first = answer.suspects[0]
    assert (first.suspect, first.run, first.unit) == ("leak", "planer", "ft^3/min")
    assert first.change == pytest.approx(planted.flow - planted.flow_upstream, rel=0.01)


def test_a_loaded_filter_is_found_beside_the_cyclone_that_looks_alike():
    body = copy.deepcopy(DEMO)
    body["collector"]["losses"][1]["pressure"] *= 4.0
    answer = diagnose(read(body, spread=0.003))
    by_loss = {suspect.loss: suspect for suspect in answer.suspects}
    assert by_loss["filter"].change == pytest.approx(4.0, rel=0.01)
    assert by_loss["filter"].plausible
    pair = {answer.suspects[k].loss for k in (answer.not_told_apart[0].first, answer.not_told_apart[0].second)}
    assert pair == {"filter", "cyclone"}
    # In one state of the gates the flow through both is one: no reading in the duct parts them.
    assert answer.not_told_apart[0].next_reading is None


def test_a_slow_fan_is_found():
    body = copy.deepcopy(DEMO)
    body["collector"]["fan"]["speed_ratio"] = 0.8
    first = diagnose(read(body, spread=0.003)).suspects[0]
    assert (first.suspect, first.run) == ("fan-speed", None)
    assert first.change == pytest.approx(0.8, rel=0.01)


def test_a_reading_may_scale_the_fan():
    body = copy.deepcopy(DEMO)
    body["collector"]["fan"]["speed_ratio"] = 0.85
    run_of(body, "band-saw")["fittings"].append({"type": "known-coefficient", "coefficient": 5.0})
    exact = copy.deepcopy(DEMO)
    readings = read(body)
    readings[-1]["scales_fan"] = True
    answer = diagnose(readings, exact)
    assert answer.fan_speed_ratio is not None
    assert answer.readings[-1].computed == pytest.approx(answer.readings[-1].value, rel=1.0e-9)
    assert answer.suspects[0].run == "band-saw"
    assert all(suspect.suspect != "fan-speed" for suspect in answer.suspects)


def test_pairs_that_the_readings_cannot_part_are_named_and_the_next_reading_parts_them():
    # `south` carries only the planer here: taps up- and downstream of both cannot tell in which of the two it sits.
    body = copy.deepcopy(DEMO)
    run_of(body, "planer")["fittings"].append({"type": "known-coefficient", "coefficient": 3.0})
    places = [place for place in PLACES if place != ("static-pressure", "planer")]
    answer = diagnose(read(body, places))
    pair = answer.not_told_apart[0]
    assert {answer.suspects[pair.first].run, answer.suspects[pair.second].run} == {"planer", "south"}
    assert pair.alike == pytest.approx(1.0, abs=1.0e-3)
    assert "suspects-not-told-apart" in [finding.code for finding in answer.findings]
    following = pair.next_reading
    assert (following.quantity, following.run) == ("static-pressure", "planer")
    again = diagnose(read(body, [*places, (following.quantity, following.run)]))
    assert again.suspects[0].run == "planer"
    assert all(
        "south" not in (again.suspects[pair.first].run, again.suspects[pair.second].run)
        for pair in again.not_told_apart
    )


def test_the_answer_says_what_it_cannot_explain():
    readings = read(DEMO, spread=0.01)
    for reading, factor in zip(readings, (2.0, 0.5, 2.0, 0.5, 1.0, 3.0, 0.3, 1.0, 1.0, 1.0), strict=True):
        reading["value"] *= factor
    answer = diagnose(readings)
    assert answer.outcome == "not-explained"
    assert "readings-not-explained" in [finding.code for finding in answer.findings]


def test_a_distance_reads_along_the_run():
    answer = ask("operating-point", DEMO)
    (main,) = [run for run in answer.runs if run.id == "main"]
    half = {"quantity": "static-pressure", "run": "main", "distance": 6, "value": -1.0}
    whole = half | {"distance": 12}
    told = diagnose([half, whole]).readings
    assert told[1].computed == pytest.approx(main.static_pressure)
    assert told[0].computed - told[1].computed == pytest.approx((main.friction_loss + main.fitting_loss) / 2.0)


def test_the_state_sets_the_gates():
    readings = read(DEMO)
    named = {"open": ["planer", "band-saw"]}
    one, two = diagnose(readings), diagnose(readings, state=named)
    assert [reading.computed for reading in one.readings] == [reading.computed for reading in two.readings]
    wrong = diagnose(readings, state={"open": ["planer", "band-saw", "table-saw"]})
    assert wrong.outcome != "readings-agree"


def test_the_state_is_required():
    import msgspec

    with pytest.raises(msgspec.ValidationError, match="state"):
        ask("diagnosis", DEMO | {"readings": read(DEMO)})


def test_suspects_may_be_named():
    body = copy.deepcopy(DEMO)
    run_of(body, "planer")["fittings"].append({"type": "known-coefficient", "coefficient": 3.0})
    answer = diagnose(read(body), suspects=["south", "main"])
    assert {suspect.run for suspect in answer.suspects if suspect.run} <= {"south", "main"}


def test_every_fault_of_the_readings_comes_at_once():
    readings = [
        {"quantity": "static-pressure", "run": "nowhere", "value": -1},
        {"quantity": "static-pressure", "run": "main", "value": 2},
        {"quantity": "static-pressure", "run": "main", "value": -2, "distance": 400},
        {"quantity": "hood-static-pressure", "run": "main", "value": -2},
        {"quantity": "flow", "run": "main", "value": 0},
        {"quantity": "flow", "run": "main", "value": 800, "scales_fan": True},
        {"quantity": "flow", "run": "main", "value": 800, "scales_fan": True},
    ]
    with pytest.raises(Refusal) as refused:
        diagnose(readings, suspects=["none"])
    assert faults(refused.value) == {
        "readings[0].run": "unknown-run",
        "readings[1].value": "suction-is-negative",
        "readings[2].distance": "beyond-run",
        "readings[3].run": "no-hood",
        "readings[4].value": "reading-of-zero",
        "readings[6].scales_fan": "two-readings-scale-fan",
        "suspects[0]": "unknown-run",
    }


def test_a_state_without_flow_or_with_unknown_gates_is_refused():
    with pytest.raises(Refusal) as refused:
        diagnose(read(DEMO), state={"open": ["lathe"]})
    assert faults(refused.value) == {"state.open[0]": "unknown-machine"}


def test_no_answer_speaks_of_safety():
    text = str(diagnose(read(DEMO)))
    assert all(word not in text.lower() for word in ("approved", "compliant", " ok "))


@pytest.mark.parametrize("seed", range(8))
def test_blockages_in_random_trees_explain_their_readings(seed):
    body = document(seed)
    healthy = ask("operating-point", body)
    flowing = [run.id for run in healthy.runs if run.flow > 0.0]
    ill = copy.deepcopy(body)
    target = flowing[seed % len(flowing)]
    run = run_of(ill, target)
    if run.get("gate", {}).get("opening") == 0.0:
        return
    run["fittings"] = [{"type": "known-coefficient", "coefficient": 4.0}, *run.get("fittings", [])]
    places = [("static-pressure", word) for word in flowing] + [("flow", word) for word in flowing]
    answer = diagnose(read(ill, places, spread=0.003), body)
    mine = [s for s in answer.suspects if (s.suspect, s.run) == ("added-resistance", target)]
    assert mine
    assert mine[0].plausible
    assert mine[0].change == pytest.approx(4.0, rel=0.01)


def test_the_explanation_is_that_of_the_measured_state():
    answer = diagnose(read(DEMO), state={"open": ["band-saw", "router-table"]}, explain=True)
    speeds = {term.run: term.value for term in answer.explanation if term.term == "velocity"}
    for run in answer.runs:
        if run.flow > 0.0:
            assert speeds[run.id] == pytest.approx(run.velocity, rel=1.0e-12)


def test_more_suspects_than_are_looked_at_are_refused():
    body = copy.deepcopy(DEMO)
    for k in range(150):
        into = f"more-{k + 1}" if k < 149 else None
        body["runs"].append({"id": f"more-{k}", "into": into, "diameter": 5, "length": 3, "duct": "smooth-plastic"})
    body["runs"][-150]["hood"] = {"entry": {"type": "plain-opening"}}
    readings = [{"quantity": "flow", "run": "main", "value": 900}]
    with pytest.raises(Refusal) as refused:
        diagnose(readings, body)
    assert faults(refused.value) == {"suspects": "too-many-suspects"}
    assert diagnose(readings, body, suspects=["main", "planer"]).readings
