"""Several chunks of a batch under way at once; what came of them is told chunk by chunk, in order."""

from __future__ import annotations

from collections import deque
from collections.abc import AsyncGenerator, AsyncIterator, Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any, Generic, TypeAlias, TypeVar

from airbough.errors import AirboughError
from airbough.travel.batch import Chunk, Feed, Result

Came: TypeAlias = tuple[list[Result], AirboughError | None]
"""What came of a chunk: its results, and the error that broke it off."""

Awaited = TypeVar("Awaited")


def checked(at_once: int) -> int:
    """Return how many are under way at once.

    Raises:
        ValueError: below 1.
    """
    if at_once < 1:
        raise ValueError(f"at_once must be at least 1, not {at_once}")
    return at_once


@dataclass(slots=True)
class _Begun(Generic[Awaited]):
    """A chunk under way: the ids of its lines, and what will come of it."""

    chunk: Chunk
    ids: tuple[str, ...]
    came: Awaited


@dataclass(slots=True)
class _Chunks(Generic[Awaited]):
    """The chunks of a batch.

    Attributes:
        feed: where they come from.
        at_once: how many are under way at most.
        begun: those under way that are not told yet.
    """

    feed: Feed
    at_once: int
    begun: deque[_Begun[Awaited]] = field(default_factory=deque)

    def rest(self) -> tuple[str, ...]:
        """Return the ids of the lines of chunks that are not told, as far as they are known."""
        return (*(name for begun in self.begun for name in begun.ids), *self.feed.rest())


class Ahead(_Chunks[Future[Came]]):
    """Chunks under way in threads."""

    def told(self, ask: Callable[[Chunk], Iterator[Result]]) -> Iterator[tuple[Chunk, Iterator[Result]]]:
        """Yield each chunk with its results, which raise what broke it off."""
        if self.at_once == 1:
            yield from ((chunk, ask(chunk)) for chunk in self.feed)
            return
        threads = ThreadPoolExecutor(self.at_once, thread_name_prefix="airbough-batch")
        try:
            for chunk in self.feed:  # written while others are under way, begun before what came is told
                first = self._first() if len(self.begun) == self.at_once else None
                self.begun.append(_Begun(chunk, chunk.missing, threads.submit(_all, ask, chunk)))
                if first is not None:
                    yield first
            while self.begun:
                yield self._first()
        finally:
            threads.shutdown(wait=False, cancel_futures=True)

    def _first(self) -> tuple[Chunk, Iterator[Result]]:
        first = self.begun.popleft()
        return first.chunk, _one_by_one(*first.came.result())


class AsyncAhead(_Chunks[Any]):  # tasks of what came; their type would load asyncio
    """Chunks under way in tasks."""

    async def told(
        self, ask: Callable[[Chunk], AsyncIterator[Result]]
    ) -> AsyncGenerator[tuple[Chunk, AsyncIterator[Result]], None]:
        """Yield each chunk with its results, which raise what broke it off."""
        if self.at_once == 1:
            for chunk in self.feed:
                yield chunk, ask(chunk)
            return
        import asyncio

        try:
            for chunk in self.feed:  # as in threads
                first = await self._first() if len(self.begun) == self.at_once else None
                self.begun.append(_Begun(chunk, chunk.missing, asyncio.create_task(_all_async(ask, chunk))))
                if first is not None:
                    yield first
            while self.begun:
                yield await self._first()
        finally:
            left = [begun.came for begun in self.begun]
            for task in left:
                task.cancel()
            await asyncio.gather(*left, return_exceptions=True)

    async def _first(self) -> tuple[Chunk, AsyncIterator[Result]]:
        came: Came = await self.begun[0].came
        return self.begun.popleft().chunk, _one_by_one_async(*came)


def _all(ask: Callable[[Chunk], Iterator[Result]], chunk: Chunk) -> Came:
    results: list[Result] = []
    try:
        results.extend(ask(chunk))
    except AirboughError as error:
        return results, error
    return results, None


async def _all_async(ask: Callable[[Chunk], AsyncIterator[Result]], chunk: Chunk) -> Came:
    results: list[Result] = []
    try:
        async for result in ask(chunk):
            results.append(result)
    except AirboughError as error:
        return results, error
    return results, None


def _one_by_one(results: list[Result], error: AirboughError | None) -> Iterator[Result]:
    yield from results
    if error is not None:
        raise error


async def _one_by_one_async(results: list[Result], error: AirboughError | None) -> AsyncIterator[Result]:
    for result in results:
        yield result
    if error is not None:
        raise error
