"""Compiling the core before any request, or loading what was compiled: by one process, or shared out among several."""

from __future__ import annotations

import gc
import os
import sys
import threading
import time
from collections.abc import Iterable
from typing import Final

from airbough_service.core import compiling
from airbough_service.core.kept import not_kept
from airbough_service.core.warm_parts import PARTS

PROCESSES: Final = 2
"""So many compile at once, whoever started them."""

_LOOK_SECONDS: Final = 0.05
_CIRCLES_AFTER: Final = (50_000, 20, 100)
"""The compiler makes many things that it keeps: looking for circles among them took a fourteenth of its time."""


def warm(names: Iterable[str] = PARTS) -> None:
    """Compile, or load from the folder, everything that a request may call; or these parts of it.

    Where several processes do so at once, each compiles parts that no other has begun, and takes those from the folder.
    """
    left = list(names)
    for wait in (False, True):
        for name in list(left):
            if compiling.noted(name):
                PARTS[name].compiled()
                left.remove(name)
                continue
            with compiling.turn(name, wait=wait) as mine:
                if mine:
                    PARTS[name].compiled()
                    compiling.note(name)
                    left.remove(name)


def all_noted(names: Iterable[str] = PARTS) -> bool:
    """Return whether all of these parts have been compiled before."""
    return all(map(compiling.noted, names))


def share() -> None:
    """Compile what is not compiled yet, as one of at most so many processes; return once all of it is.

    With more of them, one that compiles what nobody waits for would take its processor from what they wait for. It ends
    early where it cannot keep what it compiles: that helps nobody.
    """
    while not all_noted() and not_kept() is None:
        for place in range(min(PROCESSES, os.cpu_count() or 1)):
            with compiling.turn(f"place-{place}", wait=False) as mine:
                if mine:
                    _compile_in_turn()
                    return
        time.sleep(_LOOK_SECONDS)


def _compile_in_turn() -> None:
    """Compile part after part, in their order, of those that no other has begun."""
    done: set[str] = set()  # where nothing can be kept, only this process knows
    while left := [name for name in PARTS if name not in done and not compiling.noted(name)]:
        if not_kept() is not None:
            return
        if not _first_free(left, done):
            time.sleep(_LOOK_SECONDS)


def _first_free(left: list[str], done: set[str]) -> bool:
    """Compile the first part that is free; return whether there was one. None is passed over that is still to begin."""
    for name in left:
        if any(other in left for other in PARTS[name].after):
            return False
        with compiling.turn(name, wait=False) as mine:
            if mine:
                if not compiling.noted(name):
                    PARTS[name].compiled()
                    compiling.note(name)
                done.add(name)
                return True
    return False


def _end_with_caller() -> None:
    """End this process when the one that started it does, or needs no more help: it holds the input's other end."""
    os.read(sys.stdin.fileno(), 1)  # not by the buffer, whose lock an interpreter that ends would wait for
    os._exit(0)


if __name__ == "__main__":  # what compiles at a first start
    gc.freeze()
    gc.set_threshold(*_CIRCLES_AFTER)
    threading.Thread(target=_end_with_caller, daemon=True).start()
    share()
