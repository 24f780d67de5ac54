"""Which batches are let in: so many are answered at once, and so many bytes of bodies are kept until then."""

from __future__ import annotations

import asyncio

from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings


class BatchPlaces:
    """The places for batches.

    A body that is still arriving holds no place, only the room that it has filled: it cannot keep others out by
    trickling. One whose place has not come free in time is told `busy`.
    """

    def __init__(self, settings: Settings) -> None:
        self._places = asyncio.Semaphore(settings.batches)
        self._some = settings.batches > 0
        self._patience = settings.compute_timeout
        self._left = settings.batches * settings.batch_body_limit

    def look(self) -> None:
        """Refuse before a body is read that would wait for a place.

        Raises:
            HttpRefusal: `busy`.
        """
        if not self._some or self._places.locked():
            raise HttpRefusal("busy", "too many batches are being answered; send it again in a moment")

    def fill(self, size: int) -> None:
        """Take room for so many bytes.

        Raises:
            HttpRefusal: `busy` where there is none left.
        """
        if size > self._left:
            raise HttpRefusal("busy", "too many batches are arriving; send it again in a moment")
        self._left -= size

    def empty(self, size: int) -> None:
        """Give room back."""
        self._left += size

    async def take(self) -> None:
        """Take a place, where need be after a while.

        Raises:
            HttpRefusal: `busy` where none came free in time.
        """
        try:
            async with asyncio.timeout(self._patience):
                await self._places.acquire()
        except TimeoutError:
            raise HttpRefusal("busy", "too many batches are being answered; send it again in a moment") from None

    def leave(self) -> None:
        """Give a place back."""
        self._places.release()
