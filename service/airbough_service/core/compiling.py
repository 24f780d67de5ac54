"""Who compiles what: turns of the processes that fill one folder of compiled loops, and what it holds already."""

from __future__ import annotations

import contextlib
import importlib.util
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import numba
from llvmlite import binding  # type: ignore[import-untyped]  # it has no types
from numba.core import event

_LOCKS: Final = importlib.util.find_spec("fcntl") is not None  # else each process compiles for itself
_COMPILE: Final = "numba:compile"


def _folder() -> Path:
    """Return where compiled loops are kept."""
    return Path(numba.config.CACHE_DIR)  # type: ignore[attr-defined]  # numba fills its config at run time


def _note(part: str) -> Path:
    """Return the file that says that the folder holds a part's loops, for this processor and this compiler."""
    processor = numba.config.CPU_NAME or binding.get_host_cpu_name()  # type: ignore[attr-defined]
    return _folder() / f"{part}-{processor}-{numba.__version__}"


def noted(part: str) -> bool:
    """Return whether a part's loops have been compiled into the folder before."""
    return _note(part).exists()


def note(part: str) -> None:
    """Note that a part's loops are compiled; where nothing can be kept, nothing is noted."""
    with contextlib.suppress(OSError):
        _note(part).touch()


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


@contextlib.contextmanager
def refused_elsewhere(refusal: Callable[[], Exception]) -> Iterator[None]:
    """Raise a refusal in any other thread of this process that would compile a loop, instead of compiling it.

    A loop that the folder holds is loaded, which takes a moment.
    """
    listener = _Refusing(refusal)
    event.register(_COMPILE, listener)  # type: ignore[no-untyped-call]  # numba has no types
    try:
        yield
    finally:
        event.unregister(_COMPILE, listener)  # type: ignore[no-untyped-call]  # as above


class _Refusing(event.Listener):
    """Is told of each loop before it is compiled, in the thread that would do so."""

    def __init__(self, refusal: Callable[[], Exception]) -> None:
        self._refusal, self._own = refusal, threading.get_ident()

    def on_start(self, event: event.Event) -> None:
        """Refuse, but in the thread that this was made in."""
        if threading.get_ident() != self._own:
            raise self._refusal()

    def on_end(self, event: event.Event) -> None:
        """Do nothing."""
