"""The command: verdicts, exit statuses, shapes of output, resuming, local and remote alike."""

import contextlib
import csv
import io
import json
import os
import signal
import subprocess
import time
from xml.etree import ElementTree

import pytest
from pyarrow import parquet

import airbough
import shops
from commanding import COMMAND, DEMONSTRATION, HOME, run, small
from serving import Served


@pytest.fixture
def folder(tmp_path):
    """Invented shops: one holds, one starves, one is against the schema, one is no JSON, one file holds two."""
    (tmp_path / "a-holds.json").write_text(json.dumps(small(700)))
    (tmp_path / "b-starves.json").write_text(json.dumps(small(5000)))
    (tmp_path / "c-refused.json").write_text(json.dumps({**small(700), "units": "cubits"}))
    (tmp_path / "d-broken.json").write_text("{nope")
    (tmp_path / "e-list.json").write_text(json.dumps([small(700), small(701)]))
    (tmp_path / "notes.txt").write_text("no design")
    return tmp_path


def test_the_command_is_a_process_of_its_own():
    told = subprocess.run([*COMMAND, "--version"], capture_output=True, text=True, env=HOME, timeout=120, check=True)
    assert told.stdout.strip() == airbough.__version__


def test_one_question_is_answered_as_json_from_a_file_and_from_words():
    told = run("ask", "operating-point", DEMONSTRATION)
    assert told.returncode == 0, told.stderr
    assert json.loads(told.stdout)["outcome"] == "operating-point"
    words = ("units=us", "flow=800", "diameter=6", "length=10", "duct=spiral-galvanized")
    assert json.loads(run("ask", "friction-loss", *words).stdout)["friction_loss"] > 0.0


def test_a_document_is_read_from_standard_input_and_from_yaml(tmp_path):
    (tmp_path / "shop.yaml").write_text("units: us\nair: {temperature: 68}\n")
    by_file = run("ask", "air", tmp_path / "shop.yaml")
    by_input = run("ask", "operating-point", "-", text=json.dumps(small(700)))
    assert (by_file.returncode, by_input.returncode) == (2, 0)
    assert "air" in by_file.stderr  # a field that the question does not have is told by its name


def test_a_report_and_a_drawing_are_written(tmp_path):
    assert run("report", DEMONSTRATION, "-o", tmp_path / "report.txt").returncode == 0
    assert "Cautions" in (tmp_path / "report.txt").read_text()
    assert run("draw", DEMONSTRATION, "--of", "fan", "-o", tmp_path / "fan.svg").returncode == 0
    ElementTree.parse(tmp_path / "fan.svg")


def test_each_design_has_a_verdict_and_the_worst_decides_the_exit_status(folder):
    told = run("check", ".", "--print", "json", into=folder)
    rows = {row["place"]: row for row in json.loads(told.stdout)}
    assert {place: row["verdict"] for place, row in rows.items()} == {
        "a-holds.json": "holds",
        "b-starves.json": "fails",
        "c-refused.json": "refused",
        "d-broken.json": "refused",
        "e-list.json#1": "holds",
        "e-list.json#2": "holds",
    }
    assert rows["b-starves.json"]["grave"][0][0] == "hood-starved"
    assert rows["c-refused.json"]["faults"][0][0] == "units"
    assert told.returncode == 2
    assert run("check", "a-holds.json", into=folder).returncode == 0
    assert run("check", "a-holds.json", "b-starves.json", into=folder).returncode == 1
    assert run("check", "b-starves.json", "--fail-from", "danger", into=folder).returncode == 0
    assert run("check", "nowhere.json", into=folder).returncode == 2


def test_verdicts_are_told_as_a_table_as_junit_as_csv_and_as_parquet(folder):
    table = run("check", ".", into=folder).stdout
    assert "6 designs: 3 hold, 1 fail, 2 refused" in table
    suite = ElementTree.fromstring(run("check", ".", "--print", "junit", into=folder).stdout).find("testsuite")
    assert (suite.get("tests"), suite.get("failures"), suite.get("errors")) == ("6", "1", "2")
    assert run("check", ".", "-o", "rows.csv", into=folder).returncode == 2
    rows = list(csv.DictReader(io.StringIO((folder / "rows.csv").read_text())))
    (folder / "rows.csv").unlink()
    assert run("check", ".", "-o", "rows.parquet", into=folder).returncode == 2
    stored = parquet.read_table(folder / "rows.parquet").to_pylist()
    assert [row["verdict"] for row in rows] == [row["verdict"] for row in stored]
    assert float(rows[0]["flow"]) == stored[0]["flow"]
    assert not list(folder.glob("*.part"))


def test_a_name_with_control_characters_reaches_neither_terminal_nor_xml(tmp_path):
    name = "shop\x1b[31m\x07.json"
    (tmp_path / name).write_text(json.dumps(small(5000)))
    table, junit = (run("check", ".", "--print", shape, into=tmp_path).stdout for shape in ("table", "junit"))
    assert "\x1b" not in table
    assert "\x07" not in table
    ElementTree.fromstring(junit)


def many(path, number):
    """Write that many invented shops, one a line, every tenth against the schema."""
    lines = [shops.shop(seed, 3) | {"units": "us" if seed % 10 else "cubits"} for seed in range(number)]
    path.write_text("".join(json.dumps(line) + "\n" for line in lines))


def answers(path):
    return sorted(path.read_bytes().splitlines())


def interrupted(folder, cut):
    """Check designs and kill that when the first answers are there; return how many are."""
    words = ["nice", *COMMAND, "check", "many.ndjson", "-o", cut.name, "--resume"]
    process = subprocess.Popen(words, cwd=folder, env=HOME, stdout=subprocess.DEVNULL, start_new_session=True)
    end = time.monotonic() + 300
    while process.poll() is None and time.monotonic() < end and not (cut.exists() and b"\n" in cut.read_bytes()):
        time.sleep(0.01)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    return cut.read_bytes().count(b"\n") if cut.exists() else 0


def test_an_interrupted_check_goes_on_and_asks_each_design_once(tmp_path):
    many(tmp_path / "many.ndjson", 240)
    assert run("check", "many.ndjson", "-o", "whole.ndjson", into=tmp_path).returncode == 2
    cut = tmp_path / "cut.ndjson"
    while not 0 < (before := interrupted(tmp_path, cut)) < 240:
        assert before == 240, "nothing came in time"
        cut.unlink()  # all was done before this test looked: once more
    with cut.open("ab") as file:
        file.write(b'{"id": "many.ndjson:3')  # a line cut off
    assert run("check", "many.ndjson", "-o", "cut.ndjson", "--resume", into=tmp_path).returncode == 2
    assert answers(cut) == answers(tmp_path / "whole.ndjson")

    (tmp_path / "many.ndjson").write_text(json.dumps(small(1)) + "\n")
    changed = run("check", "many.ndjson", "-o", "cut.ndjson", "--resume", into=tmp_path)
    assert changed.returncode == 2
    assert "changed since" in changed.stderr


def test_the_service_and_the_engine_here_give_the_same_bytes(tmp_path):
    many(tmp_path / "many.ndjson", 60)
    run("check", "many.ndjson", "-o", "here.ndjson", into=tmp_path)
    with Served() as served:
        run("check", "many.ndjson", "-o", "there.ndjson", "--service", served.address, into=tmp_path)
    assert answers(tmp_path / "here.ndjson") == answers(tmp_path / "there.ndjson")
    unreached = run("check", "many.ndjson", "--service", "http://127.0.0.1:9", into=tmp_path)
    assert unreached.returncode == 3
    assert unreached.stderr.strip()


def test_parts_of_answers_are_kept_alike_here_and_by_the_service_and_verdicts_stay(tmp_path):
    many(tmp_path / "many.ndjson", 12)
    words = ("check", "many.ndjson", "--print", "json", "--only", "hoods.flow")
    whole = run("check", "many.ndjson", "--print", "json", "-o", "whole.ndjson", into=tmp_path)
    here = run(*words, "-o", "here.ndjson", into=tmp_path)
    with Served() as served:
        there = run(*words, "-o", "there.ndjson", "--service", served.address, into=tmp_path)
    assert here.stdout == there.stdout == whole.stdout == run(*words[:4], into=tmp_path).stdout
    assert here.returncode == whole.returncode
    assert answers(tmp_path / "here.ndjson") == answers(tmp_path / "there.ndjson")
    lines = [json.loads(line) for line in (tmp_path / "here.ndjson").read_text().splitlines()]
    told = [line["answer"]["told"] for line in lines if line["status"] == 200]
    assert told
    assert all(set(one) == {"findings", "outcome", "system", "hoods"} for one in told)


def test_what_moved_since_is_told(tmp_path):
    many(tmp_path / "many.ndjson", 20)
    run("check", "many.ndjson", "-o", "old.ndjson", into=tmp_path)
    same = run("check", "many.ndjson", "--against", "old.ndjson", into=tmp_path)
    assert "20 designs compared, 0 moved" in same.stdout
    lines = [json.loads(line) for line in (tmp_path / "old.ndjson").read_text().splitlines()]
    lines[1]["answer"]["system"]["flow"] *= 1.02
    lines[2]["answer"]["findings"] = []
    lines[3]["digest"] = "another"
    (tmp_path / "old.ndjson").write_text("".join(json.dumps(line) + "\n" for line in lines[:-1]))
    told = run("check", "many.ndjson", "--against", "old.ndjson", into=tmp_path).stdout
    assert "18 designs compared, 2 moved, 0 only before, 1 only now, 1 changed themselves" in told
    assert "system.flow: moved in 1; at most 0.0196 of it" in told
    assert "1 gained it, 0 lost it" in told
