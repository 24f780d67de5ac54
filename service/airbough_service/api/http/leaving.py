"""Callers who leave, or never finish what they began to send."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from typing import Any, Final, TypeVar

from litestar import Request

from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings

Result = TypeVar("Result")

_UNWATCHED: Final = 0.02
"""Seconds in which nearly all answers are there: before, it is not worth to look whether somebody waits."""


class CallerLeftError(Exception):
    """Nobody waits for the answer any more."""


async def read_body(request: Request[Any, Any, Any], settings: Settings) -> bytes:
    """Return the whole body.

    Raises:
        HttpRefusal: `too-slow` where it has not arrived in time.
    """
    try:
        async with asyncio.timeout(settings.read_timeout):
            return await request.body()
    except TimeoutError:
        detail = f"the body did not arrive within {settings.read_timeout:g} s"
        raise HttpRefusal("too-slow", detail, headers={"Connection": "close"}) from None


async def unless_gone(request: Request[Any, Any, Any], work: Coroutine[Any, Any, Result]) -> Result:
    """Return what `work` returns; it is cancelled when the caller leaves. The body must have been read.

    Raises:
        CallerLeftError: the caller has left.
    """
    asked = asyncio.ensure_future(work)
    watch: asyncio.Future[None] | None = None
    try:
        await asyncio.wait({asked}, timeout=_UNWATCHED)
        if not asked.done():
            watch = asyncio.ensure_future(_gone(request))
            await asyncio.wait({asked, watch}, return_when=asyncio.FIRST_COMPLETED)
        if not asked.done():
            raise CallerLeftError
        return asked.result()
    finally:
        for task in (asked, watch):
            if task is not None and not task.done():
                task.cancel()


async def _gone(request: Request[Any, Any, Any]) -> None:
    while (await request.receive())["type"] != "http.disconnect":
        pass
