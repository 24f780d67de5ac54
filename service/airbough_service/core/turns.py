"""Turns of the processes that fill one folder of compiled loops."""

from __future__ import annotations

import contextlib
import importlib.util
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numba

_LOCKS: Final = importlib.util.find_spec("fcntl") is not None  # else each process compiles for itself


def folder() -> Path:
    """Return where compiled loops are kept."""
    return Path(numba.config.CACHE_DIR)  # type: ignore[attr-defined]  # numba fills its config at run time


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
            folder().mkdir(parents=True, exist_ok=True)
            lock = held.enter_context((folder() / f"{part}.lock").open("w"))
        except OSError:  # a folder that cannot be written to
            yield True
            return
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except OSError:
            yield False
            return
        yield True
