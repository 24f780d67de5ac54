"""Outlines by places: distances, turns and rises follow; the runs' paths close on one another."""

import itertools
import math
from typing import Any

import pytest

import airbough

CLIENT = airbough.local()
PATH = [[0, 12, 4], [0, 12, 9], [20, 12, 9], [20, 30, 9]]


def room(*machines: dict[str, Any], **line: Any) -> dict[str, Any]:
    """Return an outline whose main rises from the collector, runs along a wall and turns once."""
    fan = {"curve": [{"flow": 0, "pressure": 12}, {"flow": 1500, "pressure": 5}], "rated_as": "fan-static"}
    lines = [{"id": "main", "diameter": 6, "path": PATH} | line]
    return {
        "units": "us",
        "dust": "sawdust",
        "lines": lines,
        "machines": list(machines),
        "collector": {"fan": fan},
    }


def machine(name: str, place: list[float], **more: Any) -> dict[str, Any]:
    return {"id": name, "line": "main", "place": place, "port": 4, "flow": 400, "hose": 0} | more


def test_distances_turns_and_rises_follow_from_places():
    answer = CLIENT.outline(room(machine("saw", [8, 9, 3]), machine("last", [20, 30, 3])))
    runs = {run.id: run for run in answer.tree.runs}
    assert (runs["main"].length, runs["main"].rise) == (5 + 8, -5)
    assert [turn.angle for turn in runs["main"].fittings] == [90]
    assert runs["main-2"].length == 12 + 18
    assert (runs["saw"].length, runs["saw"].rise) == (3 + 6, 6)
    assert [turn.angle for turn in runs["saw"].fittings] == [90, 45]
    told = {item.path: item.value for item in answer.assumed}
    assert (told["machines[0].at"], told["machines[0].off"], told["machines[0].drop"]) == (13, 3, 6)


def test_a_hose_bridges_the_last_of_the_way_to_a_place():
    answer = CLIENT.outline(room(machine("saw", [8, 6, 3], hose=4), machine("last", [20, 30, 3])))
    runs = {run.id: run for run in answer.tree.runs}
    assert (runs["saw"].length, runs["saw-hose"].length) == (2 + 6, 4)
    assert runs["saw-hose"].path == ((8, 10, 3), (8, 6, 3))


def test_places_and_distances_of_the_same_shop_give_the_same_flows():
    placed = room(machine("saw", [8, 9, 3], side=None), machine("last", [20, 27, 3]))
    del placed["machines"][0]["side"]
    measured = room()
    measured["lines"] = [
        {
            "id": "main",
            "diameter": 6,
            "length": 43,
            "start": "up",
            "turns": [{"at": 5, "to": "ahead"}, {"at": 25, "to": "left"}],
        }
    ]
    measured["machines"] = [
        {"id": "saw", "line": "main", "at": 13, "off": 3, "drop": 6, "port": 4, "flow": 400, "hose": 0},
        {"id": "last", "line": "main", "at": 40, "off": 0, "drop": 6, "port": 4, "flow": 400, "hose": 0},
    ]
    flows = [
        [hood.flow for hood in CLIENT.operating_point(CLIENT.outline(document).tree).hoods]
        for document in (placed, measured)
    ]
    assert flows[0] == pytest.approx(flows[1], rel=1e-9)


def test_every_path_begins_where_the_one_below_it_ends_and_is_as_long_as_its_run():
    document = room(machine("saw", [8, 6, 3], hose=4), machine("last", [20, 30, 3]))
    document["lines"].append({"id": "side", "into": "main", "path": [[20, 20, 9], [28, 20, 9], [28, 26, 9]]})
    document["machines"].append(machine("drill", [28, 26, 4], line="side"))
    tree = CLIENT.outline(document).tree
    runs = {run.id: run for run in tree.runs}
    for run in tree.runs:
        assert run.path is not None
        assert sum(math.dist(*step) for step in itertools.pairwise(run.path)) == pytest.approx(run.length, abs=1e-9)
        if run.into is not None:
            assert run.path[0] == pytest.approx(runs[run.into].path[-1], abs=1e-9)
    found = {item.code for item in CLIENT.operating_point(tree).findings}
    assert not found & {"path-disagrees", "path-ends-apart", "path-corner-free"}


def test_a_line_that_begins_beside_its_line_is_refused():
    document = room(machine("saw", [8, 9, 3]), machine("drill", [28, 26, 4], line="side"))
    document["lines"].append({"id": "side", "into": "main", "path": [[20, 20, 8], [28, 20, 8]]})
    with pytest.raises(airbough.Refused) as caught:
        CLIENT.outline(document)
    assert [fault.path for fault in caught.value.problem.errors] == ["lines[1].path[0]"]


def test_laid_out_distances_are_told_as_such():
    document = room()
    document["lines"] = [{"id": "main", "diameter": 6, "length": 20}]
    document["machines"] = [{"id": "saw", "line": "main", "at": 20, "drop": 6, "port": 4, "flow": 400}]
    assert "lines" in {item.path for item in CLIENT.outline(document).assumed}
    assert "lines" not in {item.path for item in CLIENT.outline(room(machine("saw", [20, 30, 3]))).assumed}
