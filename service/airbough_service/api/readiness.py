"""Whether the service lives and is ready: ready once the compiled solver is warm."""

from __future__ import annotations

import contextlib
import gc
import os
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from typing import Final

import msgspec
from litestar.handlers import BaseRouteHandler

from airbough.calls import CALLS
from airbough.wire.known import known
from airbough_service.api.admission.guard import Connection
from airbough_service.api.document import (
    examples,
)
from airbough_service.api.http.respond import AnyCall
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.combined import registry
from airbough_service.core import compiling
from airbough_service.core.warm import warm

_LOOK_SECONDS: Final = 0.2
_COMPILE: Final = (sys.executable, "-m", "airbough_service.core.warm")
_COMPILERS: Final = 2
_CIRCLES_AFTER: Final = (20_000, 20, 10)
"""Things made and not yet let go until circles are looked for among the young; so many looks make one at the older."""


@dataclass(slots=True)
class Readiness:
    """Whether questions can be answered at full speed."""

    ready: bool = False

    def guard(self, _: Connection, __: BaseRouteHandler) -> None:
        """Let a question pass once it can be answered; raises as `refuse_until_ready`."""
        self.refuse_until_ready()

    def refuse_until_ready(self) -> None:
        """Let a question pass once it can be answered.

        Raises:
            HttpRefusal: `busy`.
        """
        if not self.ready:
            raise HttpRefusal("busy", "the solver is still being compiled; ask again in a moment")

    def warm_beside(self) -> None:
        """Get ready while requests are already taken; where that fails this process ends, as it would at a start."""

        def work() -> None:
            try:
                self.warm()
                _look_for_circles_seldom()
            except BaseException as error:
                logs.fault("start", error)
                os._exit(1)

        threading.Thread(target=work, name="warming", daemon=True).start()

    def warm_first(self) -> None:
        """Get ready in another thread and wait for it here, where a signal is heeded meanwhile."""
        with ThreadPoolExecutor(1) as other:
            warming = other.submit(self.warm)
            while not warming.done():
                wait([warming], _LOOK_SECONDS)
            warming.result()
        _look_for_circles_seldom()

    def warm(self) -> None:
        """Learn the requests, compile or load the solver's loops and read the catalogue, then be ready."""
        for call in CALLS:
            known(call.request)
        if not compiling.all_noted():
            _compile()
        warm()  # loads what was compiled, or compiles it here where no folder keeps it
        for call in CALLS:
            if call.method == "GET":
                _answer_example(call)
        self.ready = True


def _look_for_circles_seldom() -> None:
    """Have the collector pass over what a served process keeps: a look at all of it stops every thread for long.

    Beside a heavy question, which makes many things, a light one waited some 100 ms for that.
    """
    gc.freeze()
    gc.set_threshold(*_CIRCLES_AFTER)


def _compile() -> None:
    """Have the loops compiled by processes of their own, which end with this one; it then loads them.

    The thread that answers clears away what a compiler of its own process leaves behind, and waits for that compiler to
    do so: for that long it heeds neither a request nor a stop.
    """
    with contextlib.ExitStack() as at_end:
        beside = [
            at_end.enter_context(subprocess.Popen(_COMPILE, stdin=subprocess.PIPE, start_new_session=True))
            for _ in range(min(_COMPILERS, os.cpu_count() or 1))
        ]
        for process in beside:
            process.wait()


def _answer_example(call: AnyCall) -> None:
    """Answer once what the event loop answers by itself: the first answers read the tables."""
    asked = examples.request(call.name)
    words = {name: asked.pop(name) for name in call.path_words}
    registry.answer(call.name, msgspec.convert(asked, call.request), **words)
