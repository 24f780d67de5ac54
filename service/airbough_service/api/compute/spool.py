"""The body of a batch while it arrives and until it is answered: small in memory, large in a file without a name."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import time
from collections.abc import AsyncIterator, Callable
from tempfile import SpooledTemporaryFile
from typing import IO, Any, Final

from airbough.wire.problem import Fault
from airbough_service.api.admission.batch_places import BatchPlaces
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings

IN_MEMORY: Final = 1_000_000
_AT_ONCE: Final = 262_144
"""Bytes that are gathered before they are written: writing may wait for a disk, so it is done in a thread."""

_READ_TIMES: Final = 20
"""A whole batch may take so many times the time of one body."""

SLOWEST: Final = 10_000
"""Bytes a second that a batch must arrive with on average, once the time of one body has passed."""


class Spool:
    """The body; it can be read once it has arrived, a line at a time."""

    def __init__(self, settings: Settings, places: BatchPlaces) -> None:
        self._settings = settings
        self._places = places
        self._size = 0
        self._newlines = 0
        self._file: IO[bytes] = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  # closed by `close`
        self.readline = self._file.readline

    async def receive(self, stream: AsyncIterator[bytes]) -> None:
        """Read a request's body to its end.

        Raises:
            HttpRefusal: `too-slow`; `over-limit` where there are too many lines; `busy` where there is no room for it.
        """
        seconds = self._settings.read_timeout
        start = time.monotonic()
        gathered = bytearray()
        try:
            async with asyncio.timeout(seconds * _READ_TIMES):
                while True:
                    async with asyncio.timeout(seconds):
                        piece = await anext(stream, None)
                    if piece is None:
                        break
                    self._count(piece, time.monotonic() - start)
                    gathered += piece
                    if len(gathered) >= _AT_ONCE:
                        await self._on_file(self._file.write, gathered)
                        gathered = bytearray()
        except TimeoutError:
            raise _too_slow() from None
        await self._on_file(self._file.write, gathered)
        await self._on_file(self._file.seek, 0)  # writes what its buffer still holds

    def _count(self, piece: bytes, passed: float) -> None:
        self._places.fill(len(piece))
        self._size += len(piece)
        self._newlines += piece.count(b"\n")
        if passed > self._settings.read_timeout and self._size < SLOWEST * passed:
            raise _too_slow()
        most = self._settings.batch_lines_limit
        if self._newlines > most:
            fault = Fault(path="", code="over-limit", detail=f"more than {most} lines")
            raise HttpRefusal("over-limit", f"this server answers at most {most} lines", [fault])

    async def _on_file(self, work: Callable[[Any], Any], given: bytearray | int) -> None:
        try:
            if self._size <= IN_MEMORY:
                work(given)
            else:
                await asyncio.to_thread(work, given)
        except OSError as error:
            if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
                raise
            detail = "there is no room left for its body; send it again in a moment, or in smaller parts"
            raise HttpRefusal("busy", detail) from None

    def close(self) -> None:
        """Drop the body."""
        self._places.empty(self._size)
        self._size = 0
        with contextlib.suppress(OSError):  # its buffer may still hold what the disk has no room for
            self._file.close()


def _too_slow() -> HttpRefusal:
    return HttpRefusal("too-slow", "the batch did not arrive in time", headers={"Connection": "close"})
