"""What the server below leaves to its application: hosts, readers who stop reading, senders who are still sending."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable
from typing import Any, Final, cast

from litestar.types import HTTPScope, Message, Receive, Send

_LINGER_SECONDS: Final = 5.0
_LINGER_PAUSE: Final = 1.0
_LINGER_BYTES: Final = 200_000_000
"""So long, and so far, is a body read on whose sender has been refused already.

A server that closes while its peer still sends resets the connection, and the peer may never read the answer.
"""


class StalledError(Exception):
    """The caller reads nothing of the answer any more."""


def malformed(scope: HTTPScope) -> str | None:
    """Return what is wrong with a request's head, where something is.

    One of HTTP/1.1 names its host, and one (RFC 9112, 3.2). A body comes by its length or in chunks (6.1): where
    further codings are named, another reader may see its end elsewhere.
    """
    hosts, codings = [], []
    for name, value in scope["headers"]:
        lowered = name.lower()
        if lowered == b"host":
            hosts.append(value.strip())
        elif lowered == b"transfer-encoding":
            codings.append(value.strip().lower())
    if codings and codings != [b"chunked"]:
        return "send a body by its length, or with `Transfer-Encoding: chunked` and no other coding"
    # The server below puts in an empty host where none is named.
    if str(scope["http_version"]) == "1.1" and (len(hosts) != 1 or not hosts[0]):
        return "name one host"
    return None


def to_the_end(send: Send, receive: Receive, scope: HTTPScope, patience: float | None) -> Send:
    """Return a `send` that gives up readers who stall, and lets senders finish whose answer comes early."""
    streaming = False

    async def send_to_the_end(message: Message) -> None:
        nonlocal streaming
        if message["type"] != "http.response.body":
            await send(message)
            return
        more = message.get("more_body", False)
        body = message["body"]
        if body and not more and not streaming and _still_sends(scope):
            # The server below drops the rest of the body when the last byte is out, and resets the connection.
            await send({"type": "http.response.body", "body": body[:-1], "more_body": True})
            await _read_on(receive)
            await send({"type": "http.response.body", "body": body[-1:], "more_body": False})
            return
        streaming = streaming or more
        if not streaming:
            await send(message)
            return
        try:
            async with asyncio.timeout(patience):
                await send(message)
        except TimeoutError:
            scope["state"]["stalled"] = True
            raise StalledError from None

    return send_to_the_end


def _still_sends(scope: HTTPScope) -> bool:
    """Return whether the body of a request has not been read to its end, and is on its way."""
    if "body_read" in scope["state"] or scope["state"].get("kind") == "too-slow":
        return False
    headers = {name.lower(): value for name, value in scope["headers"]}
    if b"expect" in headers:  # it waits to be asked for its body
        return False
    return b"transfer-encoding" in headers or headers.get(b"content-length", b"0").strip(b"0") != b""


async def _read_on(receive: Receive) -> None:
    read = 0
    try:
        async with asyncio.timeout(_LINGER_SECONDS):
            while read < _LINGER_BYTES:
                message = cast("dict[str, Any]", await _within(_LINGER_PAUSE, receive()))
                read += len(message.get("body", b""))
                if message["type"] != "http.request" or not message.get("more_body", False):
                    return
    except TimeoutError:
        return


async def _within(seconds: float, waited: Awaitable[Any]) -> Any:
    async with asyncio.timeout(seconds):
        return await waited
