"""The curl and the JavaScript of the pages under `/docs`, run as they show it against a service that asks for a key."""

import json
import os
import subprocess
from pathlib import Path

import pytest

from airbough_service.api.document import examples
from programs import needed
from samples_shown import KEY, OPERATIONS, asked, shown

pytestmark = pytest.mark.long
MODULE = Path(__file__).resolve().parents[2] / "sdk" / "js"


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with asked(tmp_path_factory.mktemp("keys")) as address:
        yield address


def printed(*words, into, text=None):
    """Return what a command prints, which must not fail."""
    told = subprocess.run(
        words, cwd=into, env=os.environ | {"AIRBOUGH_API_KEY": KEY}, input=text, capture_output=True, text=True,
        timeout=60, check=False,
    )  # fmt: skip
    assert told.returncode == 0, told.stdout + told.stderr
    return told.stdout.strip()


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_the_curl_of_every_operation_prints_its_answer(operation, address, tmp_path):
    needed("curl")
    said = printed("sh", "-e", "-u", "-c", shown(address, operation, "curl"), into=tmp_path)
    content = operation.node["responses"]["200"]["content"]
    if operation.name == "batches":
        answers = [json.loads(line) for line in said.splitlines()]
        assert answers[-1] == {"lines": 2, "answered": 2, "refused": 0}
    elif "application/json" in content:
        expected = content["application/json"]["example"]
        told = json.loads(said)
        assert told.keys() == expected.keys()
        if operation.path.startswith("/v1/"):
            assert expected == examples.answer(operation.name)
    else:
        assert said.startswith(("<!doctype html>", "{", "# HELP"))
        assert "/problems/" not in said[:100]


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_the_javascript_of_every_operation_prints_its_answer(operation, address, tmp_path):
    for name in ("airbough.js", "calls.js", "package.json"):
        (tmp_path / name).write_bytes((MODULE / name).read_bytes())
    (tmp_path / "sample.js").write_text(shown(address, operation, "JavaScript"), "utf-8")
    said = printed(needed("node"), "sample.js", into=tmp_path)
    assert said
    assert "undefined" not in said[:200]
    if not operation.path.startswith("/v1/"):
        assert said.startswith("200 ")
