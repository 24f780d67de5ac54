"""Builds the application from its settings."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Final, cast

from litestar import Litestar
from litestar.config.cors import CORSConfig
from litestar.types import HTTPScope, LifeSpanReceive, LifeSpanScope, LifeSpanSend, Receive, Scope, Send

from airbough_service.api import (
    operations,
    routes,
)
from airbough_service.api.assembly import assemble
from airbough_service.api.compilers import Compilers
from airbough_service.api.http import respond
from airbough_service.api.observe import logs
from airbough_service.api.observe.frame import Frame
from airbough_service.api.readiness import Readiness
from airbough_service.api.settings import (
    Settings,
    from_environment,
)
from airbough_service.api.settings_check import origins
from airbough_service.core.warm import all_noted

_EXPOSED: Final = (
    "Airbough-Signature",
    "ETag",
    "Findings",
    "RateLimit",
    "RateLimit-Policy",
    "Retry-After",
    "X-Request-Id",
)


class Service(Litestar):
    """The application inside its frame, so that requests which no route takes have an id and a log line too."""

    frame: Frame
    readiness: Readiness
    at_once: bool

    def get_ready(self) -> None:
        """Get ready before anybody may ask, unless questions may come before."""
        if not self.at_once:
            self.readiness.warm_first()

    async def __call__(
        self,
        scope: Scope | LifeSpanScope,
        receive: Receive | LifeSpanReceive,
        send: Send | LifeSpanSend,
    ) -> None:
        """Answer a request, or start and stop."""
        if str(scope["type"]) == "http":
            request = cast("HTTPScope", scope)
            request.setdefault("state", {})
            await self.frame(request, cast("Receive", receive), cast("Send", send))
        else:
            await super().__call__(scope, receive, send)

    async def inner(self, scope: HTTPScope, receive: Receive, send: Send) -> None:
        """Answer a request inside the frame."""
        await super().__call__(scope, receive, send)


def create_app(
    settings: Settings | None = None,
    *,
    at_once: bool = False,
    folder: Path | None = None,
    compilers: Compilers | None = None,
) -> Service:
    """Return the service; without settings they are read from the environment.

    Args:
        settings: what it runs with.
        at_once: where the solver must first be compiled, to start before: questions are told 503 until it is.
        folder: where the workers of one server find one another, to share out batches.
        compilers: what compiles already; None: it is started when the service is.

    Raises:
        SettingError: where the settings do not allow to start.
    """
    settings = from_environment() if settings is None else settings
    logs.set_up(settings.log_level)
    at_once = at_once and not all_noted()
    parts = assemble(settings, at_once=at_once, folder=folder, compilers=compilers)

    @asynccontextmanager
    async def started(_: Litestar) -> AsyncIterator[None]:
        if at_once:
            parts.readiness.warm_beside()
        elif not parts.readiness.complete:
            await asyncio.to_thread(parts.readiness.warm)
        await parts.peers.listen()
        yield
        await parts.peers.close()
        parts.workers.close()
        await parts.gate.close()
        if parts.tracer:
            await asyncio.to_thread(parts.tracer.close)

    service = Service(
        [*routes.routes(parts), *operations.routes(parts)],
        cors_config=_origins(settings),
        exception_handlers={Exception: respond.refusal_response},
        lifespan=[started],
        logging_config=None,
        openapi_config=None,
        request_max_body_size=settings.body_limit,
    )
    service.readiness, service.at_once = parts.readiness, at_once
    by_origin = service.cors_config is not None
    service.frame = Frame(
        service.inner,
        parts.metrics,
        parts.tracer,
        by_origin=by_origin,
        write_timeout=settings.write_timeout,
    )
    return service


def _origins(settings: Settings) -> CORSConfig | None:
    """Return which pages' scripts may read answers; none unless told so."""
    allowed = origins(settings)
    if not allowed:
        return None
    return CORSConfig(
        allow_origins=allowed,
        allow_methods=["GET", "HEAD", "POST", "OPTIONS"],
        allow_headers=["Authorization", "Content-Type", "If-None-Match", "X-Request-Id", "traceparent", "tracestate"],
        expose_headers=list(_EXPOSED),
    )
