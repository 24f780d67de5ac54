"""Builds the application from its settings."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import cast

from litestar import Litestar
from litestar.types import HTTPScope, LifeSpanReceive, LifeSpanScope, LifeSpanSend, Receive, Scope, Send

from airbough_service.api import answering, document, logs, v1
from airbough_service.api.frame import Frame
from airbough_service.api.health import Readiness
from airbough_service.api.metrics import Metrics
from airbough_service.api.settings import Settings, from_environment
from airbough_service.api.workers import Workers


class Service(Litestar):
    """The application inside its frame, so that requests which no route takes have an id and a log line too."""

    frame: Frame

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


def create_app(settings: Settings | None = None) -> Service:
    """Return the service; without settings they are read from the environment."""
    settings = from_environment() if settings is None else settings
    logs.set_up(settings.log_level)
    workers, counted, readiness = Workers(settings), Metrics(), Readiness()

    @asynccontextmanager
    async def running(_: Litestar) -> AsyncIterator[None]:
        await asyncio.to_thread(readiness.warm)
        yield
        workers.close()

    service = Service(
        v1.routes(settings, workers, counted, readiness, document.text()),
        exception_handlers={Exception: answering.refusal_response},
        lifespan=[running],
        logging_config=None,
        openapi_config=None,
        request_max_body_size=settings.body_limit,
    )
    service.frame = Frame(service.inner, counted)
    return service
