"""A refusal teaches: whose row, what was read, what would be right; and what it shows as right is right."""

import copy
import json
import random

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import airbough
from airbough.calls import CALLS
from airbough.reading import faults, telling
from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.problem import Fault, FaultPlace
from airbough_service.api.document import examples
from documents_bent import bend

POSTS = {call.name: call for call in CALLS if call.method == "POST"}


def shop():
    return copy.deepcopy(examples.request("operating-point"))


def at(document, path):
    """Return the container and the key of a path such as `runs[3].gate`."""
    keys = [int(number) if number else name for number, name in telling._STEP.findall(path)]
    for key in keys[:-1]:
        document = document[key]
    return document, keys[-1]


def put(document, path, value):
    container, key = at(document, path)
    container[key] = value


def told(document, call="operating-point"):
    return faults.find(document, POSTS[call].request)


NATURAL = [
    ("runs[3].gate", "open", {"opening": 1}),
    ("runs[3].gate", "Shut", {"opening": 0}),
    ("runs[3].gate", True, {"opening": 1}),
    ("runs[3].gate", 0.4, {"opening": 0.4}),
    ("runs[3].gate", "40 %", {"opening": "40 %"}),
    ("runs[3].gate.opening", 100, "100 %"),
    ("runs[3].gate.opening", "closed", 0),
    ("collector.fan.curve[0]", [0, 11], {"flow": 0, "pressure": 11}),
    ("collector.fan.curve", {"0": 11, "600": 5}, [{"flow": 0, "pressure": 11}, {"flow": 600, "pressure": 5}]),
    ("runs[2].join", "branch", {"type": "branch", "angle": 45}),
    ("runs[3].hood.entry", "flanged opening", {"type": "flanged-opening"}),
    ("runs[0].fittings", {"type": "elbow", "angle": 90}, [{"type": "elbow", "angle": 90}]),
    ("runs[0].fittings[0].type", "elbows", "elbow"),
    ("runs[0].fittings[0].count", "2", 2),
    ("runs[0].fittings[0].count", 2.5, 2),
    ("runs[0].diameter", "7", "7 in"),
    ("runs[0].diameter", "7 cfm", "7 in"),
    ("runs[0].diameter", "7 zoll", "7 in"),
    ("runs[0].diameter", 180, "180 mm"),
    ("runs[3].hood.flow", "1,400 cfm", "1400 cfm"),
    ("runs[3].hood.flow", "1.400,5 m3/h", "1400,5 m3/h"),
    ("units", "imperial", "us"),
    ("collector.fan.rated_as", "static", "fan-static"),
    ("collector.fan.rated_as", "Fan Total", "fan-total"),
    ("explain", "yes", True),
]


@pytest.mark.parametrize(("path", "written", "right"), NATURAL)
def test_the_right_form_of_what_a_person_writes(path, written, right):
    document = shop()
    document["runs"][3].setdefault("gate", {"opening": 1.0})
    put(document, path, written)
    (fault,) = told(document)
    assert fault.example == right
    put(document, fault.path, fault.example)
    assert told(document) == []


def test_a_shop_by_name_is_shown_as_a_list():
    document = {"units": "us", "runs": {"main": {"into": None, "diameter": 7, "length": 10}}}
    (fault,) = told(document)
    assert fault.example == [{"id": "main", "into": None, "diameter": 7, "length": 10}]


@settings(max_examples=150, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(sorted(POSTS)), seed=st.integers(0, 2**32))
def test_whatever_is_shown_as_right_is_right(name, seed):
    document = examples.request(name)
    bend(document, random.Random(seed))
    for fault in told(document, name):
        if fault.example is None:
            continue
        mended = copy.deepcopy(document)
        put(mended, fault.path, fault.example)
        assert fault.path not in {path for left in told(mended, name) for path in left.paths}


def test_equal_faults_are_one_with_every_place_and_whose_it_is():
    document = shop()
    for run in document["runs"]:
        run["diameter"] = "6 cfm"
    (fault,) = told(document)
    assert fault.paths == tuple(f"runs[{index}].diameter" for index in range(len(document["runs"])))
    ids = [run["id"] for run in document["runs"]]
    assert [fault.id, *(place.id for place in fault.also)] == ids
    assert {fault.read, *(place.read for place in fault.also)} == {'"6 cfm"'}
    assert f"runs[0].diameter ({ids[0]})" in fault.sentence()
    assert f"runs[1].diameter ({ids[1]})" in fault.sentence()


def test_two_missing_fields_are_two_faults():
    document = shop()
    del document["runs"][0]["diameter"], document["runs"][0]["id"]
    assert {fault.path for fault in told(document)} == {"runs[0].diameter", "runs[0].id"}


def test_a_field_of_another_place_is_told_where_it_stands():
    document = shop()
    document["fan"] = document["collector"].pop("fan")
    document["runs"][0]["opening"] = 1
    details = {fault.path: fault.detail for fault in told(document)}
    assert details["fan"] == "no such field here; it stands in `collector`"
    assert details["runs[0].opening"] == "no such field here; it stands in `gate`"


def test_rows_are_named_by_id_else_by_name_item_run_or_machine():
    data = {
        "runs": [{"id": "main", "fittings": [{"angle": "x"}]}],
        "states": [{"name": "both", "open": ["x"]}],
        "stock": {"ducts": [{"item": "A-6", "price": "x"}]},
        "readings": [{"run": "saw", "value": "x"}],
        "machines": [{"machine": "planer", "times": [{"on": "x"}]}],
    }
    paths = {
        "runs[0].fittings[0].angle": "main",
        "states[0].open[0]": "both",
        "stock.ducts[0].price": "A-6",
        "readings[0].value": "saw",
        "machines[0].times[0].on": "planer",
        "air.density": None,
    }
    found = telling.taught([Fault(path=path, code=path, detail="x") for path in paths], data)
    assert {fault.path: fault.id for fault in found} == paths


def test_what_a_caller_writes_reaches_no_terminal_raw():
    document = shop()
    document["runs"][0] |= {"id": "a\u202eb\u009b", "diameter": "\u001b[2J \u202e"}
    with pytest.raises(airbough.InvalidRequest) as refused:
        airbough.read(document, OperatingPointRequest)
    assert str(refused.value).replace("\n", "").isprintable()


def test_a_refused_tree_is_told_with_ids_what_was_read_and_the_nearest():
    document = shop()
    ids = [run["id"] for run in document["runs"]]
    for run in document["runs"]:
        run["duct"] = "spiral-galvanised"
    document["runs"][1]["into"] = ids[0][:-1] + "_"
    curve = document["collector"]["fan"]["curve"]
    curve[1]["flow"] = curve[0]["flow"]
    with pytest.raises(airbough.NotADuctTree) as refused:
        airbough.local().operating_point(document)
    by_code = {fault.code: fault for fault in refused.value.faults}
    assert len(by_code) == len(refused.value.faults) == 3  # the tree's, the catalogue's and the fan's at once
    assert by_code["dangling-into"].id == ids[1]
    assert by_code["dangling-into"].example in ids
    word = by_code["unknown-word"]
    assert (word.read, word.example) == ('"spiral-galvanised"', "spiral-galvanized")
    assert [word.id, *(place.id for place in word.also)] == ids
    assert "spiral-galvanized" in str(refused.value)


def test_a_run_into_the_collector_is_told_that_null_is_meant():
    document = shop()
    document["runs"][0]["into"] = "collector"
    with pytest.raises(airbough.NotADuctTree, match="null"):
        airbough.local().operating_point(document)


def test_what_was_read_is_cut_and_survives_what_json_does_not_have():
    assert telling.shown("x" * 1000).endswith("…")
    assert telling.shown(10**400) is not None
    assert telling.shown(float("nan")) == "nan"
    assert telling.shown(7.0) == "7"
    assert telling.shown(None) is None


def test_a_long_list_of_places_is_cut_in_the_sentence_and_not_on_the_wire():
    places = tuple(FaultPlace(path=f"runs[{index}].gate") for index in range(1, 40))
    fault = Fault(path="runs[0].gate", code="x", detail="wrong", also=places)
    assert fault.sentence().endswith("and 27 more")
    assert msgspec.json.decode(msgspec.json.encode(fault), type=Fault) == fault
    assert len(json.loads(msgspec.json.encode(fault))["also"]) == 39
