"""Whether the service is ready: once what the light questions need is compiled; and complete: once all is."""

from __future__ import annotations

import contextlib
import gc
import os
import threading
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from typing import Final

import msgspec
from litestar.handlers import BaseRouteHandler

from airbough.calls import CALLS
from airbough.wire.known import known
from airbough_service.api.admission.guard import Connection
from airbough_service.api.compilers import Compilers
from airbough_service.api.document import (
    examples,
)
from airbough_service.api.http.respond import AnyCall
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.combined import registry
from airbough_service.core import compiling
from airbough_service.core.kept import not_kept
from airbough_service.core.warm import warm
from airbough_service.core.warm_parts import FURTHER, LIGHT, PARTS

_LOOK_SECONDS: Final = 0.2
_CIRCLES_AFTER: Final = (20_000, 20, 10)
"""Things made and not yet let go until circles are looked for among the young; so many looks make one at the older."""


@dataclass(slots=True)
class Readiness:
    """Whether questions can be answered at full speed.

    Attributes:
        ready: whether the light ones can; any other is refused where it comes to a loop that is still to be compiled.
        complete: whether all can.
        compilers: what compiles, where it was started before; None, too, once it has ended.
    """

    ready: bool = False
    complete: bool = False
    compilers: Compilers | None = None

    def guard(self, _: Connection, __: BaseRouteHandler) -> None:
        """Let a question pass once light ones can be answered; raises as `refuse_until_ready`."""
        self.refuse_until_ready()

    def guard_all(self, _: Connection, __: BaseRouteHandler) -> None:
        """Let a batch pass once any question can be answered: refused whole, it is sent again as it is.

        Raises:
            HttpRefusal: `busy`.
        """
        if not self.complete:
            raise self._busy("batches are taken once all of the solver is compiled", PARTS)

    def refuse_until_ready(self) -> None:
        """Let a question pass once light ones can be answered.

        Raises:
            HttpRefusal: `busy`.
        """
        if not self.ready:
            raise self._busy("the solver is still being compiled", LIGHT)

    def _busy(self, why: str, parts: Iterable[str]) -> HttpRefusal:
        """Return the refusal of what needs parts that are not compiled; it tells when to ask again."""
        detail = f"{why}; ask again in a moment"
        if self.compilers is None:
            return HttpRefusal("busy", detail)
        return HttpRefusal("busy", detail, headers={"Retry-After": str(self.compilers.seconds_left(parts))})

    def _not_compiled(self) -> HttpRefusal:
        """Return the refusal of a question that came to a loop which is still to be compiled."""
        return self._busy("what this question needs is still being compiled", PARTS)

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
        """Get ready for all in another thread and wait for it here, where a signal is heeded meanwhile."""
        with ThreadPoolExecutor(1) as other:
            warming = other.submit(self.warm)
            while not warming.done():
                wait([warming], _LOOK_SECONDS)
            warming.result()
        _look_for_circles_seldom()

    def warm(self) -> None:
        """Have the loops compiled, learn the requests, load the loops and read the catalogue; ready and complete then.

        Ready already when the light parts are; until it is complete no other thread compiles: it would hold a place
        for long. Where no folder keeps loops they are compiled here, and it is ready when all are.
        """
        self.compilers = self.compilers or Compilers()
        with self.compilers:
            for call in CALLS:
                known(call.request)
            with contextlib.ExitStack() as until_complete:
                if self.compilers.wait_for_light(lambda name: warm((name,))):
                    until_complete.enter_context(compiling.refused_elsewhere(self._not_compiled))
                    _answer_examples()
                    self.ready = True
                self.compilers.wait()
                warm(FURTHER if self.ready else PARTS)
            if not self.ready:
                _answer_examples()
            self.ready = self.complete = True
        self.compilers = None
        if (lost := not_kept()) is not None:
            told = "compiled code cannot be kept in NUMBA_CACHE_DIR: each process compiles it anew at its start"
            logs.FAULTS.warning(told, extra={"said": {"why": lost.strerror}})


def _look_for_circles_seldom() -> None:
    """Have the collector pass over what a served process keeps: a look at all of it stops every thread for long.

    Beside a heavy question, which makes many things, a light one waited some 100 ms for that.
    """
    gc.freeze()
    gc.set_threshold(*_CIRCLES_AFTER)


def _answer_examples() -> None:
    """Answer once what the event loop answers by itself: the first answers read the tables."""
    for call in CALLS:
        if call.method == "GET":
            _answer_example(call)


def _answer_example(call: AnyCall) -> None:
    asked = examples.request(call.name)
    words = {name: asked.pop(name) for name in call.path_words}
    registry.answer(call.name, msgspec.convert(asked, call.request), **words)
