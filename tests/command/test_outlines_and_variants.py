"""The command's words for outlines and for variants of a design."""

import csv
import io
import json

import pytest

import airbough
from commanding import DEMONSTRATION, run, small

TEMPLATE = airbough.local().outline_template(units="us").csv


@pytest.fixture
def shop(tmp_path):
    path = tmp_path / "shop.csv"
    path.write_text(TEMPLATE)
    return path


def test_an_outline_gives_its_tree_its_drawings_and_each_machine_alone(shop, tmp_path):
    told = run("outline", shop, "--into", tmp_path / "made")
    assert told.returncode == 0, told.stderr
    made = {path.name: path.read_text("utf-8") for path in (tmp_path / "made").iterdir()}
    assert set(made) == {"tree.json", "tree.svg", "plan.svg", "side.svg", "report.txt"}
    tree = airbough.load(tmp_path / "made" / "tree.json", airbough.OperatingPointRequest)
    assert tree.runs == airbough.local().outline(airbough.read_outline(TEMPLATE)).tree.runs
    assert made["plan.svg"].startswith("<svg")
    assert made["report.txt"].index("The gates") < made["report.txt"].index("TAKEN")
    assert "machines[" not in made["report.txt"]
    for machine in ("planer", "saw", "band saw"):
        assert machine in made["report.txt"]
    assert run("outline", shop).stdout == made["report.txt"]


def test_what_is_found_in_an_outline_is_told_too(shop):
    shop.write_text(TEMPLATE.replace(",table-saw,", ",tabel-saw,"))
    told = run("outline", shop)
    assert told.returncode == 0, told.stderr
    assert "no machine 'tabel-saw'" in told.stdout


def test_a_faulty_outline_is_told_by_its_rows(shop):
    shop.write_text(TEMPLATE.replace("table-saw", "tabel-saw").replace("saw,main,,18", "saw,mian,,18"))
    told = run("outline", shop)
    assert told.returncode == 2
    assert "mian" in told.stderr


def test_outlines_are_checked_by_the_tree_made_of_them(shop, tmp_path):
    broken = tmp_path / "broken.csv"
    broken.write_text(TEMPLATE.replace("saw,main,,18", "saw,mian,,18"))
    told = run("check", shop, broken, "--print", "json", "-q", "gate-states")
    rows = json.loads(told.stdout)
    alone = airbough.local().gate_states(airbough.local().outline(airbough.read_outline(TEMPLATE)).tree)
    assert {code for code, *_ in rows[0]["grave"]} == {
        finding.code for finding in alone.findings if finding.severity != "note"
    }
    assert rows[1]["verdict"] == "refused"
    assert rows[1]["faults"][0][0].startswith("machines[")


def test_variants_are_rows_of_a_table(tmp_path):
    sets = ("--set", "runs[main].length=10,20", "--set", "collector.fan.speed_ratio=[0.9, 1]")
    design = tmp_path / "a.json"
    design.write_text(json.dumps(small(700)))
    told = run("variants", design, *sets, "--only", "system.flow", "--only", "hoods.share_of_design")
    assert told.returncode == 0, told.stderr
    rows = list(csv.DictReader(io.StringIO(told.stdout)))
    assert [row["name"] for row in rows][2] == "runs[main].length=20, collector.fan.speed_ratio=0.9"
    one = small(700)
    one["runs"][0]["length"], one["collector"]["fan"]["speed_ratio"] = 20, 0.9
    alone = airbough.local().operating_point(one)
    assert float(rows[2]["system.flow (ft^3/min)"]) == pytest.approx(alone.system.flow, rel=1e-12)
    assert rows[2]["design-flow"] == str(alone.hoods[0].served == "holds").lower()


def test_a_question_of_variants_is_asked_as_it_stands_and_what_fails_is_told(tmp_path):
    question = {"units": "us", "tree": small(700), "changes": [{"name": "as it is"}, {"name": "-no", "set": [{
        "path": "runs[main].duct", "value": "no-such-duct"}]}]}  # fmt: skip
    asked, into = tmp_path / "asked.json", tmp_path / "rows.csv"
    asked.write_text(json.dumps(question))
    told = run("variants", asked, "--into", into)
    assert told.returncode == 1
    assert "no-such-duct" in told.stderr
    rows = list(csv.DictReader(io.StringIO(into.read_text("utf-8"))))
    assert rows[1]["name"] == "'-no"  # no sheet takes it for a formula
    assert rows[1]["problem"]
    assert not rows[0]["problem"]
    lines = tmp_path / "rows.ndjson"
    run("variants", asked, "--into", lines)
    assert [json.loads(line)["name"] for line in lines.read_text().splitlines()] == ["as it is", "-no"]


def test_what_is_no_set_or_no_figure_is_told():
    assert "PATH=VALUE" in run("variants", DEMONSTRATION, "--set", "length").stderr
    told = run("variants", DEMONSTRATION, "--set", "runs[main].lenght=3")
    assert told.returncode == 2
    assert "lenght" in told.stderr
