"""No number of the catalogue lies idle, and no caution stays unsaid: what nothing reads is false comfort."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
BESIDE = "capture.capture["
"""How far a hood reaches: read by the checks against the handbook alone."""


@pytest.fixture(scope="module")
def found() -> dict[str, list[str]]:
    command = [sys.executable, str(HERE / "reading_everything.py")]
    told = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    answer: dict[str, list[str]] = json.loads(told.stdout)
    return answer


def test_every_number_is_read_by_some_answer(found):
    assert [path for path in found["untouched"] if not path.startswith(BESIDE)] == []


def test_every_caution_is_said_by_some_answer(found):
    assert found["silent"] == []


def test_the_reader_notes_what_is_left(found):
    """The check itself can fail: it sees the numbers that it is told to pass over."""
    assert any(path.startswith(BESIDE) for path in found["untouched"])
