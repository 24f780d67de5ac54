"""No number of the catalogue lies idle, and no caution stays unsaid: what nothing reads is false comfort."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from serving import have_all_compiled

HERE = Path(__file__).parent
PLANTED = "checks.planted.value"


@pytest.fixture(scope="module")
def found() -> dict[str, list[str]]:
    have_all_compiled()
    command = [sys.executable, str(HERE / "reading_everything.py")]
    beside = os.environ | {"PYTHONPATH": str(HERE.parent)}
    told = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300, env=beside)
    answer: dict[str, list[str]] = json.loads(told.stdout)
    return answer


def test_every_number_is_read_by_some_answer(found):
    """But for the one that the reader plants, so that this check is seen to work."""
    assert found["untouched"] == [PLANTED]


def test_every_caution_is_said_by_some_answer(found):
    assert found["silent"] == []
