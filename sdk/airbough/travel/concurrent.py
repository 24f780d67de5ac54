"""Many questions under way at once, a bounded number of them."""

from __future__ import annotations

from collections import deque
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import asyncio as _asyncio

Given = TypeVar("Given")
Told = TypeVar("Told")


async def each(
    ask: Callable[[Given], Awaitable[Told]], requests: Iterable[Given], *, at_once: int = 4
) -> AsyncIterator[Told]:
    """Yield the answers in the order of the requests.

    `async for answer in each(client.balance, trees)`. Requests are taken from the iterable only as their turn comes.
    Where one raises, or the caller leaves (`aclose`), those under way are given up. For thousands of requests a batch
    costs less.

    Args:
        ask: a call of an asynchronous client.
        requests: what to ask.
        at_once: how many are under way at most.

    Raises:
        ValueError: where `at_once` is below 1.
        AirboughError: that of the first request, in order, that has no answer.
    """
    import asyncio

    if at_once < 1:
        raise ValueError(f"at_once must be at least 1, not {at_once}")

    async def one(request: Given) -> Told:
        return await ask(request)

    under_way: deque[_asyncio.Task[Told]] = deque()
    try:
        for request in requests:
            if len(under_way) == at_once:
                yield await under_way[0]
                under_way.popleft()
            under_way.append(asyncio.create_task(one(request)))
        while under_way:
            yield await under_way[0]
            under_way.popleft()
    finally:
        for task in under_way:
            task.cancel()
        await asyncio.gather(*under_way, return_exceptions=True)
