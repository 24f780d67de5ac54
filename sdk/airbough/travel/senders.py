"""The two senders behind the clients: the same settings, tries and errors, one of them asynchronous."""

from __future__ import annotations

import contextlib
import os
import random
import time
from collections.abc import AsyncIterator, Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import TracebackType
from typing import Final, Generic, Self, TypeVar

from msgspec import Struct

from airbough import (
    errors,
    signatures,
)
from airbough.calls import Call
from airbough.raw_reply import Raw
from airbough.reply import Reply
from airbough.signatures import (
    GivenKeys,
    PublicKeys,
)
from airbough.travel import (
    batch,
    exchange,
    retry,
    transport,
)
from airbough.travel.ahead import Ahead, AsyncAhead, checked
from airbough.travel.batch import (
    Chunk,
    Lines,
    Progress,
    Result,
)
from airbough.travel.retry import Policy
from airbough.travel.transport import (
    AsyncHttp,
    Outgoing,
    SyncHttp,
    Timeouts,
)
from airbough.version import __version__

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)
Http = TypeVar("Http", SyncHttp, AsyncHttp)

DEFAULT_BASE_URL: Final = "http://127.0.0.1:8000"


def user_agent() -> str:
    """Return what the clients call themselves."""
    import platform

    return f"airbough-python/{__version__} {transport.library()} python/{platform.python_version()}"


@dataclass(frozen=True, slots=True)
class Settings:
    """Where and how to send.

    Attributes:
        base_url: address of the service; empty where the given HTTP client has one.
        headers: sent with every request.
        timeouts: of one try.
        policy: of all tries.
        keys: with which every answer's signature must hold; None: signatures are not looked at.
    """

    base_url: str
    headers: Mapping[str, str] = field(repr=False)
    timeouts: Timeouts
    policy: Policy
    keys: PublicKeys | None = None


def settings(
    base_url: str | None,
    api_key: str | None,
    timeouts: Timeouts,
    policy: Policy,
    headers: Mapping[str, str] | None,
    own_base: str,
    verify_with: GivenKeys | None = None,
) -> Settings:
    """Return the settings: what is given, else the environment, else the HTTP client's, else this machine.

    Raises:
        ValueError: where the base URL is none, or `verify_with` holds no public keys.
        ImportError: where signatures cannot be checked for want of the extra `signing`.
    """
    key = api_key if api_key is not None else os.environ.get("AIRBOUGH_API_KEY")
    sent = {"User-Agent": user_agent(), **({"Authorization": f"Bearer {key}"} if key else {}), **(headers or {})}
    if base_url is None and not own_base:
        base_url = os.environ.get("AIRBOUGH_BASE_URL") or DEFAULT_BASE_URL
    keys = None if verify_with is None else signatures.public_keys(verify_with)
    return Settings(transport.checked_base(base_url) if base_url else "", sent, timeouts, policy, keys)


class _Sender(Generic[Http]):
    """What both senders hold."""

    def __init__(self, http: Http, owned: bool, settings: Settings) -> None:
        self._http: Http = http
        self._owned = owned
        self._settings = settings
        self._clock: Callable[[], float] = time.monotonic
        self._chance: Callable[[], float] = random.random
        self._reached = False

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._settings.base_url!r})"

    def with_options(
        self, *, timeouts: Timeouts | None = None, retries: int | None = None, deadline: float | None = None
    ) -> Self:
        """Return a client with other patience that shares this one's connections; `math.inf` is no deadline."""
        old = self._settings
        policy = replace(
            old.policy,
            retries=old.policy.retries if retries is None else retries,
            deadline=old.policy.deadline if deadline is None else deadline,
        )
        other = type(self).__new__(type(self))
        other.__dict__.update(self.__dict__)
        other._owned = False
        other._settings = replace(old, timeouts=timeouts or old.timeouts, policy=policy)
        return other

    def _tries(self) -> retry.Tries:
        return retry.tries(self._settings.policy, self._clock, self._chance, lambda: self._reached)

    def _fresh_plan(self) -> retry.Tries:
        """Return the tries for one chunk, with no end: a chunk may take as long as its answers keep coming."""
        policy = replace(self._settings.policy, deadline=None)
        return retry.tries(policy, time.monotonic, self._chance, lambda: self._reached)


class HttpSender(_Sender[SyncHttp]):
    """Sends over HTTP."""

    _sleep = staticmethod(time.sleep)

    def close(self) -> None:
        """Close the connections, unless they are the caller's own."""
        if self._owned:
            self._http.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def send(self, call: Call[Request, Answer], request: Request, path_words: tuple[str, ...]) -> Reply[Answer]:
        """Return the reply to a question, after as many tries as are worth it.

        Raises:
            AirboughError: by what went wrong.
        """
        outgoing = exchange.outgoing(call, request, path_words)
        plan = self._tries()
        attempt = next(plan)
        while True:
            if attempt.wait:
                self._sleep(attempt.wait)
            try:
                return exchange.reply(call, self._once(outgoing, attempt.end), self._settings.keys)
            except errors.AirboughError as error:
                attempt = plan.send(error)

    def _once(self, outgoing: Outgoing, end: float | None) -> Raw:
        its = self._settings
        raw = transport.send(self._http, outgoing, its.base_url, its.headers, its.timeouts, end)
        self._reached = True
        return raw

    def batch(
        self,
        lines: Lines,
        *,
        lines_at_once: int = batch.LINES,
        at_once: int = 1,
        only: Sequence[str] | None = None,
        progress: Callable[[Progress], object] | None = None,
    ) -> Iterator[Result]:
        """Yield the result of each line, in order; lines are taken from the iterable only as they are sent.

        A line is an id of the caller's, the question's name (`"balance"`) and the request: a `Line`, the three in a
        row, or a table of them. Its `Result` has the answer, or the error that the question alone would have raised.

        Args:
            lines: the lines.
            lines_at_once: how many are sent together, a chunk.
            at_once: how many chunks are under way at most; of one alone each result is told as it comes.
            only: the parts of each answer that are asked for, such as `findings` or `system.flow`; answers then are
                `TrimmedAnswer`, also of what is left out. A line may have its own. None: whole answers.
            progress: is told how far the batch is.

        Raises:
            ValueError: where `at_once` is below 1.
            CutStream: where lines stay without an answer.
            AirboughError: where the batch as a whole is refused or cannot be sent.
                `missing` of either names the lines without a result. What is wrong with one line never raises.
        """
        tally, ahead = batch.Tally(), Ahead(batch.Feed(lines, lines_at_once, only=only), checked(at_once))
        for chunk, results in ahead.told(self._chunk):
            tally.sent += chunk.lines
            try:
                for result in results:
                    told = tally.count(result)
                    if progress:
                        progress(told)
                    yield result
            except errors.AirboughError as error:
                error.missing = (*chunk.missing, *ahead.rest())
                raise

    def _chunk(self, chunk: Chunk) -> Iterator[Result]:
        plan = self._fresh_plan()
        attempt = next(plan)
        while chunk.waiting:
            waiting = len(chunk.waiting)
            if attempt.wait:
                self._sleep(attempt.wait)
            try:
                yield from self._results(chunk)
            except errors.AirboughError as error:
                if chunk.waiting:
                    attempt, plan = batch.after(error, waiting, chunk, plan, self._fresh_plan)
        yield from chunk.refused_before(None)

    def _results(self, chunk: Chunk) -> Iterator[Result]:
        its = self._settings
        with transport.stream(self._http, chunk.outgoing(), its.base_url, its.headers, its.timeouts, None) as (
            head,
            pieces,
        ):
            self._reached = True
            if head.status != 200:
                raise errors.from_reply(replace(head, content=b"".join(pieces)))
            reader = batch.Reader(chunk, head, its.keys)
            for piece in pieces:
                yield from reader.feed(piece)
            reader.close()


class AsyncHttpSender(_Sender[AsyncHttp]):
    """Sends over HTTP, asynchronously."""

    @staticmethod
    async def _sleep(seconds: float) -> None:
        import asyncio

        await asyncio.sleep(seconds)

    async def close(self) -> None:
        """Close the connections, unless they are the caller's own."""
        if self._owned:
            await self._http.aclose()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    async def send(self, call: Call[Request, Answer], request: Request, path_words: tuple[str, ...]) -> Reply[Answer]:
        """Return the reply to a question, after as many tries as are worth it.

        Raises:
            AirboughError: by what went wrong.
        """
        outgoing = exchange.outgoing(call, request, path_words)
        plan = self._tries()
        attempt = next(plan)
        while True:
            if attempt.wait:
                await self._sleep(attempt.wait)
            try:
                return exchange.reply(call, await self._once(outgoing, attempt.end), self._settings.keys)
            except errors.AirboughError as error:
                attempt = plan.send(error)

    async def _once(self, outgoing: Outgoing, end: float | None) -> Raw:
        its = self._settings
        raw = await transport.send_async(self._http, outgoing, its.base_url, its.headers, its.timeouts, end)
        self._reached = True
        return raw

    async def batch(
        self,
        lines: Lines,
        *,
        lines_at_once: int = batch.LINES,
        at_once: int = 1,
        only: Sequence[str] | None = None,
        progress: Callable[[Progress], object] | None = None,
    ) -> AsyncIterator[Result]:
        """Yield the result of each line, in order; as the other client's `batch`."""
        tally, ahead = batch.Tally(), AsyncAhead(batch.Feed(lines, lines_at_once, only=only), checked(at_once))
        async with contextlib.aclosing(ahead.told(self._chunk)) as chunks:
            async for chunk, results in chunks:
                tally.sent += chunk.lines
                try:
                    async for result in results:
                        told = tally.count(result)
                        if progress:
                            progress(told)
                        yield result
                except errors.AirboughError as error:
                    error.missing = (*chunk.missing, *ahead.rest())
                    raise

    async def _chunk(self, chunk: Chunk) -> AsyncIterator[Result]:
        plan = self._fresh_plan()
        attempt = next(plan)
        while chunk.waiting:
            waiting = len(chunk.waiting)
            if attempt.wait:
                await self._sleep(attempt.wait)
            try:
                async for result in self._results(chunk):
                    yield result
            except errors.AirboughError as error:
                if chunk.waiting:
                    attempt, plan = batch.after(error, waiting, chunk, plan, self._fresh_plan)
        for result in chunk.refused_before(None):
            yield result

    async def _results(self, chunk: Chunk) -> AsyncIterator[Result]:
        its = self._settings
        async with transport.stream_async(
            self._http, chunk.outgoing(), its.base_url, its.headers, its.timeouts, None
        ) as (head, pieces):
            self._reached = True
            if head.status != 200:
                raise errors.from_reply(replace(head, content=b"".join([piece async for piece in pieces])))
            reader = batch.Reader(chunk, head, its.keys)
            async for piece in pieces:
                for result in reader.feed(piece):
                    yield result
            reader.close()
