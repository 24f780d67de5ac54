"""How rows become runs: order, shared ports, shared drops, ends of lines, several lines into the collector."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

import airbough

CLIENT = airbough.local()
INCH = 25.4
CURVE = [{"flow": 0, "pressure": 12}, {"flow": 1500, "pressure": 5}]


def machine(name: str, line: str = "main", at: float | None = 10, **more: Any) -> dict[str, Any]:
    """Return a row of a machine; 500 cfm through a 5 in port."""
    row = {"id": name, "line": line, "at": at, "off": 3, "drop": 6, "port": 5, "flow": 500, "hose": 4} | more
    return {key: value for key, value in row.items() if value is not None}


def outline(machines: list[dict[str, Any]], lines: list[dict[str, Any]] | None = None, **more: Any) -> dict[str, Any]:
    """Return an outline with one line of 20 ft where none are given."""
    fan = {"curve": CURVE, "rated_as": "fan-static"}
    whole = {"units": "us", "dust": "sawdust", "collector": {"fan": fan}, "machines": machines}
    return whole | {"lines": lines or [{"id": "main", "diameter": 6, "length": 20}]} | more


def runs(document: dict[str, Any]) -> dict[str, airbough.Run]:
    """Return the runs of an outline's tree by id."""
    return {run.id: run for run in CLIENT.outline(document).tree.runs}


def codes(answer: Any) -> list[str]:
    return [item.code for item in answer.findings]


def test_the_contracts_example_is_answered():
    example = json.loads((Path(airbough.__file__).parents[2] / "openapi" / "examples" / "outline.json").read_text())
    answer = CLIENT.outline(example["request"])
    assert list(answer.rows) == [run.id for run in answer.tree.runs]
    assert set(answer.rows.values()) == {"main", "north", "planer", "saw", "sander"}
    assert CLIENT.operating_point(answer.tree).system.flow > 0


def test_rows_of_any_order_stand_in_the_order_of_the_line():
    near, far = machine("near", at=4), machine("far", at=20)
    one, other = runs(outline([near, far])), runs(outline([far, near]))
    assert one == other
    assert [one[name].into for name in ("main", "main-2", "near", "far")] == [None, "main", "main", "main-2"]
    assert (one["main"].length, one["main-2"].length) == (4, 16)


def test_a_machine_at_a_lines_end_goes_on_from_it():
    made = runs(outline([machine("saw", at=20)]))
    assert set(made) == {"main", "saw", "saw-hose"}
    assert made["saw"].join.taper_length == pytest.approx(5 * (6 - 5))  # by common practice, 5 to 1 in diameter
    assert [turn.angle for turn in made["saw"].fittings] == [90, 90]  # off the line to the side, then down
    assert (made["saw"].length, made["saw"].rise) == (9, 6)


def test_a_machine_on_the_way_joins_by_a_wye_and_the_rest_of_its_right_angle():
    made = runs(outline([machine("saw"), machine("far", at=20)]))
    assert made["saw"].join.angle == 45
    assert [turn.angle for turn in made["saw"].fittings] == [90, 45]
    tee = runs(outline([machine("saw", wye=90), machine("far", at=20)]))
    assert [turn.angle for turn in tee["saw"].fittings] == [90]


def test_a_drop_right_under_the_line_turns_by_what_its_wye_leaves():
    made = runs(outline([machine("saw", off=0), machine("far", at=20)]))
    assert [turn.angle for turn in made["saw"].fittings] == [45]


def test_right_angles_are_made_of_two_where_asked():
    made = runs(outline([machine("saw", turns="two-45"), machine("far", at=20)]))
    assert [(type(turn).__name__, turn.angle) for turn in made["saw"].fittings] == [("ElbowPair", 90), ("Elbow", 45)]


def test_several_ports_share_the_flow_by_area():
    ports = [{"port": 4, "hose": 5}, {"port": 2.5, "hose": 8}]
    made = runs(outline([machine("saw", port=None, hose=None, ports=ports), machine("far", at=20)]))
    flows = [made[name].hood.flow for name in ("saw-hose", "saw-hose-2")]
    assert flows == pytest.approx([500 * 16 / 22.25, 500 * 6.25 / 22.25])
    assert (made["saw-hose"].join, made["saw-hose-2"].join.angle) == (airbough.Straight(), 45)
    assert {made[name].hood.machine_id for name in ("saw-hose", "saw-hose-2")} == {"saw"}


def test_flows_of_ports_that_come_from_the_catalogue_are_shared_in_the_tree():
    ports = [{"port": 4, "hose": 5}, {"port": 2.5, "hose": 8}]
    row = machine("saw", port=None, hose=None, flow=None, ports=ports, machine="table-saw", size=12)
    tree = CLIENT.outline(outline([row, machine("far", at=20)])).tree
    answer = CLIENT.operating_point(tree)
    design = {hood.run: hood.design_flow for hood in answer.hoods}
    # TRGS 553 (2022), Annex 2: 820 m3/h for blades of 250 to 315 mm
    assert design["saw-hose"] + design["saw-hose-2"] == pytest.approx(820 / 3600 / 0.3048**3 * 60, rel=1e-6)
    assert design["saw-hose"] / design["saw-hose-2"] == pytest.approx(16 / 6.25)
    assert "runs[3].hood.flow" in {item.path for item in answer.assumed}


def test_many_ports_are_parted_by_runs_of_no_length():
    ports = [{"port": 2.5, "hose": 3} for _ in range(5)]
    made = runs(outline([machine("cnc", port=None, hose=None, ports=ports), machine("far", at=20)]))
    assert made["cnc-2"].length == 0
    assert [made[name].into for name in ("cnc-hose", "cnc-hose-2", "cnc-hose-5")] == ["cnc-2", "cnc", "cnc-2"]


def test_two_machines_share_a_drop():
    host = machine("saw", at=8, off=2, drop=5)
    guest = machine("jointer", line="saw", at=None, off=0, drop=0, hose=6)
    made = runs(outline([host, guest, machine("far", at=20)]))
    assert (made["saw"].length, made["saw-2"].length) == (7, 0)
    assert made["saw"].gate is None
    assert {made["saw-2"].gate.machine_id, made["jointer"].gate.machine_id} == {"saw", "jointer"}
    tree = CLIENT.outline(outline([host, guest, machine("far", at=20)])).tree
    readings = [{"quantity": "flow", "run": "saw-hose", "value": 400}]
    alone = CLIENT.diagnosis(tree, state={"open": ["saw"]}, readings=readings)
    assert {hood.run for hood in alone.hoods if hood.open} == {"saw-hose"}


def test_a_machine_joins_another_on_its_way_down():
    host = machine("saw", at=8, off=2, drop=5)
    guest = machine("jointer", line="saw", at=4, off=1, drop=2, hose=6)
    made = runs(outline([host, guest, machine("far", at=20)]))
    assert (made["saw"].length, made["saw-2"].length) == (4, 3)
    assert [turn.angle for turn in made["jointer"].fittings] == [90, 45]


def test_a_line_that_ends_in_two_makes_a_wye_of_equal_branches():
    lines = [
        {"id": "main", "diameter": 7, "length": 20},
        {"id": "left", "into": "main", "at": 20, "diameter": 6, "length": 10},
        {"id": "right", "into": "main", "at": 20, "diameter": 6, "length": 10},
    ]
    made = runs(outline([machine("saw", "left"), machine("planer", "right")], lines))
    assert [made[name].join.angle for name in ("left", "right")] == [45, 45]
    assert [[turn.angle for turn in made[name].fittings] for name in ("left", "right")] == [[45], [45]]
    assert made["left"].path[-1][1] == -made["right"].path[-1][1] != 0


def test_machines_beside_a_line_at_an_end_are_branches_of_the_straight_run():
    lines = [
        {"id": "main", "diameter": 7, "length": 20},
        {"id": "north", "into": "main", "at": 20, "diameter": 6, "length": 10},
    ]
    at_end = [machine(name, at=20) for name in ("a", "b", "c")]
    made = runs(outline([*at_end, machine("last", "north")], lines))
    assert [made[name].into for name in ("a", "b", "c", "north")] == ["main", "main", "main-2", "main-2"]
    assert made["main-2"].length == 0
    assert isinstance(made["north"].join, airbough.Straight)


def test_several_lines_end_at_the_collector():
    lines = [{"id": "one", "diameter": 5, "length": 12}, {"id": "two", "diameter": 5, "length": 8}]
    answer = CLIENT.outline(outline([machine("a", "one", 12), machine("b", "two", 8)], lines))
    assert [run.id for run in answer.tree.runs if run.into is None] == ["one", "two"]
    assert CLIENT.operating_point(answer.tree).outcome == "operating-point"


def test_what_lies_beyond_the_last_machine_is_left_out_and_told():
    answer = CLIENT.outline(outline([machine("saw", at=12)]))
    assert answer.tree.runs[0].length == 12
    found = next(item for item in answer.findings if item.code == "beyond-last-machine")
    assert (found.value, found.limit, found.unit, found.run) == (20, 12, "ft", "main")


def test_a_line_without_machines_is_left_out_and_told():
    lines = [{"id": "main", "diameter": 6, "length": 20}, {"id": "spare", "into": "main", "at": 5, "length": 9}]
    answer = CLIENT.outline(outline([machine("saw", at=20)], lines))
    assert "line-left-out" in codes(answer)
    assert set(answer.rows.values()) == {"main", "saw"}


def test_turns_stand_in_the_part_of_the_line_where_they_are():
    lines = [{"id": "main", "diameter": 6, "length": 20, "turns": [{"at": 15, "angle": 60}, {"at": 3}]}]
    made = runs(outline([machine("near", at=10), machine("far", at=20)], lines))
    assert [turn.angle for turn in made["main"].fittings] == [90]
    assert [turn.angle for turn in made["main-2"].fittings] == [60]


def test_a_line_rises_where_it_turns_up():
    lines = [{"id": "main", "diameter": 6, "length": 20, "start": "up", "turns": [{"at": 3, "to": "ahead"}]}]
    made = runs(outline([machine("saw", at=20)], lines))
    assert made["main"].rise == -3  # air falls from the ceiling to the collector
    assert made["main"].path[-1] == (17, 0, 3)


def test_gates_stand_where_they_are_said():
    made = runs(outline([machine("saw", at=10, gate="port"), machine("far", at=20, gate="none")]))
    assert made["saw"].gate is None
    assert made["saw-hose"].gate.opening == 1
    assert made["far"].gate is None
    assert made["far-hose"].gate is None


def test_bores_are_the_largest_listed_that_carry_and_not_below_the_port():
    # v = Q / A; sawdust is carried from 20 m/s (catalogue, read); whole inches
    flow = 800 * 0.3048**3 / 60
    widest = math.sqrt(4 * flow / (math.pi * 20)) / 0.0254
    made = runs(outline([machine("planer", at=20, flow=800)], [{"id": "main", "length": 20}]))
    assert made["planer"].diameter == made["main"].diameter == math.floor(widest) == 6
    narrow = runs(outline([machine("planer", at=20, flow=300, port=5)], [{"id": "main", "length": 20}]))
    assert narrow["planer"].diameter == 5


def test_a_line_takes_what_its_smallest_machine_alone_fills_but_no_less_than_what_joins_it():
    both = [machine("planer", at=10, flow=800, port=5), machine("sander", at=20, flow=350, port=4)]
    answer = CLIENT.outline(outline(both, [{"id": "main", "length": 20}]))
    assert {run.id: run.diameter for run in answer.tree.runs}["main"] == 6
    found = [item for item in answer.findings if item.code == "too-wide-for-smallest"]
    assert [item.run for item in found] == ["main"]
    assert found[0].value == pytest.approx(350 / (math.pi / 4 * 0.5**2))


def test_every_length_of_the_sheet_is_in_the_tree():
    document = outline([machine("near", at=7.3), machine("far", at=17.1, hose=2.2)])
    answer = CLIENT.outline(document)
    of_row = {row: sum(run.length for run in answer.tree.runs if answer.rows[run.id] == row) for row in ("main", "far")}
    assert of_row == {"main": pytest.approx(17.1), "far": pytest.approx(3 + 6 + 2.2)}


def test_what_is_assumed_is_told_with_its_reason():
    answer = CLIENT.outline(outline([machine("saw", machine="table-saw", flow=None, at=20)]))
    told = {item.path: item for item in answer.assumed}
    assert {"machines[0].flow", "machines[0].diameter", "machines[0].duct", "machines[0].hose_duct"} <= set(told)
    assert {"machines[0].stretch", "machines[0].gate", "machines[0].entry", "radius_ratio", "lines[0].duct"} <= set(
        told
    )
    assert told["machines[0].flow"].source == "trgs-553-2022"
    assert all(item.reason for item in answer.assumed)


def test_sizes_are_in_the_callers_own_units():
    inches = outline([machine("saw", machine="table-saw", flow=None, size=10, at=20)])
    answer = CLIENT.outline(inches)
    flow = {item.path: item.value for item in answer.assumed}["machines[0].flow"]
    # 10 in is 254 mm: TRGS 553 (2022), Annex 2, blades of 250 to 315 mm, 820 m3/h
    assert flow == pytest.approx(820 / 3600 / 0.3048**3 * 60, rel=1e-6)
    text = outline([machine("saw", machine="table-saw", flow=None, size="254 mm", at=20)])
    assert {item.path: item.value for item in CLIENT.outline(text).assumed}["machines[0].flow"] == flow


def test_an_unknown_machine_is_judged_by_what_was_stated():
    answer = CLIENT.outline(outline([machine("saw", machine="tabel-saw", at=20)]))
    found = next(item for item in answer.findings if item.code == "machine-unknown")
    assert "table-saw" in found.suggestion.text
    assert found.at == "machines[0].machine"
    assert CLIENT.operating_point(answer.tree).hoods[0].design_flow == pytest.approx(500)
    assert "design-flow-unknown" not in [item.code for item in answer.findings]


def test_a_machines_word_written_wrong_without_a_flow_is_warned_of():
    answer = CLIENT.outline(outline([machine("saw", machine="tabel-saw", flow=None, at=20)]))
    of_tree = CLIENT.operating_point(answer.tree)
    assert of_tree.hoods[0].design_flow is None
    for found in (answer.findings, of_tree.findings):
        (warned,) = [item for item in found if item.code == "design-flow-unknown"]
        assert warned.severity == "warning"
        assert "table-saw" in warned.suggestion.text


def test_a_metric_outline_speaks_metric():
    line = {"id": "main", "length": 6}
    row = machine("saw", machine="table-saw", size=254, at=6, off=1, drop=1.8, port=120, hose=1.2, flow=None)
    answer = CLIENT.outline({"units": "metric", "lines": [line], "machines": [row]})
    assert {run.id: run.diameter for run in answer.tree.runs} == {"main": 125, "saw": 125, "saw-hose": 120}
    assert next(item for item in answer.assumed if item.path == "machines[0].flow").value == pytest.approx(
        820, rel=1e-6
    )


def test_run_ids_stay_readable_and_apart():
    rows = [machine("main-2", at=5), machine("x" * 64, at=10), machine("far", at=20)]
    answer = CLIENT.outline(outline(rows))
    names = [run.id for run in answer.tree.runs]
    assert len(set(names)) == len(names)
    assert max(map(len, names)) == 64
    assert answer.rows["main-3"] == "main"
