"""The one module that knows the HTTP library: open a connection pool, send, read, name what went wrong."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Iterator, Mapping
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias
from urllib.parse import unquote, urlsplit

from airbough.errors import (
    AirboughError,
    NotUnderstood,
    TimedOut,
    Unreachable,
)
from airbough.raw_reply import Raw

if TYPE_CHECKING:  # loaded with the first client: half of the time that an import of this package would take
    import httpx

    SyncHttp: TypeAlias = httpx.Client
    AsyncHttp: TypeAlias = httpx.AsyncClient
else:
    SyncHttp = AsyncHttp = object


def library() -> str:
    """Return the HTTP library's name and version."""
    import httpx

    return f"httpx/{httpx.__version__}"


@dataclass(frozen=True, slots=True)
class Timeouts:
    """Seconds for the parts of one try."""

    connect: float = 2.0
    read: float = 60.0
    write: float = 10.0
    pool: float = 5.0


@dataclass(frozen=True, slots=True)
class Outgoing:
    """A request, ready to be sent any number of times."""

    method: str
    path: str
    query: Mapping[str, str] = field(default_factory=dict)
    body: bytes | None = None
    content_type: str = "application/json"
    accept: str = "application/json"


def checked_base(url: str) -> str:
    """Return the base URL without its trailing slash.

    Raises:
        ValueError: where it is no http(s) address of a service.
    """
    parts = urlsplit(url)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise ValueError(f"the base URL must begin with http:// or https:// and name a host: {url!r}")
    if parts.username or parts.password:
        raise ValueError("the base URL takes no user and password: give `api_key`, or an `http_client` with its `auth`")
    if parts.query or parts.fragment:
        raise ValueError(f"the base URL takes no query and no fragment: {url!r}")
    path = parts.path.rstrip("/")
    if path.endswith("/v1"):
        raise ValueError(f"leave /v1 out of the base URL: the calls bring it: {url!r}")
    return url.rstrip("/")


def open_sync() -> SyncHttp:
    """Return a pool of connections of our own."""
    import httpx

    return httpx.Client(follow_redirects=False)


def open_async() -> AsyncHttp:
    """Return an asynchronous pool of connections of our own."""
    import httpx

    return httpx.AsyncClient(follow_redirects=False)


def _timeout(timeouts: Timeouts, end: float | None) -> httpx.Timeout:
    import httpx

    left = float("inf") if end is None else max(0.001, end - time.monotonic())
    return httpx.Timeout(
        connect=min(timeouts.connect, left),
        read=min(timeouts.read, left),
        write=min(timeouts.write, left),
        pool=min(timeouts.pool, left),
    )


def _arguments(
    outgoing: Outgoing, base: str, headers: Mapping[str, str], timeout: httpx.Timeout
) -> tuple[tuple[str, str], dict[str, object]]:
    sent = {**headers, "Accept": outgoing.accept}
    if outgoing.body is not None:
        sent["Content-Type"] = outgoing.content_type
    words: dict[str, object] = {"headers": sent, "content": outgoing.body, "timeout": timeout}
    if outgoing.query:
        words["params"] = dict(outgoing.query)
    return (outgoing.method, base + outgoing.path), words


def _named(error: Exception, base: str) -> AirboughError:
    import httpx

    if isinstance(error, httpx.ConnectTimeout | httpx.PoolTimeout):
        return Unreachable(f"no connection to {base or 'the service'} in time")
    if isinstance(error, httpx.TimeoutException):
        return TimedOut(f"{base or 'the service'} did not answer in time")
    if isinstance(error, httpx.TransportError):
        return Unreachable(f"{base or 'the service'} cannot be reached: {error}")
    return NotUnderstood(f"the reply cannot be read: {error}")


def _late(end: float | None) -> bool:
    return end is not None and time.monotonic() >= end


def _head(outgoing: Outgoing, request: httpx.Request, response: httpx.Response) -> Raw:
    headers = {name.lower(): value for name, value in response.headers.items()}
    question = request.url.query if outgoing.body is None else outgoing.body
    return Raw(response.status_code, headers, path=unquote(outgoing.path), question=question)


@contextmanager
def stream(
    http: SyncHttp, outgoing: Outgoing, base: str, headers: Mapping[str, str], timeouts: Timeouts, end: float | None
) -> Iterator[tuple[Raw, Iterator[bytes]]]:
    """Send, and give the reply's head with its body piece by piece.

    Raises:
        Unreachable, TimedOut, NotUnderstood: by what went wrong, also while the body is read.
    """
    import httpx

    place, words = _arguments(outgoing, base, headers, _timeout(timeouts, end))
    try:
        request = http.build_request(*place, **words)  # type: ignore[arg-type]
        response = http.send(request, stream=True, follow_redirects=False)
        try:
            yield _head(outgoing, request, response), _pieces(response, end)
        finally:
            response.close()
    except (httpx.HTTPError, httpx.InvalidURL, httpx.StreamError) as error:
        raise _named(error, base) from error


def _pieces(response: httpx.Response, end: float | None) -> Iterator[bytes]:
    for piece in response.iter_bytes():
        if _late(end):
            raise TimedOut("the deadline passed while the reply was read")
        yield piece


def send(
    http: SyncHttp, outgoing: Outgoing, base: str, headers: Mapping[str, str], timeouts: Timeouts, end: float | None
) -> Raw:
    """Send and read the whole reply, whatever its status."""
    with stream(http, outgoing, base, headers, timeouts, end) as (head, pieces):
        return replace(head, content=b"".join(pieces))


@asynccontextmanager
async def stream_async(
    http: AsyncHttp, outgoing: Outgoing, base: str, headers: Mapping[str, str], timeouts: Timeouts, end: float | None
) -> AsyncIterator[tuple[Raw, AsyncIterator[bytes]]]:
    """Send, and give the reply's head with its body piece by piece."""
    import httpx

    place, words = _arguments(outgoing, base, headers, _timeout(timeouts, end))
    try:
        request = http.build_request(*place, **words)  # type: ignore[arg-type]
        response = await http.send(request, stream=True, follow_redirects=False)
        try:
            yield _head(outgoing, request, response), _pieces_async(response, end)
        finally:
            await response.aclose()
    except (httpx.HTTPError, httpx.InvalidURL, httpx.StreamError) as error:
        raise _named(error, base) from error


async def _pieces_async(response: httpx.Response, end: float | None) -> AsyncIterator[bytes]:
    async for piece in response.aiter_bytes():
        if _late(end):
            raise TimedOut("the deadline passed while the reply was read")
        yield piece


async def send_async(
    http: AsyncHttp, outgoing: Outgoing, base: str, headers: Mapping[str, str], timeouts: Timeouts, end: float | None
) -> Raw:
    """Send and read the whole reply, whatever its status."""
    async with stream_async(http, outgoing, base, headers, timeouts, end) as (head, pieces):
        return replace(head, content=b"".join([piece async for piece in pieces]))
