"""Who compiles what, where several processes fill one folder of compiled loops."""

import subprocess
import sys

import numba
import pytest

from airbough_service.core import compiling

HOLDS_A_TURN = """
import sys
from airbough_service.core import compiling
with compiling.turn("part", wait=False) as mine:
    print(mine, flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "loops"))
    return tmp_path / "loops"


def test_a_part_that_another_process_compiles_is_left_to_it_until_it_is_done(folder):
    environment = {"NUMBA_CACHE_DIR": str(folder)}
    program = [sys.executable, "-c", HOLDS_A_TURN]
    with subprocess.Popen(program, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment) as other:
        assert other.stdout.readline() == "True\n"
        with compiling.turn("part", wait=False) as mine, compiling.turn("other", wait=False) as others:
            assert (mine, others) == (False, True)
        other.stdin.close()
        with compiling.turn("part", wait=True) as mine:
            assert mine
            assert other.wait(timeout=30) == 0


def test_a_folder_that_takes_nothing_keeps_nobody_from_compiling(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "file" / "loops"))
    with compiling.turn("part", wait=False) as mine:
        assert mine
    compiling.note_all()
    assert not compiling.all_noted()


def test_what_is_noted_holds_for_one_processor_alone(folder, monkeypatch):
    folder.mkdir()
    assert not compiling.all_noted()
    compiling.note_all()
    assert compiling.all_noted()
    monkeypatch.setattr(numba.config, "CPU_NAME", "another")
    assert not compiling.all_noted()
