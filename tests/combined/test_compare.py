"""Two trees by run id."""

from __future__ import annotations

import copy
import json
from typing import Any

import msgspec
import pytest

from airbough_service.terms.refusal import Refusal
from site_shop import ask, faults, shop


def pair(**changes: Any) -> dict[str, Any]:
    before, after = shop(), shop()
    return {"units": "us", "before": before, "after": after} | changes


def test_a_tree_beside_itself_differs_in_nothing():
    answer = ask("compare", pair())
    assert answer.question == "operating-point"
    assert answer.runs_added == answer.runs_removed == answer.findings_gained == answer.findings_lost == ()
    for run in answer.runs:
        assert run.difference.flow == run.difference.velocity == run.difference.static_pressure == 0.0
    assert answer.before == answer.after


def test_each_side_is_what_the_question_alone_answers():
    body = pair()
    body["after"]["runs"][1]["gate"]["opening"] = 0.0
    answer = ask("compare", body)
    for name in ("before", "after"):
        alone = ask("operating-point", body[name])
        side = getattr(answer, name)
        assert side.flow == alone.system.flow
        assert side.fan_static_pressure == alone.system.fan_static_pressure
        for run in alone.runs:
            (own,) = [item for item in answer.runs if item.id == run.id]
            assert getattr(own, name).flow == run.flow
    (saw,) = [run for run in answer.runs if run.id == "saw"]
    assert saw.difference.flow == pytest.approx(-saw.before.flow)
    assert {finding.code for finding in answer.findings_gained} <= {finding.code for finding in answer.findings}


def test_runs_added_and_removed_and_the_order_of_rows():
    body = pair()
    body["after"]["runs"].reverse()
    body["after"]["runs"] = [run for run in body["after"]["runs"] if run["id"] != "saw"]
    body["after"]["runs"].append(
        {"id": "lathe", "into": "main", "join": {"type": "branch", "angle": 30}, "diameter": 4, "length": 5,
         "duct": "spiral-galvanized", "hood": {"flow": 350, "entry": {"type": "plain-opening"}}}
    )  # fmt: skip
    answer = ask("compare", body)
    assert answer.runs_added == ("lathe",)
    assert answer.runs_removed == ("saw",)
    by_id = {run.id: run for run in answer.runs}
    assert by_id["lathe"].before is None
    assert by_id["lathe"].difference is None
    assert by_id["saw"].after is None
    assert by_id["planer"].difference is not None
    assert {hood.run for hood in answer.hoods} == {"saw", "planer", "lathe"}


def test_findings_do_not_change_with_the_order_of_rows():
    body = pair()
    body["after"]["runs"].reverse()
    answer = ask("compare", body)
    assert answer.findings_gained == answer.findings_lost == ()
    assert answer.findings


def test_findings_gained_are_lost_the_other_way_round():
    body = pair()
    body["after"]["runs"][2]["diameter"] = 8
    body["after"]["runs"][2]["join"] = {"type": "straight"}
    one = ask("compare", body)
    two = ask("compare", body | {"before": body["after"], "after": body["before"]})
    assert one.findings_gained or one.findings_lost

    def codes(findings: Any) -> list[tuple[str, str]]:
        return [(finding.code, finding.run) for finding in findings]

    assert codes(one.findings_gained) == codes(two.findings_lost)
    assert codes(one.findings_lost) == codes(two.findings_gained)


def test_each_tree_is_read_in_its_own_units():
    body = pair()
    metric = copy.deepcopy(body["after"])
    metric["units"] = "metric"
    for run in metric["runs"]:
        run["diameter"], run["length"] = run["diameter"] * 25.4, run["length"] * 0.3048
        if "taper_length" in run.get("join", {}):
            run["join"]["taper_length"] *= 25.4
        if "hood" in run:
            run["hood"]["flow"] = f"{run['hood']['flow']} cfm"
    for point in metric["collector"]["fan"]["curve"]:
        point["flow"], point["pressure"] = f"{point['flow']} cfm", f"{point['pressure']} inH2O"
    answer = ask("compare", body | {"after": metric})
    assert answer.units["flow"] == "ft^3/min"
    for run in answer.runs:
        assert run.difference.flow == pytest.approx(0.0, abs=1.0e-6)
    assert answer.findings_gained == answer.findings_lost == ()


def test_without_a_fan_the_balances_are_compared():
    body = pair()
    del body["before"]["collector"]
    body["after"]["runs"][0]["length"] = 28
    answer = ask("compare", body)
    assert answer.question == "balance"
    alone = ask("balance", body["after"])
    assert answer.after.fan_static_pressure == alone.system.required.fan_static_pressure
    assert answer.after.fan_static_pressure > answer.before.fan_static_pressure
    assert answer.before.outcome is None


def test_several_fans_on_both():
    body = pair()
    fan = body["before"]["collector"]["fan"]
    body["fans"] = [{"name": "as it is", "fan": fan}, {"name": "slower", "fan": fan | {"speed_ratio": 0.8}}]
    body["after"]["runs"][0]["length"] = 40
    answer = ask("compare", body)
    assert [one.fan for one in answer.fans] == ["as it is", "slower"]
    assert answer.fans[0].before.flow == pytest.approx(answer.before.flow)
    assert answer.fans[0].after.flow == pytest.approx(answer.after.flow)
    assert answer.fans[1].before.flow == pytest.approx(0.8 * answer.fans[0].before.flow, rel=0.01)  # fan laws


def test_faults_of_both_trees_come_at_once_with_their_paths():
    body = pair()
    body["before"]["runs"][1]["duct"] = "spiral"
    body["after"]["runs"][2]["into"] = "nowhere"
    with pytest.raises(Refusal) as refused:
        ask("compare", body)
    assert faults(refused.value) == {
        "before.runs[1].duct": "unknown-word",
        "after.runs[2].into": "dangling-into",
    }


def test_what_belongs_to_one_tree_is_refused():
    body = pair()
    body["before"]["explain"] = True
    with pytest.raises(Refusal) as refused:
        ask("compare", body)
    assert faults(refused.value) == {"before.explain": "not-for-this-question"}


def test_the_answer_travels():
    assert json.loads(msgspec.json.encode(ask("compare", pair())))["question"] == "operating-point"
