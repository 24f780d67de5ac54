"""A run's path gives what its length, rise and elbows would, told by hand; what disagrees is told."""

from __future__ import annotations

import copy
from typing import Any

import msgspec
import pytest

from airbough_service.terms.refusal import Refusal
from asking import ask

SHOP: dict[str, Any] = {
    "units": "us",
    "dust": "shavings",
    "collector": {
        "fan": {"curve": [{"flow": 0, "pressure": 12}, {"flow": 1500, "pressure": 5}], "rated_as": "fan-static"}
    },
    "runs": [
        # from the collector 3 ft up, 10 ft along the wall, round the corner for 4 ft: two turns of 90 degrees
        {"id": "main", "into": None, "diameter": 6, "duct": "spiral-galvanized",
         "path": [[0, 0, 5], [0, 0, 8], [10, 0, 8], [10, 4, 8]]},
        # straight on, then 4 ft down to the planer
        {"id": "planer", "into": "main", "diameter": 6, "duct": "spiral-galvanized",
         "join": {"type": "straight"}, "hood": {"machine": "planer", "flow": 785, "entry": {"type": "plain-opening"}},
         "path": [[10, 4, 8], [10, "6 ft", 8], [10, 6, 4]]},
        {"id": "saw", "into": "main", "diameter": 4, "duct": "flexible-hose-ribbed", "stretch": 1,
         "join": {"type": "branch", "angle": 45}, "length": 5,
         "hood": {"machine": "table-saw", "flow": 400, "entry": {"type": "plain-opening"}}},
    ],
}  # fmt: skip
ELBOW = {"type": "elbow", "angle": 90, "radius_ratio": 1.5}


def by_hand() -> dict[str, Any]:
    """The same shop with lengths, rises and elbows counted: lines of 3 + 10 + 4 and 2 + 4 ft."""
    shop = copy.deepcopy(SHOP)
    for run in shop["runs"]:
        run.pop("path", None)
    # the flow comes down these: main falls from 8 to 5 ft, the planer's drop rises from 4 to 8 ft
    shop["runs"][0] |= {"length": 17, "rise": -3, "fittings": [ELBOW, ELBOW]}
    shop["runs"][1] |= {"length": 6, "rise": 4, "fittings": [ELBOW]}
    return shop


def changed(number: int, **fields: Any) -> dict[str, Any]:
    shop = copy.deepcopy(SHOP)
    shop["runs"][number] |= fields
    return shop


def codes(answer: Any) -> list[str]:
    return [item.code for item in answer.findings if item.code.startswith("path-")]


def test_a_path_answers_as_its_length_rise_and_elbows():
    drawn, counted = ask("operating-point", copy.deepcopy(SHOP)), ask("operating-point", by_hand())
    assert [run.flow for run in drawn.runs] == pytest.approx([run.flow for run in counted.runs], rel=1e-12)
    assert [run.static_pressure for run in drawn.runs] == pytest.approx(
        [run.static_pressure for run in counted.runs], rel=1e-12
    )
    assert codes(drawn) == []


def test_what_was_filled_in_is_told_as_it_would_stand_in_the_document():
    answer = ask("operating-point", copy.deepcopy(SHOP))
    told = {item.path: item.value for item in answer.assumed}
    assert told["runs[0].length"] == pytest.approx(17.0)
    assert told["runs[0].rise"] == pytest.approx(-3.0)
    assert told["runs[1].rise"] == pytest.approx(4.0)
    assert told["runs[0].fittings[1]"] == ELBOW
    assert {item.run for item in answer.assumed} == {"main", "planer"}


def test_stated_turns_are_the_callers():
    answer = ask("operating-point", changed(0, fittings=[{"type": "elbow", "angle": 90}]))
    assert not [item for item in answer.assumed if item.path.startswith("runs[0].fittings")]


def test_a_turn_stands_in_the_diameter_of_its_place():
    taper = {"type": "taper", "upstream_diameter": 6, "downstream_diameter": 7, "length": 5}
    # against the flow 3 + 10 + 4 ft: with the flow the turns stand 4 and 14 ft on, the taper 10 ft on between them
    answer = ask("operating-point", changed(0, fittings=[taper | {"at": 10}]))
    assert [item.path for item in answer.assumed if "fittings" in item.path] == [
        "runs[0].fittings[0]", "runs[0].fittings[2]", "runs[1].fittings[0]",
    ]  # fmt: skip


def test_a_hose_bends_in_place_of_elbows():
    path = [[10, 4, 8], [10, 4, 4], [11, 4, 4]]
    answer = ask("operating-point", changed(2, length=None, path=path))
    bends = [item.value for item in answer.assumed if item.path == "runs[2].fittings[0]"]
    assert [bend["type"] for bend in bends] == ["hose-bend"]


def test_what_is_stated_against_the_path_is_told_and_computed_with():
    answer = ask("operating-point", changed(0, length=25))
    assert codes(answer) == ["path-disagrees"]
    assert not [item for item in answer.assumed if item.path == "runs[0].length"]
    # within 5 % and 4 in.: what the arcs of elbows save
    assert codes(ask("operating-point", changed(0, length=16.2))) == []


def test_a_hose_longer_than_its_path_sags_and_one_shorter_is_told():
    path = [[10, 4, 8], [10, 4, 4], [11, 4, 4]]
    assert "path-disagrees" not in codes(ask("operating-point", changed(2, length=12, path=path)))
    assert "path-disagrees" in codes(ask("operating-point", changed(2, length=4.2, path=path)))


def test_a_rise_stated_against_the_path_is_told_with_both_numbers():
    """The main falls 3 ft by its path, and one stated as 2 ft up is told; 3 ft down, or left out, is not."""
    findings = ask("operating-point", changed(0, length=17, rise=2)).findings
    item = next(one for one in findings if one.code == "path-disagrees")
    assert (item.quantity, item.at) == ("rise", "runs[0].rise")
    assert item.value == pytest.approx(2.0)
    assert item.limit == pytest.approx(-3.0)
    assert "path-disagrees" not in codes(ask("operating-point", changed(0, length=17, rise=-3)))


def test_ends_that_do_not_meet_are_told():
    away = [[10, 5, 8], [10, 6, 8], [10, 6, 4]]
    found = [item for item in ask("operating-point", changed(1, path=away)).findings if item.code == "path-ends-apart"]
    assert [(item.run, item.unit) for item in found] == [("planer", "ft")]
    assert found[0].value == pytest.approx(1.0)


def test_a_corner_between_two_runs_without_a_fitting_is_told():
    around = [[10, 4, 8], [12, 4, 8], [12, 4, 4]]
    answer = ask("operating-point", changed(1, path=around))
    assert codes(answer) == ["path-corner-free"]


@pytest.mark.parametrize(
    ("fields", "path", "code"),
    [
        ({"path": None, "length": None}, "runs[0].length", "length-missing"),
        ({"path": [[0, 0, 5], [0, 0, 5], [1, 0, 5]]}, "runs[0].path[1]", "path-stands-still"),
        ({"path": [[0, 0, 5], [2, 0, 5], [1, 0, 5]]}, "runs[0].path[1]", "path-turns-back"),
    ],
)
def test_faulty_paths_are_refused_at_their_point(fields, path, code):
    with pytest.raises(Refusal) as refused:
        ask("operating-point", changed(0, **fields))
    assert [(fault.path, fault.code) for fault in refused.value.faults] == [(path, code)]


def test_a_path_of_one_point_and_one_that_is_not_finite_are_refused():
    for path in ([[0, 0, 5]], [[0, 0, float("nan")], [1, 0, 5]], [[0, 0], [1, 0]]):
        with pytest.raises((msgspec.ValidationError, Refusal)):
            ask("operating-point", changed(0, path=path))


@pytest.mark.parametrize("question", ["operating-point", "parts-list", "drawing", "compare"])
def test_every_question_follows_a_path(question):
    def asked(shop: dict[str, Any]) -> Any:
        if question == "compare":
            return ask(question, {"units": "us", "before": shop, "after": shop})
        return ask(question, shop | ({"of": "tree"} if question == "drawing" else {}))

    drawn, counted = asked(copy.deepcopy(SHOP)), asked(by_hand())
    if question == "drawing":
        assert drawn.svg == counted.svg
    elif question == "parts-list":
        assert drawn.lines == counted.lines
    else:
        assert [run.id for run in drawn.runs] == [run.id for run in counted.runs]


def test_resolved_is_answered_alike():
    answer = ask("operating-point", copy.deepcopy(SHOP) | {"resolved": True})
    back = msgspec.json.decode(msgspec.json.encode(answer.resolved))
    again = ask("operating-point", back)
    assert [run.flow for run in again.runs] == pytest.approx([run.flow for run in answer.runs], rel=1e-12)
    assert again.assumed == ()
