"""What compiles beside the workers, and for how long it may still do so."""

from __future__ import annotations

import math
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from typing import Final

from airbough_service.core import compiling
from airbough_service.core.kept import not_kept
from airbough_service.core.warm import PROCESSES
from airbough_service.core.warm_parts import LIGHT, PARTS

COMPILE: Final = (sys.executable, "-m", "airbough_service.core.warm")
LOOK_SECONDS: Final = 0.1
LONGEST_SECONDS: Final = 30
"""Nobody is asked to come again later than this: a caller's patience with one wait has an end."""
OVERDUE: Final = 0.2
"""Share of the time passed that is told as left where it has taken longer than was thought."""
_START_SECONDS: Final = 1.0


class Compilers:
    """Processes of their own that compile, and end with this one; several workers' share out the work.

    The thread that answers clears away what a compiler of its own process leaves behind, and waits for that compiler to
    do so: for that long it heeds neither a request nor a stop.
    """

    def __init__(self) -> None:
        self._count = min(PROCESSES, os.cpu_count() or 1)
        self._begun = time.monotonic()
        self._left = {name: part.seconds for name, part in PARTS.items() if not compiling.noted(name)}
        self._pace = 1.0
        self._processes: list[subprocess.Popen[bytes]] = []
        self._at_end = ExitStack()

    def start(self) -> Compilers:
        """Start them, unless all is compiled, they are started, or nothing that they compile could be kept."""
        if self._left and not self._processes and not_kept() is None:
            self._processes += [
                self._at_end.enter_context(subprocess.Popen(COMPILE, stdin=subprocess.PIPE, start_new_session=True))
                for _ in range(self._count)
            ]
        return self

    def __enter__(self) -> Compilers:
        """Start them."""
        return self.start()

    def __exit__(self, *given: object) -> None:
        """End them."""
        self._at_end.__exit__(None, None, None)

    def wait(self) -> None:
        """Wait until all is compiled, or none compiles any more."""
        for process in self._processes:
            process.wait()

    def wait_for_light(self, load: Callable[[str], None] = lambda _: None) -> bool:
        """Wait until the light parts are compiled, or none compiles any more; return whether they are.

        load: is given the name of each as soon as it is compiled.
        """
        for name in LIGHT:
            while not compiling.noted(name):
                if all(process.poll() is not None for process in self._processes):
                    return False
                time.sleep(LOOK_SECONDS)
            load(name)
        if self._left:
            passed = time.monotonic() - self._begun
            self._pace = max(1.0, passed / self._thought(LIGHT))
        return True

    def seconds_left(self, names: Iterable[str]) -> int:
        """Return how long it will take, roughly, until parts are compiled, s: at least 1."""
        passed = time.monotonic() - self._begun
        left = self._pace * self._thought(names) - passed
        return min(LONGEST_SECONDS, math.ceil(max(left, OVERDUE * passed, 1.0)))

    def _thought(self, names: Iterable[str]) -> float:
        """Return how long parts take from the beginning on, on a machine as quick as that of the figures."""
        return _START_SECONDS + sum(self._left.get(name, 0.0) for name in names) / self._count
