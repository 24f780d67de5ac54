"""Who compiles what: turns of the processes that fill one folder of compiled loops, and whether it holds them all."""

from __future__ import annotations

import contextlib
import importlib.util
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numba
from llvmlite import binding  # type: ignore[import-untyped]  # it has no types

_LOCKS: Final = importlib.util.find_spec("fcntl") is not None  # else each process compiles for itself


def _folder() -> Path:
    """Return where compiled loops are kept."""
    return Path(numba.config.CACHE_DIR)  # type: ignore[attr-defined]  # numba fills its config at run time


def _note() -> Path:
    """Return the file that says that the folder holds every loop, for this processor and this compiler."""
    processor = numba.config.CPU_NAME or binding.get_host_cpu_name()  # type: ignore[attr-defined]
    return _folder() / f"complete-{processor}-{numba.__version__}"


def all_noted() -> bool:
    """Return whether every loop has been compiled into the folder before."""
    return _note().exists()


def note_all() -> None:
    """Note that every loop is compiled; where nothing can be kept, nothing is noted."""
    with contextlib.suppress(OSError):
        _note().touch()


@contextlib.contextmanager
def turn(part: str, *, wait: bool) -> Iterator[bool]:
    """Yield whether a part is this process's to compile now: it is where no other does so, or once that is done.

    Args:
        part: its name.
        wait: for another that compiles it; else it is left to that one.
    """
    if not _LOCKS:
        yield True
        return
    import fcntl

    with contextlib.ExitStack() as held:
        try:
            _folder().mkdir(parents=True, exist_ok=True)
            lock = held.enter_context((_folder() / f"{part}.lock").open("w"))
        except OSError:  # a folder that cannot be written to
            yield True
            return
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except OSError:
            yield False
            return
        yield True
