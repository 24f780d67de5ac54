"""The readable report: every run, machine and finding of the answer is in the text."""

import json
import re
import unicodedata
from pathlib import Path

import pytest

import airbough
from airbough import report
from airbough.wire.quantity import length_told

SHOP = json.loads((Path(__file__).parents[1] / "data" / "eight_machines.json").read_text())


@pytest.fixture(scope="module")
def client() -> airbough.Local:
    return airbough.local()


def test_report_of_an_operating_point(client):
    """Runs with their velocity, machines with their share, findings with advice, cautions."""
    answer = client.operating_point(SHOP)
    text = report.report(answer)
    told = " ".join(text.replace("-\n", "-").split()).lower()
    for run in answer.runs:
        assert run.id in text
    assert len({finding.severity for finding in answer.findings}) > 1
    for code in {finding.code for finding in answer.findings}:
        first, *others = [finding for finding in answer.findings if finding.code == code]
        assert f"- {first.message}".lower() in told
        assert all(other.run in told.split("the same: ", 1)[1] for other in others)
        if first.suggestion is not None:
            said = first.suggestion.text
            said = "see the cautions at the end" if said in answer.cautions else said
            assert f"what to do: {said}".lower() in told
    assert re.search(r"\(tried: saves [0-9.]+ in\. wg, more air: [0-9.]+ cfm\)", " ".join(text.split()))
    assert "e-0" not in text
    assert "Local codes and licensed practice decide" in " ".join(text.split())
    assert f"{float(f'{answer.system.flow:.3g}'):.0f} cfm" in text


def test_no_name_is_parted_at_its_hyphens(client):
    names = {run["id"]: f"on-the-{run['id']}-side-of-it" for run in SHOP["runs"]}
    runs = [run | {"id": names[run["id"]], "into": names.get(run["into"])} for run in SHOP["runs"]]
    text = report.report(client.operating_point(SHOP | {"runs": runs}))
    assert all(name in text for name in names.values())
    assert not re.search(r"\w-\n", text)


@pytest.mark.parametrize("word", ["\x1b]0;owned\x07", "a\nDuct tree: everything holds", "a\u2028b", "a\x9b2J"])
@pytest.mark.parametrize("question", ["operating_point", "drawing"])
def test_no_name_can_speak_to_a_terminal_or_forge_a_line(client, question, word):
    more = {"of": "tree"} if question == "drawing" else {}
    for named in ({**SHOP, "name": word}, {**SHOP, "runs": [{**SHOP["runs"][0], "id": word}, *SHOP["runs"][1:]]}):
        with pytest.raises(airbough.InvalidRequest, match="no control characters"):
            getattr(client, question)({**named, **more})


def test_a_report_holds_no_control_characters(client):
    text = report.report(client.operating_point({**SHOP, "name": "säge 🪚 №1"}))
    assert {character for character in text if unicodedata.category(character) in ("Cc", "Zl", "Zp")} == {"\n"}
    assert text.startswith("säge 🪚 №1:")


def test_report_of_no_findings():
    """Nothing wrong is said as what was checked, never as approval."""
    assert report.findings([]) == ["Every check that was made holds."]


def test_report_of_gate_states(client):
    """How many states fail, and the worst of them."""
    answer = client.gate_states({**SHOP, "up_to": 1})
    text = report.gate_states(answer)
    assert f"Of {answer.system.states} states examined" in text
    assert "Worst for carrying dust" in text
    assert "all gates shut" in text


def test_report_of_gate_states_tells_every_named_state(client):
    states = [{"name": "planing", "open": ["planer"]}, {"name": "sawing", "open": ["table-saw"]}]
    answer = client.gate_states({**SHOP, "up_to": 1, "states": states})
    text = report.gate_states(answer)
    named = {state.name: state for state in answer.states if state.named}
    assert list(named) == ["planing", "sawing"]
    for name, state in named.items():
        (line,) = [line for line in " ".join(text.split()).split(" - ") if line.startswith(f"{name}: ")]
        assert f"{float(f'{state.flow:.3g}'):.0f} cfm" in line
        assert f"{100.0 * state.share_of_design:.0f} % of its design flow" in line
        assert ("every check holds" in line) == state.holds


def test_a_report_says_which_state_its_tables_are_of(client):
    answer = client.gate_states({**SHOP, "states": [{"name": "planing", "open": ["planer"]}]})
    assert answer.system.state == "planing"
    assert "gates as in: planing." in report.report(answer)
    assert "gates as in" not in report.report(client.operating_point(SHOP))


def test_report_of_a_balance_has_no_outcome(client):
    """A balance has no operating point to tell."""
    text = report.report(client.balance(SHOP))
    assert "The fan moves" not in text
    assert "\nmain " in text


def test_report_of_a_parts_list_lists_cuts(client):
    """Every cut of the plan stands in the text."""
    pipe = {
        "item": "pipe 6 in", "diameter": 6.0, "duct": "spiral-galvanized", "piece_length": 10.0,
        "upstream_end": "receives", "downstream_end": "enters", "price": 20.0,
    }  # fmt: skip
    answer = client.parts_list({**SHOP, "stock": {"ducts": [pipe]}})
    text = report.parts_list(answer)
    joined = " ".join(text.split())
    for plan in answer.cutting:
        for bought in plan.lengths_bought:
            assert all(f"{length_told(0.3048 * cut.cut_length, 'us')} {cut.run}" in joined for cut in bought.cuts)
    assert "In all" in text


def test_report_of_a_parts_list_names_hose_that_is_not_stocked(client):
    """By its length, and the sum says that it comes on top; nothing is said of prices that all lines have."""
    shop = {**SHOP, "stock": {"ducts": [{"diameter": 6.0, "duct": "spiral-galvanized", "price_per_length": 3.0}]}}
    answer = client.parts_list(shop)
    hoses = [need for need in answer.not_stocked if need.length is not None and need.type == "hose"]
    assert hoses
    text = " ".join(report.report(answer).split())
    for need in hoses:
        assert f"{length_told(0.3048 * need.length, 'us')} of hose, " in text.split("NOT IN THE STOCK LIST", 1)[1]
    assert "what is not in the stock list comes on top" in text


def test_joints_name_runs_as_the_caller_does(client):
    """A hyphen of a run's id stays, one of a word of the wire does not."""
    shop = json.loads(json.dumps(SHOP).replace('"main"', '"main-duct_1"'))
    sticks = [{"diameter": size, "duct": "spiral-galvanized", "piece_length": 5.0} for size in (4, 5, 6, 7, 8)]
    text = report.parts_list(client.parts_list({**shop, "stock": {"ducts": sticks}}))
    assert " of main-duct_1 " in text
    assert "main duct" not in text


def test_ports_of_one_machine_are_told_apart_where_they_lack_air(client):
    """By their runs; the sum counts hoods, not machines."""
    runs = [{**run, "hood": {**run["hood"], "machine": "table-saw", "flow": 2000}} if "hood" in run else run
            for run in SHOP["runs"]]  # fmt: skip
    answer = client.operating_point({**SHOP, "runs": runs})
    text = " ".join(report.report(answer).split())
    assert f"of {sum(hood.served is not None for hood in answer.hoods)} open hoods" in text
    lacking = [hood.run for hood in answer.hoods if hood.served not in (None, "holds")]
    assert len(lacking) > 1
    assert all(f"table saw at {run} " in text for run in lacking)


@pytest.mark.parametrize("by", ["gates", "flow"])
def test_report_of_a_balance_tells_what_to_do_at_each_branch(client, by):
    """The governing path, then a row for each branch that another governs; a gate by its opening and what it adds."""
    answer = client.balance({**SHOP, "by": by})
    text = report.report(answer)
    told = " ".join(text.split())
    assert f"asks most of the fan: {', '.join(answer.system.governing_path)}." in told.replace("- ", "-")
    todo = [branch for branch in answer.branches if branch.action != "none"]
    assert todo
    rows = text[text.index("what to do") :]
    for branch in todo:
        (row,) = [line for line in rows.splitlines() if line.startswith(f"{branch.run} ")][:1]
        if branch.action == "gate" and branch.gate_opening is not None:
            assert f"gate of {branch.gate_run} {round(100 * branch.gate_opening)} % open" in row
        if branch.action == "raise-flow":
            assert "let it take" in row
        if branch.action == "leave":
            assert "leave it" in row


def test_report_of_a_diagnosis_says_that_its_tables_hold_none_of_the_causes(client):
    reading = {"quantity": "fan-static-pressure", "value": 5.0}
    answer = client.diagnosis({**SHOP, "state": "as-document", "readings": [reading]})
    assert "computed from the document, without any of the causes" in " ".join(report.report(answer).split())


def test_report_of_several_fans_says_where_dust_settles(client):
    """A weak fan may serve its hoods and not carry their dust: that stands in its row."""
    weak = {"curve": [{"flow": 0, "pressure": 4}, {"flow": 900, "pressure": 2}], "rated_as": "fan-static"}
    if SHOP["collector"].get("losses"):
        weak["includes"] = []
    answer = client.operating_point({**SHOP, "fans": [{"name": "weak one", "fan": weak}]})
    (told,) = answer.fans
    assert "below-transport-velocity" in told.findings
    (row,) = [line for line in report.report(answer).splitlines() if line.startswith("weak one ")]
    assert "below transport velocity" in row


def test_report_of_a_day_does_not_say_that_no_chips_stay_where_air_is_slow(client):
    """They lie for sure in still slower air; what may settle is said."""
    planer = {"machine": "planer", "times": [{"on": 0, "off": 600}]}
    seen = set()
    for ratio in (0.7, 0.85, 1.0, 1.2, 1.4):
        fan = {**SHOP["collector"]["fan"], "speed_ratio": ratio}
        day = {**SHOP, "machines": [planer], "gate_delay": 60, "fan_delay": 60, "duration": 3600}
        answer = client.working_day({**day, "collector": {**SHOP["collector"], "fan": fan}})
        if answer.left:
            continue
        slow = any(finding.code in ("below-transport-velocity", "chips-may-settle") for finding in answer.findings)
        text = " ".join(report.report(answer).split())
        assert ("No chips stay." in text) is not slow
        assert ("No chips are sure to stay" in text) is slow
        seen.add(slow)
    assert seen == {True, False}
