"""Single sentences of the contract, each tried as a caller would see it."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest

import airbough
from airbough.wire.answer import Finding
from airbough_service.terms import codes
from airbough_service.terms.finding import ordered

CLIENT = airbough.local()
SHOP = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text())


def one_run(**changes: Any) -> dict[str, Any]:
    """Return one run to a fan, in us units."""
    hood = {"flow": 800, "entry": {"type": "known-coefficient", "coefficient": 0.5}}
    run = {"id": "run", "into": None, "diameter": 6, "length": 40, "duct": "spiral-galvanized", "hood": hood}
    curve = [{"flow": 0, "pressure": 10}, {"flow": 2000, "pressure": 2}]
    fan = {"curve": curve, "interpolation": "linear", "rated_as": "fan-static"}
    return {"units": "us", "dust": "sawdust", "runs": [run], "collector": {"fan": fan}, **changes}


def faults(ask: Any, document: dict[str, Any]) -> dict[str, str]:
    """Return path -> detail of a refusal."""
    with pytest.raises(airbough.Refused) as caught:
        ask(document)
    return {fault.path: fault.detail for fault in caught.value.problem.errors}


def test_faults_of_fan_runs_and_words_are_told_at_once() -> None:
    document = copy.deepcopy(SHOP)
    del document["collector"]["fan"]["includes"]
    document["collector"]["fan"]["rated_as"] = "inlet-static"
    document["runs"][0]["rise"] = 100
    document["runs"][7]["duct"] = "spiral-galvanised"
    document["runs"][12]["hood"]["dust"] = "shaving"
    told = faults(CLIENT.operating_point, document)
    assert set(told) == {
        "collector.fan.inlet_diameter",
        "collector.fan.includes",
        "runs[0].rise",
        "runs[7].duct",
        "runs[12].hood.dust",
    }


def test_faults_of_the_fans_to_compare_are_told_with_those_of_the_tree() -> None:
    document = one_run(
        fans=[{"name": "a", "fan": {"curve": [{"flow": 5, "pressure": 1}] * 2, "rated_as": "fan-total"}}]
    )
    document["runs"][0]["duct"] = "no-such-duct"
    told = faults(CLIENT.operating_point, document)
    assert set(told) == {"fans[0].fan.curve[1].flow", "fans[0].fan.outlet_diameter", "runs[0].duct"}


@pytest.mark.parametrize(
    ("preset", "bore", "hole", "said"), [("us", 4, 5, "0 to 4 in"), ("metric", 100, 120, "0 to 100 mm")]
)
def test_limits_are_told_in_the_preset_and_at_a_field_of_the_document(preset, bore, hole, said) -> None:
    document = one_run(units=preset)
    document["runs"][0] |= {"diameter": bore}
    document["runs"][0]["hood"]["entry"] = {"type": "sharp-orifice", "orifice_diameter": hole}
    ((path, detail),) = faults(CLIENT.operating_point, document).items()
    assert path == "runs[0].hood.entry.orifice_diameter"
    assert said in detail


def test_a_motor_of_next_to_no_power_is_refused_in_the_presets_unit() -> None:
    document = one_run()
    document["collector"] |= {"efficiency": 0.5, "motor": {"rated_power": 1e-9}}
    ((path, detail),) = faults(CLIENT.operating_point, document).items()
    assert path == "collector.motor.rated_power"
    assert detail.endswith("hp")


def test_gates_that_are_shut_and_leak_are_a_danger_too() -> None:
    """The duct sees nearly the fan's full suction, whether nothing flows or what leaks past the gates."""
    document = copy.deepcopy(SHOP)
    for run in document["runs"]:
        if "gate" in run:
            run["gate"] = {"opening": 0.0, "leakage": 0.01}
    answer = CLIENT.operating_point(document)
    assert answer.outcome == "operating-point"
    assert answer.findings[0].code == "all-gates-shut"
    document["runs"][7]["gate"]["opening"] = 1.0
    assert "all-gates-shut" not in {item.code for item in CLIENT.operating_point(document).findings}
    states = CLIENT.gate_states({**document, "up_to": 1})
    first = states.states[0]
    assert first.findings[0] == "all-gates-shut"
    assert not first.holds
    assert states.findings[0].code == "all-gates-shut"
    assert f"in 1 of {states.system.states} states" in states.findings[0].message


def test_a_balance_of_more_suction_than_one_density_answers_is_refused() -> None:
    document = one_run()
    document["runs"][0]["hood"]["flow"] = 5000
    told = faults(CLIENT.balance, document)
    assert list(told) == ["runs[0]"]
    assert "above 60 in. wg" in told["runs[0]"]
    document["runs"][0]["hood"]["flow"] = 2500
    assert "compressibility-neglected" in {item.code for item in CLIENT.balance(document).findings}


def test_the_power_law_answers_after_the_fan_only_where_its_constants_are_published() -> None:
    document = one_run(model={"friction": "power-law"})
    document["collector"]["discharge"] = [{"diameter": 6, "length": 20, "duct": "planed-wood"}]
    assert list(faults(CLIENT.operating_point, document)) == ["collector.discharge[0].duct"]


def test_power_law_friction_after_the_fan_by_hand() -> None:
    """Velocity pressures a foot: 0.0307 V^0.533 / Q^0.612 (velocity-pressure work sheet); then one VP is lost."""
    document = one_run(model={"friction": "power-law"}, resolved=True)
    document["collector"]["discharge"] = [{"diameter": 6, "length": 20, "duct": "spiral-galvanized"}]
    answer = CLIENT.operating_point(document)
    (run,) = answer.runs
    per_foot = 0.0307 * run.velocity**0.533 / run.flow**0.612
    assert answer.system.discharge_loss == pytest.approx(per_foot * 20 * run.velocity_pressure, rel=1e-9)
    assert CLIENT.operating_point(answer.resolved).system.flow == pytest.approx(answer.system.flow, rel=1e-12)
    assert "vp-work-sheet" in {source.id for source in answer.sources}
    assert "ashrae-hof-2021-ch21" not in {source.id for source in answer.sources}  # its roughness was not used


def test_a_power_law_beyond_its_velocities_is_told() -> None:
    """Constants for 1000 to 6000 ft/min (velocity-pressure work sheet)."""
    document = one_run(model={"friction": "power-law"})
    document["collector"]["fan"]["curve"][0]["pressure"] = 40
    items = CLIENT.operating_point(document).findings
    found = next(item for item in items if item.code == "outside-correlation-range")
    assert (found.quantity, found.limit, found.unit) == ("velocity", pytest.approx(6000.0), "ft/min")


def test_findings_are_in_the_order_of_severity_document_and_code() -> None:
    places = [
        ("danger", "collector.fan.speed_ratio", "fan-above-rated-speed"),
        ("note", "dust", "transport-not-judged"),
        ("note", "runs[2].fittings[2]", "sharp-turn"),
        ("note", "runs[2].fittings[10]", "sharp-turn"),
        ("note", "runs[10].duct", "close-coupled"),
        ("note", "runs[10].duct", "stretch-assumed"),
        ("note", "collector.power", "power-beyond-points"),
        ("note", "states[0]", "fix-not-searched"),
    ]
    items = [Finding(code=code, severity=severity, at=at, message="") for severity, at, code in places]  # type: ignore[arg-type]
    assert list(ordered(reversed(items))) == items


def test_a_fan_to_compare_that_is_beyond_its_curve_is_told_as_the_first_would_be() -> None:
    short = {"curve": [{"flow": 0, "pressure": 10}, {"flow": 100, "pressure": 9}], "rated_as": "fan-static"}
    fast = {**one_run()["collector"]["fan"], "speed_ratio": 1.2}
    answer = CLIENT.operating_point(one_run(fans=[{"name": "short", "fan": short}, {"name": "fast", "fan": fast}]))
    assert answer.fans[0].outcome == "beyond-fan-curve"
    assert answer.fans[0].fan_static_pressure is None  # as `system` of such an answer
    assert answer.fans[1].findings[0] == "fan-above-rated-speed"


def test_a_fan_to_compare_that_overloads_the_motor_is_told() -> None:
    document = one_run()
    document["collector"] |= {"efficiency": 0.5, "motor": {"rated_power": 0.5}}
    strong, weak = document["collector"]["fan"], {**document["collector"]["fan"], "speed_ratio": 0.3}
    answer = CLIENT.operating_point({**document, "fans": [{"name": "a", "fan": strong}, {"name": "b", "fan": weak}]})
    assert ["motor-overloaded" in fan.findings for fan in answer.fans] == [True, False]


def test_a_spacing_within_a_millionth_of_its_limit_holds() -> None:
    """Two bends that leave three stretches of 6 bores each: 6 bores is the catalogue's spacing."""
    document = one_run()
    bend = {"type": "elbow", "angle": 45, "radius_ratio": 1.5}
    document["runs"][0] |= {"length": 3 * 6 * 0.5, "fittings": [bend, bend]}
    assert "close-coupled" not in {item.code for item in CLIENT.operating_point(document).findings}
    document["runs"][0]["length"] *= 0.999
    assert "close-coupled" in {item.code for item in CLIENT.operating_point(document).findings}


def test_what_other_sources_say_can_be_read() -> None:
    """Where editions differ both are kept: the answer of the lists holds them, and why the default was taken."""
    ducts = {duct.id: duct for duct in CLIENT.ducts({"units": "metric"}).ducts}
    assert [other.roughness for other in ducts["spiral-galvanized"].others] == pytest.approx([0.12, 0.15])
    assert ducts["spiral-galvanized"].default_because
    assert ducts["flexible-duct"].others[0].multiplier_high == 10.0
    answer = CLIENT.hoods({"units": "us"})
    saw = next(machine for machine in answer.machines if machine.id == "table-saw")
    assert [round(other.flow) for other in saw.others if not other.flow_read] == [350, 440]
    assert any(other.passport.source == "trgs-553-2008" for other in saw.others)
    assert {other.passport.source for other in saw.others} <= {source.id for source in answer.sources}
    elbow = CLIENT.fitting("elbow", {"units": "us"}).fitting
    assert {parameter.name: parameter.default for parameter in elbow.parameters}["radius_ratio"] == 1.5


def test_a_velocity_check_says_what_would_fix_it() -> None:
    answer = CLIENT.velocity_check({"units": "us", "flow": 200, "diameter": 4, "dust": "shavings"})
    (found,) = answer.findings
    assert found.suggestion is not None
    assert "3.05 in" in found.suggestion.text  # 4 in * sqrt(2292 / 3937), by hand
    assert "344 cfm" in found.suggestion.text  # 200 * 3937 / 2292


def test_every_answer_with_runs_tells_the_system() -> None:
    """Flow and the deepest static pressure at the collector's inlet are those of the operating point."""
    document = copy.deepcopy(SHOP)
    expected = CLIENT.operating_point(document)
    whole = (expected.system.flow, expected.system.inlet_static_pressure)
    room = CLIENT.make_up_air({**document, "collector_stands": "outdoors", "room": {"volume": 6000}})
    reading = {"run": "main", "quantity": "flow", "value": expected.system.flow, "spread": 0.05}
    found = CLIENT.diagnosis({**document, "state": {"open": ["planer", "band-saw"]}, "readings": [reading]})
    for answer in (room, found, CLIENT.strength(document)):
        assert answer.system is not None
        assert (answer.system.flow, answer.system.inlet_static_pressure) == pytest.approx(whole, rel=1e-9)
    assert CLIENT.strength({**document, "suction": 5}).system is None


def test_every_code_of_the_table_is_written_where_findings_are_made() -> None:
    """A code that no check names would promise what is not made; that each is raised: tests/long/test_every_code.py."""
    service = Path(codes.__file__).parents[1]
    files = [file for file in service.rglob("*.py") if not file.name.startswith("codes")]
    text = "".join(file.read_text(encoding="utf-8") for file in files)
    assert [code for code in codes.CODES if f'"{code}"' not in text] == []


def test_a_machine_that_throws_sparks_is_a_danger() -> None:
    document = copy.deepcopy(SHOP)
    document["runs"][7]["hood"]["machine"] = "bench-grinder"
    first = CLIENT.operating_point(document).findings[0]
    assert (first.code, first.severity, first.at) == ("sparks-into-wood-dust", "danger", "runs[7].hood.machine")


def two_branches(loss: float, gate: dict[str, Any] | None) -> dict[str, Any]:
    """Return two lossless runs of known entries that meet without loss; the second is `loss` times as easy."""
    run: dict[str, Any] = {"into": "main", "diameter": 4, "length": 0, "roughness": 0}
    entry = {"type": "known-coefficient"}
    runs = [
        {"id": "main", "into": None, "diameter": 6, "length": 0, "roughness": 0},
        {**run, "id": "hard", "join": {"type": "straight"},
         "hood": {"flow": 400, "entry": {**entry, "coefficient": 2}}},
        {**run, "id": "easy", "join": {"type": "branch", "angle": 45}, "gate": gate,
         "hood": {"flow": 400, "entry": {**entry, "coefficient": 2 / loss}}},
    ]  # fmt: skip
    return {"units": "us", "model": {"junctions": "none"}, "runs": runs}


def test_a_branch_that_must_absorb_and_has_no_gate() -> None:
    """By hand: 400 ft3/min in 4 in are 1.306 inH2O of velocity pressure (1.2 kg/m3); one of it is missing."""
    document = two_branches(2.0, None)
    found = next(item for item in CLIENT.balance(document).findings if item.code == "gate-needed")
    assert (found.run, found.unit, found.value) == ("easy", "inH2O", pytest.approx(1.30602, rel=1e-5))
    with_gate = two_branches(2.0, {"opening": 1.0})
    assert "gate-needed" not in {item.code for item in CLIENT.balance(with_gate).findings}


def test_a_branch_too_far_from_balance_is_to_be_resized() -> None:
    """Ratio 2: without friction the velocity pressure must double, 4 in (1/2)^0.25 = 3.364 in; that bore balances."""
    document = {**two_branches(2.0, None), "by": "flow"}
    answer = CLIENT.balance(document)
    found = next(item for item in answer.findings if item.code == "resize-branch")
    assert (found.run, found.value, found.limit) == ("easy", pytest.approx(2.0), pytest.approx(1.2))
    easy = next(branch for branch in answer.branches if branch.run == "easy")
    assert easy.diameter == pytest.approx(4.0 * 0.5**0.25, rel=1e-6)
    document["runs"][2]["diameter"] = easy.diameter
    resized = next(branch for branch in CLIENT.balance(document).branches if branch.run == "easy")
    assert resized.ratio == pytest.approx(1.0, abs=1e-6)


def test_a_fan_whose_curve_dips_is_met_more_than_once_and_that_is_told() -> None:
    """By hand: 3 velocity pressures of 4 in are 2.2 inH2O at 300 cfm and 5.0 at 450, where the curve has 2 and 8.5."""
    document = one_run()
    entry = {"type": "known-coefficient", "coefficient": 3.0}
    document["runs"][0] |= {"diameter": 4, "length": 0, "hood": {"flow": 300, "entry": entry}}
    points = [(0, 9), (300, 2), (450, 8.5), (900, 8), (2000, 1)]
    document["collector"]["fan"]["curve"] = [{"flow": flow, "pressure": pressure} for flow, pressure in points]
    answer = CLIENT.operating_point(document)
    assert answer.outcome == "several-operating-points"
    assert [crossing.stable for crossing in answer.system.crossings] == [True, False, True]
    found = next(item for item in answer.findings if item.code == "several-operating-points")
    assert found.value == 3.0
