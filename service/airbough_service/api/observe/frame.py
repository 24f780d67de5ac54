"""The outermost layer: it sees every request, those that no route takes too.

It gives the request its id, answers HEAD as GET, adds the headers that every answer has, counts and logs.
"""

from __future__ import annotations

import re
import time
import uuid
from collections.abc import Awaitable, Callable
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any, Final

from litestar.types import HTTPScope, Message, Receive, Send

from airbough_service.api import problems
from airbough_service.api.observe import logs
from airbough_service.api.observe.connection import malformed, to_the_end
from airbough_service.api.observe.metrics import Metrics
from airbough_service.api.observe.tracing import Tracer
from airbough_service.api.problems import HttpRefusal

Application = Callable[[HTTPScope, Receive, Send], Awaitable[None]]

_METHODS: Final = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT"})
_REQUEST_ID: Final = re.compile(rb"[A-Za-z0-9._-]{1,64}")
_ALWAYS: Final = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"cross-origin"),
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        b"frame-ancestors 'none'; base-uri 'none'; form-action 'self'",
    ),
)


@dataclass(slots=True)
class _Seen:
    method: str
    request_id: str
    status: int = 500
    received: int = 0
    sent: int = 0


class Frame:
    """Wraps the application."""

    def __init__(
        self,
        application: Application,
        metrics: Metrics,
        tracer: Tracer | None = None,
        *,
        by_origin: bool = False,
        write_timeout: float | None = None,
    ) -> None:
        self._application = application
        self._metrics = metrics
        self._tracer = tracer
        self._by_origin = by_origin
        self._write_timeout = write_timeout

    async def __call__(self, scope: HTTPScope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        seen = _Seen(scope["method"], request_id(scope))
        state = scope["state"]
        state["request_id"] = seen.request_id
        state["more_headers"] = [(b"vary", b"Origin")] if self._by_origin else []
        state["at_end"] = ExitStack()  # what a request holds is given back here, whatever became of it
        if seen.method == "HEAD":
            scope["method"] = "GET"
        span = self._tracer.start(seen.method, scope["headers"]) if self._tracer else None
        start = time.perf_counter()
        receiving = _counting(receive, seen, state)
        told = _finishing(to_the_end(send, receiving, scope, self._write_timeout), scope, seen)
        try:
            wrong = malformed(scope)
            if wrong is None:
                await self._application(scope, receiving, told)
            else:
                await _refuse(HttpRefusal("malformed-request", wrong), scope, told)
        except Exception:
            if "stalled" not in state:  # else the reader is told by the missing end
                raise
            state["kind"] = "reader-stalled"
        finally:
            state["at_end"].close()
            self._tell(scope, seen, time.perf_counter() - start, span)

    def _tell(self, scope: HTTPScope, seen: _Seen, seconds: float, span: Any) -> None:
        route = scope.get("path_template") or "unrouted"
        kind = scope["state"].get("kind")
        method = seen.method if seen.method in _METHODS else "other"
        self._metrics.count(method, route, seen.status, seconds, seen.received, seen.sent)
        if kind:
            self._metrics.count_refusal(kind)
        if self._tracer:
            self._tracer.end(span, method, route, seen.status, kind)
        logs.request(
            request_id=seen.request_id,
            method=method,
            route=route,
            status=seen.status,
            kind=kind,
            key=scope["state"].get("key_name"),
            milliseconds=round(seconds * 1e3, 3),
            bytes_in=seen.received,
            bytes_out=seen.sent,
        )


async def _refuse(error: HttpRefusal, scope: HTTPScope, send: Send) -> None:
    refused = problems.from_exception(error, scope["state"]["request_id"])
    scope["state"]["kind"] = refused.kind
    body = refused.body()
    headers = [
        (b"content-type", problems.MEDIA_TYPE.encode()),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        (b"connection", b"close"),  # where this request ends the next one's reader may not agree
    ]
    await send({"type": "http.response.start", "status": refused.status, "headers": headers})
    await send({"type": "http.response.body", "body": body, "more_body": False})


def request_id(scope: HTTPScope) -> str:
    """Return the caller's `X-Request-Id` where it is a plain word, else a new one."""
    for name, value in scope["headers"]:
        if name.lower() == b"x-request-id" and _REQUEST_ID.fullmatch(value):
            return value.decode()
    return uuid.uuid4().hex


def _counting(receive: Receive, seen: _Seen, state: dict[str, Any]) -> Receive:
    async def receive_counted() -> Any:
        message = await receive()
        if message["type"] == "http.request":
            seen.received += len(message["body"])
        if message["type"] != "http.request" or not message.get("more_body", False):
            state["body_read"] = True
        return message

    return receive_counted


def _finishing(send: Send, scope: HTTPScope, seen: _Seen) -> Send:
    async def send_finished(message: Message) -> None:
        if message["type"] == "http.response.start":
            seen.status = message["status"]
            headers = [_with_head(name, value) for name, value in message["headers"]]
            present = {name.lower() for name, _ in headers}
            headers += [header for header in _ALWAYS if header[0] not in present]
            headers += [header for header in scope["state"]["more_headers"] if header not in headers]
            headers.append((b"x-request-id", seen.request_id.encode()))
            message["headers"] = headers
        elif message["type"] == "http.response.body":
            if seen.method == "HEAD":
                message["body"] = b""
            seen.sent += len(message["body"])
        await send(message)

    return send_finished


def _with_head(name: bytes, value: bytes) -> tuple[bytes, bytes]:
    if name.lower() == b"allow" and b"GET" in value and b"HEAD" not in value:
        return name, value.replace(b"GET", b"GET, HEAD")
    return name, value
