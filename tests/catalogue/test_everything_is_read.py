"""No number of the catalogue lies idle, and no caution stays unsaid: what nothing reads is false comfort."""

import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def found() -> dict[str, list[str]]:
    command = [sys.executable, str(HERE / "reading_everything.py")]
    told = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    answer: dict[str, list[str]] = json.loads(told.stdout)
    return answer


def test_every_number_is_read_by_some_answer(found):
    assert found["untouched"] == []


def test_every_caution_is_said_by_some_answer(found):
    assert found["silent"] == []


def test_the_reader_notes_what_is_left():
    """The check itself can fail: a number that nothing takes is seen."""
    spec = importlib.util.spec_from_file_location("reading_everything", HERE / "reading_everything.py")
    reader = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(reader)
    content = {"read": {"value": 1.0}, "idle": {"value": 2.0}}
    table = reader.noting("file", content)
    assert table["read"]["value"] == 1.0
    assert [path for path in reader.numbers(content, "file") if path not in reader.TAKEN] == ["file.idle.value"]
