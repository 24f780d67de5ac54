"""What the folder of compiled loops holds already, and who may compile more of them."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import numba
from llvmlite import binding  # type: ignore[import-untyped]  # it has no types
from numba.core import event

from airbough_service.core.kept import not_kept
from airbough_service.core.turns import folder

_COMPILE: Final = "numba:compile"
_LOCK: Final = "numba:compiler_lock"


def _note(part: str) -> Path:
    """Return the file that says that the folder holds a part's loops, for this processor and this compiler."""
    processor = numba.config.CPU_NAME or binding.get_host_cpu_name()  # type: ignore[attr-defined]
    return folder() / f"{part}-{processor}-{numba.__version__}"


def noted(part: str) -> bool:
    """Return whether a part's loops have been compiled into the folder before."""
    return _note(part).exists()


def note(part: str) -> None:
    """Note that a part's loops are compiled and kept; where this process could not keep all, nothing is noted."""
    if not_kept() is None:
        with contextlib.suppress(OSError):
            _note(part).touch()


@contextlib.contextmanager
def refused_elsewhere(refusal: Callable[[], Exception]) -> Iterator[None]:
    """Raise a refusal in any other thread of this process that would compile a loop, instead of compiling it.

    A loop that the folder holds is loaded, which takes a moment; but while this thread compiles, that is refused too:
    the compiler's lock would be waited for as long.
    """
    listener = _Refusing(refusal)
    for kind in (_COMPILE, _LOCK):
        event.register(kind, listener)  # type: ignore[no-untyped-call]  # numba has no types
    try:
        yield
    finally:
        for kind in (_COMPILE, _LOCK):
            event.unregister(kind, listener)  # type: ignore[no-untyped-call]  # as above


class _Refusing(event.Listener):
    """Is told, in the thread concerned, before a loop is compiled and before the compiler's lock is waited for."""

    def __init__(self, refusal: Callable[[], Exception]) -> None:
        self._refusal, self._own = refusal, threading.get_ident()
        self._under_way = 0  # what the thread that this was made in compiles: a loop, and those that it calls

    def on_start(self, event: event.Event) -> None:
        """Refuse, but in the thread that this was made in."""
        if threading.get_ident() == self._own:
            self._under_way += event.kind == _COMPILE
        elif event.kind == _COMPILE or self._under_way:
            raise self._refusal()

    def on_end(self, event: event.Event) -> None:
        """Note that a loop is compiled."""
        if threading.get_ident() == self._own:
            self._under_way -= event.kind == _COMPILE
