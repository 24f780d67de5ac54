"""Whether the service lives and is ready: ready once the compiled solver is warm."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from airbough.calls import CALLS
from airbough.wire.known import known
from airbough_service.api.document import (
    examples,
)
from airbough_service.api.http.respond import AnyCall
from airbough_service.combined import registry
from airbough_service.core.warm import warm


@dataclass(slots=True)
class Readiness:
    """Whether questions can be answered at full speed."""

    ready: bool = False

    def warm(self) -> None:
        """Learn the requests, compile or load the solver's loops and read the catalogue, then be ready."""
        for call in CALLS:
            known(call.request)
        warm()
        for call in CALLS:
            if call.method == "GET":
                _answer_example(call)
        self.ready = True


def _answer_example(call: AnyCall) -> None:
    """Answer once what the event loop answers by itself: the first answers read the tables."""
    asked = examples.request(call.name)
    words = {name: asked.pop(name) for name in call.path_words}
    registry.answer(call.name, msgspec.convert(asked, call.request), **words)
