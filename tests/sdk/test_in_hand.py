"""Requests and answers in a notebook: looked up by id, changed in one place, short to look at, told in rows."""

from __future__ import annotations

import copy
import importlib

import msgspec
import pytest

import airbough
from airbough.wire.operating_point import OperatingPointRequest


@pytest.fixture(scope="module")
def local():
    return airbough.local()


@pytest.fixture
def tree(shop):
    shop["runs"][1]["gate"]["machine_id"] = shop["runs"][1]["hood"]["machine_id"] = "table saw"
    return airbough.read(shop, OperatingPointRequest)


@pytest.fixture
def answer(local, tree):
    return local.operating_point(tree)


def test_a_run_and_a_hood_by_id(tree, answer):
    assert tree.run("saw") is tree.runs[1]
    assert answer.run("main") is answer.runs[0]
    assert answer.hood("planer") is next(hood for hood in answer.hoods if hood.run == "planer")
    with pytest.raises(LookupError, match="'mian'; there is main"):
        answer.run("mian")


def test_one_run_is_changed_and_nothing_else(tree):
    changed = tree.with_run("main", diameter=8, fittings=[{"type": "elbow", "angle": 90}])
    assert changed.run("main").diameter == 8
    assert changed.run("main").fittings == (airbough.Elbow(angle=90),)
    assert changed.runs[1:] == tree.runs[1:]
    assert type(changed) is OperatingPointRequest
    assert tree.run("main").diameter == 7
    with pytest.raises(LookupError):
        tree.with_run("nobody", diameter=8)
    with pytest.raises(TypeError):
        tree.with_run("main", bore=8)
    with pytest.raises(msgspec.ValidationError):
        tree.with_run("main", gate={"open": True})


@pytest.mark.parametrize("names", [("planer",), ("table saw",), ("saw", "planer"), ()])
def test_machines_opened_are_as_if_their_gates_stood_so(local, shop, tree, names):
    document = copy.deepcopy(shop)
    for run in document["runs"][1:]:
        mine = {run["id"], run["gate"].get("machine_id")}
        run["gate"]["opening"] = 1.0 if mine & set(names) else 0.0
    by_state, by_document = local.operating_point(tree.opened(*names)), local.operating_point(document)
    for told, wanted in zip(by_state.runs, by_document.runs, strict=True):
        assert told.flow == pytest.approx(wanted.flow, rel=1e-12)
    assert by_state.hoods == by_document.hoods
    assert by_state.outcome == by_document.outcome


def test_a_state_told_is_the_one_explained(local, tree):
    told = local.operating_point(msgspec.structs.replace(tree.opened("planer"), explain=True))
    main = next(term for term in told.explanation if term.run == "main" and term.term == "velocity")
    assert main.value == pytest.approx(told.run("main").velocity, rel=1e-9)


def test_an_unknown_machine_is_refused(local, tree):
    with pytest.raises(airbough.NotADuctTree, match="nearest: planer") as refused:
        local.operating_point(tree.opened("plainer"))
    assert refused.value.faults[0].path == "state.open[0]"


def test_what_is_looked_at_is_short(tree, answer):
    assert len(repr(answer)) < 1500
    assert len(repr(tree)) < 400
    assert "runs=[3 RunResult]" in repr(answer)
    assert repr(tree.run("main")) == "Run(id='main', diameter=7.0, length=14.0, duct='spiral-galvanized')"
    assert repr(airbough.Elbow(angle=90)) == "Elbow(angle=90, count=1)"


def test_rows_are_plain_and_alike(answer):
    told = airbough.rows(answer)
    assert [row["id"] for row in told] == ["main", "saw", "planer"]
    assert {tuple(row) for row in told} == {tuple(told[0])}
    assert told[1]["flow"] == answer.runs[1].flow
    named = airbough.rows(answer, units=True)[1]
    assert named["flow [ft^3/min]"] == answer.runs[1].flow
    assert named["static_pressure [inH2O]"] == answer.runs[1].static_pressure
    (system,) = airbough.rows(answer, "system")
    assert system["flow"] == answer.system.flow
    assert {"code", "message", "suggestion.text"} <= set(airbough.rows(answer, "findings")[0])
    with pytest.raises(LookupError, match="it has"):
        airbough.rows(answer, "pipes")


def listed(frame, column):
    return [None if value != value else value for value in frame[column].to_list()]


@pytest.mark.parametrize("library", ["pandas", "polars"])
def test_frames_of_one_answer_of_named_ones_and_of_a_batch(local, shop, answer, library):
    one = airbough.frame(answer, using=library)
    assert type(one).__module__.startswith(library)
    assert listed(one, "id") == ["main", "saw", "planer"]
    assert listed(one, "flow") == [run.flow for run in answer.runs]
    several = airbough.frame({"a": answer, "b": answer}, "hoods", using=library)
    assert listed(several, "id") == ["a", "a", "b", "b"]
    assert listed(several, "run") == ["saw", "planer"] * 2
    wrong = copy.deepcopy(shop)
    wrong["runs"][0]["diameter"] = "7 cfm"
    lines = [("first", "operating-point", shop), ("wrong", "operating-point", wrong)]
    batch = airbough.frame(local.batch(lines), "system", using=library)
    assert listed(batch, "id") == ["first", "wrong"]
    assert listed(batch, "flow") == [answer.system.flow, None]
    assert "wrong" not in (listed(batch, "error")[0] or "")
    assert "unit of flow" in listed(batch, "error")[1]


def test_without_a_library_the_extra_is_named(answer, monkeypatch):
    def missing(name):
        raise ModuleNotFoundError(name, name=name)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(ImportError, match=r"airbough\[polars\]"):
        airbough.frame(answer, using="polars")
    with pytest.raises(ImportError, match="pandas or polars"):
        airbough.frame(answer)


@pytest.mark.parametrize("text", ['{"units": "us", "temperature": 70}', 'units = "us"\ntemperature = 70'])
def test_a_file_that_begins_with_a_byte_order_mark_is_read(tmp_path, text):
    file = tmp_path / ("air.json" if text.startswith("{") else "air.toml")
    file.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert airbough.load(file, airbough.AirRequest) == airbough.AirRequest(units="us", temperature=70)
