"""What an outline cannot be: every fault at once, each with its path and its row's id."""

from typing import Any

import pytest

import airbough

CLIENT = airbough.local()


def faults(document: dict[str, Any]) -> dict[str, airbough.Fault]:
    """Return path -> fault of a refusal, those that are told together each at its own path."""
    with pytest.raises(airbough.Refused) as caught:
        CLIENT.outline(document)
    errors = caught.value.problem.errors
    return {path: fault for fault in errors for path in (fault.path, *(other.path for other in fault.also))}


def outline(lines: list[dict[str, Any]], *machines: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Return an outline in us units."""
    return {"units": "us", "lines": lines, "machines": list(machines)} | more


MAIN = {"id": "main", "length": 20, "diameter": 6}
SAW = {"id": "saw", "line": "main", "at": 20, "off": 2, "drop": 6, "port": 4, "flow": 400}


def test_faults_of_rows_words_collector_and_air_are_told_together():
    fan = {"curve": [{"flow": 5, "pressure": 1}, {"flow": 5, "pressure": 0}], "rated_as": "fan-total"}
    told = faults(
        outline(
            [MAIN | {"duct": "spiral"}, {"id": "side", "into": "mian", "at": 3, "length": 4}],
            SAW | {"at": 21},
            SAW | {"id": "planer", "drop": None, "hose_duct": "hose"} | {"dust": "shaving"},
            SAW | {"id": "main", "machine": "table-saw", "size": "3 gallons"},
            collector={"fan": fan},
            air={"temperature": 68, "density": 0.07},
            dust="saw-dust",
        )
    )
    assert set(told) >= {
        "lines[1].into",
        "machines[0].at",
        "machines[1].drop",
        "machines[1].dust",
        "machines[2].id",
        "machines[2].size",
        "collector.fan.curve[1].flow",
        "collector.fan.outlet_diameter",
        "dust",
    }
    assert "nearest: main" in told["lines[1].into"].detail
    assert told["machines[1].drop"].id == "planer"
    assert "shavings" in told["machines[1].dust"].detail


@pytest.mark.parametrize(
    ("lines", "machine", "path", "code"),
    [
        ([MAIN | {"into": "main", "at": 2}], SAW, "lines[0].into", "cycle"),
        ([MAIN], SAW | {"line": "saw", "at": 1}, "machines[0].line", "cycle"),
        ([MAIN], SAW | {"line": "mian"}, "machines[0].line", "unknown-row"),
        ([MAIN | {"at": 3}], SAW, "lines[0].at", "no-line-to-join"),
        ([{"id": "main"}], {key: SAW[key] for key in SAW if key != "at"}, "machines[0].at", None),
        ([MAIN | {"turns": [{"at": 21}]}], SAW, "lines[0].turns[0].at", "beyond-line"),
        ([MAIN | {"turns": [{"at": 3, "to": "ahead"}]}], SAW, "lines[0].turns[0].to", "turn-goes-nowhere"),
        ([MAIN | {"duct": "spiral"}], SAW, "lines[0].duct", "unknown-word"),
        ([MAIN | {"path": [[0, 0, 0], [0, 9, 0]]}], SAW, "lines[0].length", "places-and-distances"),
        ([MAIN], SAW | {"place": [1, 2, 3]}, "machines[0].place", "line-without-places"),
        ([MAIN], SAW | {"ports": [{"port": 4}]}, "machines[0].port", "port-and-ports"),
        ([MAIN], SAW | {"size": 10}, "machines[0].size", "size-without-machine"),
        ([MAIN], SAW | {"machine": "table-saw", "size": "2 hp"}, "machines[0].size", "wrong-kind"),
        ([MAIN], SAW | {"hose": 4, "hose_duct": "aluminum"}, "machines[0].hose_duct", "no-hose"),
        ([MAIN], SAW | {"hose": 4, "hose_rise": 5}, "machines[0].hose_rise", "rise-longer-than-run"),
        ([MAIN], SAW | {"wye": 45}, "machines[0].wye", "wye-not-used"),
        ([MAIN], SAW | {"wye": 95}, "machines[0].wye", "outside-range"),
        ([MAIN], {"id": "saw", "line": "main", "at": 20, "drop": 6}, "machines[0].diameter", "diameter-missing"),
        ([MAIN], SAW | {"construction": "no-such"}, "machines[0]", "unknown-word"),
    ],
)
def test_a_fault_is_told_at_its_place(lines, machine, path, code):
    told = faults(outline(lines, machine))
    assert path in told
    assert code in (None, told[path].code)


def test_a_line_without_length_reaches_as_far_as_its_last_machine():
    answer = CLIENT.outline(outline([{"id": "main", "diameter": 6}], SAW))
    assert answer.tree.runs[0].length == 20
    assert "lines[0].length" in {item.path for item in answer.assumed}


def test_unequal_wyes_at_an_end_are_refused():
    told = faults(outline([MAIN], SAW | {"wye": 30}, SAW | {"id": "planer", "wye": 45}))
    assert {fault.code for fault in told.values()} == {"junction-not-covered"}
