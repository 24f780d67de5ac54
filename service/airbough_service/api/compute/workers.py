"""Computing off the event loop: threads whose turns are fair between callers, a bounded queue, limits of time."""

from __future__ import annotations

import asyncio
import contextlib
import functools
import traceback
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, Final, TypeVar

from airbough_service.api.compute.heap import Heap
from airbough_service.api.compute.turns import (
    Turn,
    Turns,
    Work,
)
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.core import deadline

Result = TypeVar("Result")

_SECOND_LOOK: Final = 0.1
"""Seconds after which a full queue is looked at once more: callers may have left it who were not noticed yet."""


class Workers:
    """The threads that compute.

    All of it but the work itself happens on the event loop, so nothing is locked. Cancelling `run` takes the work out
    of the queue, or lets the thread give it up when its loops next ask.

    Attributes:
        seconds: that one piece of work may take.
    """

    def __init__(self, settings: Settings) -> None:
        self._turns = Turns(settings.heavy_requests, settings.heavy_waiting, self._start)
        self.seconds = settings.compute_timeout
        self._heap = Heap()
        self._computing = _Threads(2 * settings.heavy_requests, "computing")
        self._looking_up = _Threads(1, "looking-up")

    @property
    def idle(self) -> bool:
        """Whether nothing is computed, and nothing waits for its turn."""
        return self._turns.idle

    async def run(self, work: Callable[[], Result], caller: str = "") -> Result:
        """Return what `work` returns, computed in a thread when it is the caller's turn.

        Raises:
            HttpRefusal: `busy` where too many wait already, or its turn did not come in time.
            OutOfTimeError: after the limit of time since its turn came, told as `took-too-long`.
        """

        def limited() -> Result:
            with deadline.limited(deadline.within(self.seconds)):
                return work()

        try:
            given = self._enter(limited, Turn(caller))
        except HttpRefusal:
            await asyncio.sleep(_SECOND_LOOK)
            given = self._enter(limited, Turn(caller))
        try:
            await self._begun(given, self.seconds)
        except TimeoutError:
            detail = f"its turn did not come within {self.seconds:g} s; ask again in a moment"
            raise HttpRefusal("busy", detail) from None
        try:
            return await self._outcome(given, self.seconds)
        except TimeoutError:
            raise deadline.OutOfTimeError from None

    async def run_batch(self, work: Callable[[], Result], caller: str, batch: object) -> Result:
        """Return what a piece of a batch returns, in its turn; each of its lines has its own limit of time."""
        given = self._enter(work, Turn(caller, batch))
        await self._begun(given, None)
        return await self._outcome(given, None)

    async def look_up(self, work: Callable[[], Result]) -> Result:
        """Return what a moment's work returns, done off the event loop and ahead of all that is heavy."""
        return await asyncio.wrap_future(self._looking_up.submit(work))

    def _enter(self, task: Callable[[], Result], turn: Turn) -> Work[Result]:
        given = Work(turn, task, asyncio.get_running_loop().create_future())
        self._turns.enter(given)
        return given

    def _start(self, work: Work[Result]) -> asyncio.Future[Result]:
        task, interest = work.task, work.interest  # not the work: it leads to the error, and that to this frame

        def wanted() -> Result:
            try:
                with deadline.limited(None, interest):
                    deadline.check()
                    return task()
            except BaseException as error:
                _forget(error)
                raise

        loop = asyncio.get_running_loop()
        taken = self._computing.submit(wanted)
        taken.add_done_callback(functools.partial(self._free, loop, work))
        outcome = asyncio.wrap_future(taken)
        outcome.add_done_callback(_look_at)
        taken.add_done_callback(lambda _: self._heap.give_back())  # last: the answer is on its way
        return outcome

    def _free(self, loop: asyncio.AbstractEventLoop, work: Work[Any], _: Future[Any]) -> None:
        with contextlib.suppress(RuntimeError):  # the loop was closed meanwhile: the service has stopped
            loop.call_soon_threadsafe(self._turns.done, work)

    async def _begun(self, given: Work[Any], seconds: float | None) -> None:
        try:
            async with asyncio.timeout(seconds):
                await given.begun
        except BaseException:  # cancelled too: the caller has left
            self._turns.leave(given)
            raise

    async def _outcome(self, given: Work[Result], seconds: float | None) -> Result:
        assert given.outcome is not None  # it has begun
        try:
            async with asyncio.timeout(seconds):
                return await asyncio.shield(given.outcome)
        finally:
            if not given.outcome.done():
                self._turns.leave(given)

    def close(self) -> None:
        """Let the threads end; what has not begun is dropped."""
        self._computing.close()
        self._looking_up.close()


class _Threads:
    """Threads that are made when first needed."""

    def __init__(self, number: int, name: str) -> None:
        self._number, self._name = number, name
        self._pool: ThreadPoolExecutor | None = None

    def submit(self, work: Callable[[], Result]) -> Future[Result]:
        """Hand in work."""
        if self._pool is None:
            self._pool = ThreadPoolExecutor(self._number, thread_name_prefix=self._name)
        return self._pool.submit(work)

    def close(self) -> None:
        """Let the threads end; what has not begun is dropped."""
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool = None


def _forget(error: BaseException) -> None:
    """Let go of all that was computed until an error: whoever keeps the error would keep it, long after it was told."""
    told: BaseException | None = error
    while told is not None:
        traceback.clear_frames(told.__traceback__)
        told = told.__cause__ or told.__context__


def _look_at(future: asyncio.Future[Any]) -> None:
    """Take notice of an error that nobody waits for any more."""
    if not future.cancelled():
        future.exception()
