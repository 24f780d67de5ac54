"""Computing off the event loop: a few threads, a bounded queue before them and a limit of time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from threading import Lock
from typing import Any, TypeVar

from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.core import deadline

Result = TypeVar("Result")


class Workers:
    """The threads that compute; past the limit of time a question gives its thread back when it next asks for it."""

    def __init__(self, settings: Settings) -> None:
        self._threads: ThreadPoolExecutor | None = None
        self._number = settings.heavy_requests
        self._most = settings.heavy_requests + settings.heavy_waiting
        self._seconds = settings.compute_timeout
        self._counting = Lock()
        self._present = 0

    async def run(self, work: Callable[[], Result]) -> Result:
        """Return what `work` returns, computed in a thread.

        Raises:
            HttpRefusal: `busy` where too many wait already.
            OutOfTimeError: after the limit of time, told as `took-too-long`.
        """
        if self._present >= self._most:
            raise HttpRefusal("busy", "too many questions are being computed; ask again in a moment")
        until = deadline.within(self._seconds)

        def limited() -> Result:
            with deadline.limited(until):
                return work()

        future = self._submit(limited)
        try:
            async with asyncio.timeout(self._seconds):
                return await asyncio.shield(future)
        except TimeoutError:
            future.cancel()
            raise deadline.OutOfTimeError from None

    async def run_patiently(self, work: Callable[[], Result]) -> Result:
        """Return what a short piece of `work` returns, however long the queue."""
        return await asyncio.shield(self._submit(work))

    def _submit(self, work: Callable[[], Result]) -> asyncio.Future[Result]:
        if self._threads is None:
            self._threads = ThreadPoolExecutor(self._number, thread_name_prefix="computing")
        with self._counting:
            self._present += 1
        taken = self._threads.submit(work)
        taken.add_done_callback(self._leave)
        future = asyncio.wrap_future(taken)
        future.add_done_callback(_look_at)
        return future

    def _leave(self, _: Future[Result]) -> None:
        """Count work out when its thread is done with it, be its caller gone or told already."""
        with self._counting:
            self._present -= 1

    def close(self) -> None:
        """Let the threads end; what has not begun is dropped."""
        if self._threads is not None:
            self._threads.shutdown(wait=False, cancel_futures=True)
        self._threads = None


def _look_at(future: asyncio.Future[Any]) -> None:
    """Take notice of an error that nobody waits for any more."""
    if not future.cancelled():
        future.exception()
