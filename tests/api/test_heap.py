import os
import platform
import threading
import time
import types

import pytest

from airbough_service.api.compute import heap
from airbough_service.api.compute.heap import Heap
from serving import held

BLOCK = 2_000
BLOCKS = 30_000
"""Together some 60 MB, in pieces that the C library takes from its heaps."""
EVERY = 500
"""Of so many one stays, wherever the library has put them: what is free at the end of a heap goes by itself."""

GLIBC = platform.libc_ver()[0] == "glibc"


def leave_free():
    """Take much memory in a thread and let go of nearly all of it; what stays keeps the heap from shrinking."""
    kept = []

    def work():
        taken = [bytearray(BLOCK) for _ in range(BLOCKS)]
        kept.extend(taken[::EVERY])

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    return kept


@pytest.mark.skipif(not GLIBC, reason="elsewhere nothing is done")
def test_memory_that_was_let_go_is_given_back():
    kept = leave_free()
    before = held(os.getpid())
    assert Heap().give_back()
    assert before - held(os.getpid()) > 0.5 * BLOCK * BLOCKS / 1024
    assert kept


@pytest.mark.parametrize(
    ("given", "left_alone"),
    [
        ({}, set()),
        ({"MALLOC_ARENA_MAX": "8"}, {-8}),
        ({"GLIBC_TUNABLES": "glibc.malloc.arena_max=8:glibc.malloc.trim_threshold=1"}, {-8, -1}),
        ({"MALLOC_MMAP_THRESHOLD_": "9", "MALLOC_TRIM_THRESHOLD_": "9"}, {-3, -1}),
    ],
)
def test_what_an_operator_has_set_stays(monkeypatch, given, left_alone):
    """Names of the variables: mallopt(3); of the tunables: the GNU C library's manual, Memory Allocation Tunables."""
    library, told = types.SimpleNamespace(mallopt=lambda what, _: told.append(what)), []
    for name in ("MALLOC_ARENA_MAX", "MALLOC_MMAP_THRESHOLD_", "MALLOC_TRIM_THRESHOLD_", "GLIBC_TUNABLES"):
        monkeypatch.delenv(name, raising=False)
    for name, text in given.items():
        monkeypatch.setenv(name, text)
    monkeypatch.setattr(heap, "_LIBRARY", library)
    Heap()
    assert set(told) == {-8, -3, -1} - left_alone


@pytest.mark.skipif(not GLIBC, reason="elsewhere nothing is done")
def test_it_is_given_back_now_and_then_only(monkeypatch):
    own = Heap()
    assert own.give_back()
    assert not own.give_back()
    now = time.monotonic()
    monkeypatch.setattr(time, "monotonic", lambda: now + 60.0)
    assert own.give_back()


def test_where_the_library_is_another_one_nothing_is_done(monkeypatch):
    monkeypatch.setattr(heap, "_LIBRARY", None)
    assert not Heap().give_back()
