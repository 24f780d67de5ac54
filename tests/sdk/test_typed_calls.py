"""Keywords and answers are known to type checkers: what they must take and what they must find."""

from __future__ import annotations

import fcntl
import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest

import airbough
from airbough.calls import CALLS

ROOT = Path(__file__).parents[2]

GOOD = """\
import airbough
from airbough.wire.operating_point import OperatingPointAnswer

client = airbough.Client()
local = airbough.local()
reveal_type(client.friction_loss(units="us", flow=400, diameter="4 in", length=10, duct="spiral-galvanized"))
reveal_type(client.operating_point(units="us", runs=[airbough.Run(id="a", into=None, diameter=6, length=3)]))
reveal_type(client.operating_point({"units": "us", "runs": []}))
reveal_type(local.fitting("elbow", units="metric"))
reveal_type(client.balance.reply({"units": "us"}))
tree = airbough.Tree(units="us", runs=())
reveal_type(client.operating_point(tree, state=airbough.GateSetting(open=("saw",))))
shop = airbough.load("shop.json", airbough.OperatingPointRequest)
answer: OperatingPointAnswer = client.operating_point(shop.with_run("main", diameter=8).opened("planer"))
flow: float = answer.run("main").flow
rows: list[dict[str, object]] = airbough.rows(answer, "hoods")

async def ask(patient: airbough.AsyncClient) -> None:
    reveal_type(await patient.air(units="us"))
"""
REVEALED = [
    "FrictionLossAnswer", "OperatingPointAnswer", "OperatingPointAnswer", "FittingAnswer", "Reply[BalanceAnswer]",
    "OperatingPointAnswer",    "AirAnswer",
]  # fmt: skip
BAD = [
    'client.friction_loss(units="us", flow=400, diam=4, length=10)',
    'client.friction_loss(units="usx", flow=400, diameter=4, length=10)',
    'client.friction_loss(units="us", flow=400)',
    "client.air(units=7)",
    'client.air(units="us", tempreature=70)',
    'client.air(units="us", temperature=[70])',
    'client.fitting(units="us")',
    "client.balance(airbough.AirRequest(units='us'))",
    'client.operating_point(units="us", runs=7)',
    'client.operating_points(units="us")',
    'client.air(units="us").air.densty',
    "airbough.Gate(opening=None)",
    "client.balance(airbough.Tree(units='us', runs=()), bye='gates')",
]


def checked(tmp_path, text):
    file = tmp_path / "sample.py"
    file.write_text(text)
    command = [sys.executable, "-m", "mypy", "--strict", "--config-file", "pyproject.toml", "--no-pretty", str(file)]
    with (ROOT / "pyproject.toml").open() as one_at_a_time:  # both would write what mypy keeps
        fcntl.flock(one_at_a_time, fcntl.LOCK_EX)
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    return [line.partition("sample.py:")[2] for line in done.stdout.splitlines() if "sample.py:" in line]


def test_mypy_knows_the_answers(tmp_path):
    told = checked(tmp_path, GOOD)
    assert [line for line in told if "error" in line] == []
    revealed = [re.search(r'Revealed type is "(.*)"', line)[1] for line in told if "Revealed" in line]
    assert [re.sub(r"[a-z_]+\.", "", name) for name in revealed] == REVEALED


def test_mypy_finds_what_is_wrong(tmp_path):
    told = checked(tmp_path, "\n".join(["import airbough", "client = airbough.Client()", *BAD]) + "\n")
    lines = {int(line.partition(":")[0]) for line in told if "error" in line}
    assert [line for number, line in enumerate(BAD, 3) if number not in lines] == []


def test_the_stub_is_the_one_made():
    spec = importlib.util.spec_from_file_location("typed_calls", ROOT / "deploy" / "typed_calls.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    assert made.PLACE.read_text("utf-8") == made.text(), "run deploy/typed_calls.py"


@pytest.mark.parametrize("client", [airbough.Client, airbough.AsyncClient, airbough.Local])
def test_each_call_is_a_method(client):
    assert {call.method_name for call in CALLS} <= set(dir(client))


def test_help_says_what_a_question_takes():
    with airbough.Client() as client:
        for question in (client.friction_loss, client.operating_point, client.fitting):
            assert type(question).__doc__.startswith(("GET /v1/", "POST /v1/"))
            assert "units:" in type(question).__doc__
