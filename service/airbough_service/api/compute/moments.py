"""Questions that take a moment, answered on the event loop where nothing else is asked of this worker.

Handing work to a thread and back costs a tenth of such an answer. It keeps what the loop promises: what waits there
waits no longer than for a thread that holds the interpreter; and where more is asked, callers take turns in threads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final, TypeGuard, TypeVar

from msgspec import Struct

from airbough.wire.balance import BalanceRequest
from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.api.compute.workers import Workers
from airbough_service.core import deadline

Result = TypeVar("Result")

SECONDS: Final = 0.005
"""What takes longer is given up here, and begun again in a thread."""
QUESTIONS: Final = frozenset({OperatingPointRequest, BalanceRequest})
MOST_BYTES: Final = 32_768  # of a body that is read on the loop
MOST_RUNS: Final = 40


class Moments:
    """What is asked of this worker and not answered yet, and what of it may be answered at once."""

    def __init__(self, workers: Workers) -> None:
        self._workers = workers
        self._asked = 0

    @contextmanager
    def asked(self) -> Iterator[None]:
        """Count a question while it is asked."""
        self._asked += 1
        try:
            yield
        finally:
            self._asked -= 1

    @property
    def at_leisure(self) -> bool:
        """Whether the question that is asked is the only one, and nothing is computed."""
        return self._asked == 1 and self._workers.idle

    def answer(self, work: Callable[[], Result]) -> Result | None:
        """Return what `work` returns; None where it takes longer than a moment."""
        try:
            with deadline.limited(deadline.within(min(SECONDS, self._workers.seconds))):
                return work()
        except deadline.OutOfTimeError:
            return None


def takes_a_moment(question: Struct | None) -> TypeGuard[OperatingPointRequest | BalanceRequest]:
    """Return whether a question is about one state of a small tree, and nothing is asked beside it."""
    if not isinstance(question, OperatingPointRequest | BalanceRequest) or len(question.runs) > MOST_RUNS:
        return False
    if isinstance(question, OperatingPointRequest) and (question.fans or question.advice):
        return False
    return not (question.explain or question.resolved) and question.uncertainty is None
