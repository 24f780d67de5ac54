"""What hoods leave out is filled from the machines of the catalogue, in the caller's own units, and told."""

from typing import Any

import pytest

import airbough
from airbough_service import catalogue
from airbough_service.catalogue import reading

CLIENT = airbough.local()
CFM = 0.3048**3 / 60


def tree(*hoods: dict[str, Any], units: str = "us", dust: str | None = None) -> dict[str, Any]:
    """Return ducts to a fan, one for each hood."""
    inch, foot = (1, 1) if units == "us" else (25, 0.3)
    run = {"into": None, "diameter": 5 * inch, "length": 10 * foot, "duct": "spiral-galvanized"}
    runs = [run | {"id": f"run {number}", "hood": hood} for number, hood in enumerate(hoods)]
    return {"units": units, "runs": runs} | ({} if dust is None else {"dust": dust})


def flows(document: dict[str, Any]) -> list[float]:
    """Return the design flows in m3/h."""
    unit = CFM * 3600 if document["units"] == "us" else 1.0
    return [hood.design_flow * unit for hood in CLIENT.balance(document).hoods]


@pytest.mark.parametrize(
    ("units", "size", "flow"),
    [
        # TRGS 553 (2022), Annex 2, read: circular saws, blade to 250 mm, to 315 mm, above
        ("us", 9, 560),
        ("us", 10, 820),
        ("us", "12.4 in", 820),
        ("us", 14, 1110),
        ("metric", 250, 560),
        ("metric", 254, 820),
        ("metric", "10 in", 820),
        ("metric", 315, 820),
        ("metric", 316, 1110),
    ],
)
def test_a_saw_of_a_size_has_the_published_flow_of_that_size(units, size, flow):
    assert flows(tree({"machine": "table-saw", "size": size}, units=units)) == pytest.approx([flow], rel=1e-6)


def test_flow_entry_and_dust_are_filled_and_told_with_their_source():
    answer = CLIENT.balance(tree({"machine": "planer", "size": 15}))
    told = {item.path: item for item in answer.assumed}
    assert set(told) == {"runs[0].hood.flow", "runs[0].hood.entry", "runs[0].hood.dust"}
    assert (told["runs[0].hood.flow"].source, told["runs[0].hood.flow"].unit) == ("trgs-553-2022", "ft^3/min")
    assert told["runs[0].hood.dust"].value == "shavings"
    assert "trgs-553-2022" in {source.id for source in answer.sources}


def test_what_the_caller_states_stays():
    hood = {"machine": "planer", "size": 15, "flow": 700, "entry": {"type": "flanged-opening"}}
    answer = CLIENT.balance(tree(hood, dust="chips"))
    assert answer.assumed == ()
    assert answer.hoods[0].design_flow == pytest.approx(700)


def test_a_machine_without_a_size_is_taken_as_the_smallest_and_a_note_says_so():
    answer = CLIENT.balance(tree({"machine": "table-saw"}))
    assert flows(tree({"machine": "table-saw"})) == pytest.approx([560], rel=1e-6)
    found = next(item for item in answer.findings if item.code == "machine-size-assumed")
    assert "blade to 250 mm" in found.message
    assert (found.at, found.run) == ("runs[0].hood.size", answer.hoods[0].run)


def test_a_size_beyond_the_largest_listed_is_answered_with_a_finding():
    answer = CLIENT.balance(tree({"machine": "disc-sander", "size": 40}))
    found = next(item for item in answer.findings if item.at == "runs[0].hood.size")
    assert (found.code, found.value, found.limit) == ("outside-correlation-range", pytest.approx(40), pytest.approx(26))
    listed = CLIENT.balance(tree({"machine": "disc-sander", "size": 26}))
    assert not [item for item in listed.findings if item.at == "runs[0].hood.size"]


def test_a_flow_from_memory_is_told_as_such():
    answer = CLIENT.balance(tree({"machine": "drum-sander", "size": "150 in2"}))
    assert "design-flow-from-memory" in {item.code for item in answer.findings}
    read = CLIENT.balance(tree({"machine": "planer", "size": 15}))
    assert "design-flow-from-memory" not in {item.code for item in read.findings}


@pytest.mark.parametrize(
    ("word", "meant"),
    [("Table Saw", "table-saw"), ("bandsaw", "band-saw"), ("chop saw", "miter-saw"), ("thicknesser", "planer"),
     ("disk sander", "disc-sander"), ("drum_sander", "drum-sander")],
)  # fmt: skip
def test_machines_are_known_by_how_people_write_them(word, meant):
    assert catalogue.machine_id(word) == meant
    assert catalogue.machine(word).id == meant


def test_no_two_machines_share_a_name():
    names = [name for block in reading.by_id("hoods", "machine").values() for name in block.get("also", ())]
    assert len(names) == len(set(names))
    assert not set(names) & set(reading.by_id("hoods", "machine"))
    assert catalogue.machine_id("cheese grater") is None


def test_a_motors_power_or_a_count_is_a_size_where_the_machine_goes_by_it():
    assert flows(tree({"machine": "shaper", "size": "3 hp"}))
    assert flows(tree({"machine": "cnc-router", "size": 1}))


def test_hoods_of_one_machine_share_its_flow_by_area():
    shared = {"machine": "table-saw", "size": 10, "machine_id": "saw"}
    found = flows(tree(shared | {"port_diameter": 4}, shared | {"port_diameter": 2}))
    assert found == pytest.approx([820 * 0.8, 820 * 0.2], rel=1e-6)


def test_an_unknown_machine_is_judged_by_what_is_stated():
    hood = {"machine": "tabel-saw", "flow": 400, "entry": {"type": "plain-opening"}}
    answer = CLIENT.balance(tree(hood, dust="sawdust"))
    found = next(item for item in answer.findings if item.code == "machine-unknown")
    assert "table-saw" in found.suggestion.text


@pytest.mark.parametrize(
    ("hood", "path", "code"),
    [
        ({"flow": 400}, "runs[0].hood.entry", "entry-missing"),
        ({"machine": "planer", "size": "3 hp"}, "runs[0].hood.size", "wrong-kind"),
        ({"machine": "cnc-router", "size": "3 hp"}, "runs[0].hood.size", "wrong-type"),
    ],
)
def test_what_cannot_be_filled_is_refused(hood, path, code):
    with pytest.raises(airbough.Refused) as caught:
        CLIENT.balance(tree(hood))
    assert (path, code) in {(fault.path, fault.code) for fault in caught.value.problem.errors}


def test_a_resolved_request_has_flow_and_entry_as_numbers():
    asked = tree({"machine": "table-saw", "size": 10}) | {"resolved": True}
    resolved = CLIENT.balance(asked).resolved
    assert resolved["runs"][0]["hood"]["flow"] == pytest.approx(820 / 3600 / CFM, rel=1e-6)
    assert resolved["runs"][0]["hood"]["dust"] == "sawdust"


@pytest.mark.parametrize("where", ["hood", "gate"])
def test_a_machine_id_on_hoods_or_on_gates_alone_makes_one_machine_that_shares_its_flow(where):
    """The contract: `machine_id` ties the hoods and gates of one machine; a hood takes that of its own gate."""
    body = tree(
        {"machine": "table-saw", "size": 10, "port_diameter": 4},
        {"machine": "table-saw", "size": 10, "port_diameter": 2},
    )
    for run in body["runs"]:
        if "hood" in run:
            run["gate"] = {"opening": 1.0}
            run[where]["machine_id"] = "saw"
    assert flows(body) == pytest.approx([820 * 0.8, 820 * 0.2], rel=1e-6)
