"""Every finding code is really raised: the tests of the questions are run once more with the table of codes watched."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from airbough_service.terms.codes import CODES

TESTS = Path(__file__).parents[1]
WATCHED = ("questions", "judging", "combined", "solving", "shop", "drafting", "contract/test_contract_sentences.py")


@pytest.mark.long
def test_every_code_of_the_table_is_raised_by_some_test(tmp_path):
    kept = tmp_path / "codes"
    command = [sys.executable, "-m", "pytest", "-q", "-p", "long.codes_raised", "-p", "no:cacheprovider"]
    command += [str(TESTS / name) for name in WATCHED]
    environment = os.environ | {"PYTHONPATH": str(TESTS), "CODES_RAISED": str(kept)}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, timeout=3600, check=False)
    assert done.returncode == 0, done.stdout[-3000:]
    assert set(CODES) - set(kept.read_text().split()) == set()
