"""Outlines at the edge of sense: nothing of length, everything at one place, long chains, turns that lead back."""

from typing import Any

import pytest

import airbough

CLIENT = airbough.local()
CURVE = [{"flow": 0, "pressure": 12}, {"flow": 9000, "pressure": 0}]


def outline(lines: list[dict[str, Any]], machines: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    collector = {"fan": {"curve": CURVE, "rated_as": "fan-static"}}
    return {"units": "us", "dust": "sawdust", "collector": collector, "lines": lines, "machines": machines} | more


def machine(name: str, line: str = "main", at: float = 10, **more: Any) -> dict[str, Any]:
    return {"id": name, "line": line, "at": at, "off": 1, "drop": 2, "port": 4, "flow": 400} | more


MAIN = {"id": "main", "length": 10}


@pytest.mark.parametrize(
    "document",
    [
        outline([MAIN], [machine("a", at=0), machine("b")]),
        outline([MAIN | {"length": 0}], [machine("a", at=0)]),
        outline([MAIN], [machine("a", off=0, drop=0)]),
        outline([MAIN], [machine("a", at=5, off=0, drop=0, hose=4), machine("b", off=0, drop=0, hose=4)]),
        outline([MAIN | {"turns": [{"at": 0}, {"at": 5, "angle": 0}, {"at": 10}]}], [machine("a")]),
        outline([MAIN], [machine("a", hose=4, hose_rise=4), machine("b", at=4, drop=-3)]),
        outline([MAIN | {"duct": "flexible-hose-ribbed", "turns": [{"at": 3}]}], [machine("a")]),
        outline([MAIN], [machine(f"m{number}", at=5) for number in range(9)]),
        outline([MAIN | {"diameter": 7}], [machine("a", at=4), machine("b")], model={"junctions": "entry-angle"}),
        outline([MAIN | {"diameter": 7}], [machine("a", at=4), machine("b")], model={"junctions": "none"}),
        outline([MAIN], [machine("a", ports=[{"port": 4}]) | {"port": None}]),
    ],
)
def test_an_outline_at_the_edge_makes_a_tree_that_is_answered(document):
    document["machines"] = [
        {key: item for key, item in row.items() if item is not None} for row in document["machines"]
    ]
    assert CLIENT.operating_point(CLIENT.outline(document).tree).runs


def test_machines_and_lines_may_hang_on_one_another_in_long_chains():
    chain = [machine("m0")] + [machine(f"m{number}", f"m{number - 1}", 1) for number in range(1, 1200)]
    assert len(CLIENT.outline(outline([MAIN], chain)).rows) == 1 + 2 * 1200 - 1
    lines = [MAIN | {"id": "l0"}] + [
        {"id": f"l{number}", "length": 2, "into": f"l{number - 1}", "at": 2 if number > 1 else 10}
        for number in range(1, 500)
    ]
    assert len(CLIENT.outline(outline(lines, [machine("a", "l499", 2)])).rows) == 501


def test_a_line_that_turns_back_on_itself_is_refused_with_its_row():
    with pytest.raises(airbough.Refused) as caught:
        CLIENT.outline(outline([MAIN | {"turns": [{"at": 5, "angle": 180}]}], [machine("a")]))
    assert [fault.path for fault in caught.value.problem.errors] == ["lines[0]"]
