"""Who compiles what, where several processes fill one folder of compiled loops."""

import contextlib
import os
import shutil
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numba
import pytest
from numba.core import event
from numba.core.caching import FunctionCache
from numba.core.compiler_lock import global_compiler_lock

from airbough_service.core import compiling, kept, turns

HOLDS_A_TURN = """
import sys
from airbough_service.core import turns
with turns.turn("part", wait=False) as mine:
    print(mine, flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The folder within `tmp_path` that a process takes which is told to keep its compiled loops there."""
    own = tmp_path / Path(numba.config.CACHE_DIR).name
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(own))
    return own


def test_a_part_that_another_process_compiles_is_left_to_it_until_it_is_done(folder):
    environment = {"NUMBA_CACHE_DIR": str(folder.parent)}
    program = [sys.executable, "-c", HOLDS_A_TURN]
    with subprocess.Popen(program, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment) as other:
        assert other.stdout.readline() == "True\n"
        with turns.turn("part", wait=False) as mine, turns.turn("other", wait=False) as others:
            assert (mine, others) == (False, True)
        other.stdin.close()
        with turns.turn("part", wait=True) as mine:
            assert mine
            assert other.wait(timeout=30) == 0


def test_another_version_takes_another_folder_of_the_one_that_the_caller_names(tmp_path):
    """Else a loop that calls a changed one runs on as it was, and the old version's note holds for the new one."""
    own = tmp_path / "airbough_service" / "core"
    shutil.copytree(Path(compiling.__file__).parent, own, ignore=shutil.ignore_patterns("__pycache__"))
    (own.parent / "__init__.py").touch()
    told = [_taken(tmp_path)]
    with (own / "limits.py").open("a") as changed:
        changed.write("# changed\n")
    told.append(_taken(tmp_path))
    assert len({*told, tmp_path / "loops"}) == 3
    assert {folder.parent for folder in told} == {tmp_path / "loops"}


def test_sources_of_another_place_or_time_take_another_folder_too(tmp_path):
    """numba finds none of the others' loops: a note that they are there would hold up a start, and hide why."""
    told = []
    for place in (tmp_path / "one", tmp_path / "two"):
        own = place / "airbough_service" / "core"
        shutil.copytree(Path(compiling.__file__).parent, own, ignore=shutil.ignore_patterns("__pycache__"))
        (own.parent / "__init__.py").touch()
        told.append(_taken(place))
    os.utime(own / "limits.py", (1.0, 1.0))
    told.append(_taken(place))
    assert len({folder.name for folder in told}) == 3
    assert _taken(place) == told[-1]


def _taken(place):
    program = "import numba, airbough_service.core; print(numba.config.CACHE_DIR)"
    environment = {"NUMBA_CACHE_DIR": str(place / "loops"), "PYTHONPATH": str(place)}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=place, env=environment, capture_output=True, text=True, check=True
    )
    return Path(done.stdout.strip())


def test_a_folder_that_takes_nothing_keeps_nobody_from_compiling(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path / "file" / "loops"))
    with turns.turn("part", wait=False) as mine:
        assert mine
    compiling.note("part")
    assert not compiling.noted("part")


HOLDS_NO_LOOPS = """
import sys
from pathlib import Path
import numba, airbough_service.core
from airbough_service.core.kept import not_kept
from airbough_service.core.laws.friction import friction_factor
from airbough_service.core import compiling
inside = Path(airbough_service.core.__file__).parent
before = set(inside.rglob("*.nb?"))
friction_factor(1.0e5, 1.0e-4)
compiling.note("part")
more = [path for path in set(inside.rglob("*.nb?")) - before if not path.parent.parent.name.startswith("kernel-")]
print(type(not_kept()).__name__, not_kept().strerror, compiling.noted("part"), len(more))
"""


@pytest.mark.parametrize("place", ["file/loops", "full"])
def test_where_nothing_can_be_kept_a_process_compiles_for_itself_and_knows(tmp_path, place):
    """A folder that cannot be; and one in which no file takes more than 100 bytes, as one of a full disk takes none."""
    (tmp_path / "file").touch()
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))\n" * (place == "full")
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / place), "HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", limit + HOLDS_NO_LOOPS], env=environment, capture_output=True, text=True, check=True
    )
    why = "OSError File too large" if place == "full" else "NotADirectoryError Not a directory"
    assert done.stdout == f"{why} False 0\n"
    assert not list(tmp_path.rglob("*.nbc"))


@pytest.mark.parametrize("end", ["nbi", "nbc"])
@pytest.mark.parametrize(
    "left",
    [lambda whole: b"", lambda whole: whole[: len(whole) // 2], lambda whole: bytes(300)],
    ids=["empty", "half", "zeros"],
)
def test_what_a_loss_of_power_left_torn_is_compiled_anew(tmp_path, end, left):
    """A file system may keep of a file written last its name and its length alone; from memory."""
    (tmp_path / "loops.py").write_text(
        "from airbough_service.core.compiled import compiled\n@compiled\ndef twice(number):\n    return 2 * number\n"
    )
    program = "import loops; print(loops.twice(4), loops.twice.stats.cache_hits.total())"
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "kept"), "PYTHONPATH": str(tmp_path)}
    told = []
    for run in range(3):
        done = subprocess.run(
            [sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True
        )
        told.append(done.stdout)
        if run == 0:
            (torn,) = tmp_path.rglob(f"loops*.{end}")
            torn.write_bytes(left(torn.read_bytes()))
    assert told == ["8 0\n", "8 0\n", "8 1\n"]


def test_without_a_word_of_the_caller_loops_are_kept_where_they_can_be(tmp_path):
    """Beside the sources; where those lie in a folder that cannot be written to, in the user's own."""
    own = tmp_path / "airbough_service" / "core"
    shutil.copytree(Path(compiling.__file__).parent, own, ignore=shutil.ignore_patterns("__pycache__"))
    (own.parent / "__init__.py").touch()
    given = {"NUMBA_CACHE_DIR": "", "PYTHONPATH": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "kept")}
    program = "import numba, airbough_service.core; print(numba.config.CACHE_DIR)"
    told = []
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-B", "-c", program], cwd=tmp_path, env=os.environ | given, capture_output=True, text=True,
            check=True,
        )  # fmt: skip
        told.append(Path(done.stdout.strip()))
        shutil.rmtree(own / "__pycache__", ignore_errors=True)
        (own / "__pycache__").touch()  # a folder that nobody can make
    assert [folder.parent for folder in told] == [own / "__pycache__", tmp_path / "kept" / "airbough"]


def test_one_after_the_other_keeps_a_loop(folder, monkeypatch):
    """Else two processes give loops for unlike arguments one number, and one is loaded in place of the other."""
    meeting, met = threading.Barrier(2), []

    def keep(*_):
        with contextlib.suppress(threading.BrokenBarrierError):  # which waits in vain for another that keeps
            meeting.wait(1.0)
            met.append(True)

    monkeypatch.setattr(kept, "_save_overload", keep)
    with ThreadPoolExecutor(2) as both:
        list(both.map(lambda signature: FunctionCache.save_overload(None, signature, None), ("one", "other")))
    assert meeting.broken
    assert not met


def test_what_is_noted_holds_for_one_part_and_one_processor_alone(folder, monkeypatch):
    folder.mkdir()
    assert not compiling.noted("part")
    compiling.note("part")
    assert (compiling.noted("part"), compiling.noted("other")) == (True, False)
    monkeypatch.setattr(numba.config, "CPU_NAME", "another")
    assert not compiling.noted("part")


class StillCompiledError(Exception):
    pass


def test_a_loop_that_is_not_compiled_is_refused_in_any_other_thread():
    @numba.njit
    def twice(number):
        return 2 * number

    with compiling.refused_elsewhere(StillCompiledError), ThreadPoolExecutor(1) as other:
        with pytest.raises(StillCompiledError):
            other.submit(twice, 1).result()
        assert twice(1) == 2
        assert other.submit(twice, 1).result() == 2
        with pytest.raises(StillCompiledError):
            other.submit(twice, 1.5).result()
    with ThreadPoolExecutor(1) as other:
        assert other.submit(twice, 1.5).result() == 3.0


def test_while_the_own_thread_compiles_no_other_waits_for_the_compiler():
    @numba.njit
    def twice(number):
        return 2 * number

    @numba.njit
    def thrice(number):
        return 3 * number

    with ThreadPoolExecutor(1) as other, compiling.refused_elsewhere(StillCompiledError):
        with global_compiler_lock, event.trigger_event("numba:compile"):  # as of a loop that takes long
            asked = other.submit(thrice, 1)
            with pytest.raises(StillCompiledError):
                asked.result(20)
        assert twice(1) == 2
    assert thrice(1) == 3
