"""The workers of one server help one another with batches: each listens to the others in a folder of theirs alone.

An asker sends lines and is told the answers to the first of them, as many as were had in a turn; until then it is sent
signs of life, however long a line computes. What a worker that has gone, or hangs, had not answered, the asker answers
itself.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final, TypeVar

import msgspec
from msgspec import Struct

from airbough_service.api.compute.answering import Answering, Answers, Given
from airbough_service.api.compute.batches import HandLostError
from airbough_service.api.compute.workers import Workers

AnyStruct = TypeVar("AnyStruct", bound=Struct)
_HANDS: Final = 2  # of each other worker: while one block travels it computes another
_SIZE: Final = 8
_SIGN: Final = 1.0  # seconds from one sign of life to the next: an empty message
_SILENCE: Final = 10.0  # seconds without any after which a worker hangs
_SUFFIX: Final = ".socket"


class _Asked(Struct):
    """What is asked of another worker: lines, of which request, in whose turn."""

    lines: list[Given]
    instance: str
    caller: str


class Peers:
    """This worker among the others.

    Attributes:
        folder: of the sockets, open to this server's user alone; None where there is one worker.
        answering: answers lines.
        workers: compute them.
        is_ready: whether they can.
    """

    def __init__(
        self, folder: Path | None, answering: Answering, workers: Workers, is_ready: Callable[[], bool]
    ) -> None:
        self.folder, self.answering, self.workers, self.is_ready = folder, answering, workers, is_ready
        self._server: asyncio.Server | None = None
        self._own = f"{os.getpid()}{_SUFFIX}"

    async def listen(self) -> None:
        """Begin to listen; where that cannot be, each batch is its worker's alone."""
        if self.folder is None or not hasattr(asyncio, "start_unix_server"):
            return
        self._own = f"{os.getpid()}{_SUFFIX}"
        with contextlib.suppress(OSError):  # such as of a path that is too long for a socket
            self._server = await asyncio.start_unix_server(self._serve, self.folder / self._own)

    async def close(self) -> None:
        """Listen no more."""
        if self._server is not None and self.folder is not None:
            self._server.close()
            (self.folder / self._own).unlink(missing_ok=True)

    def others(self, instance: str, caller: str) -> list[Peer]:
        """Return the other workers, as hands for a batch of a caller: each several times, that it need not wait."""
        if self._server is None or self.folder is None:
            return []
        found = sorted(self.folder.glob(f"*{_SUFFIX}"))
        return [Peer(path, instance, caller) for path in found if path.name != self._own for _ in range(_HANDS)]

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Answer one other worker until it leaves."""
        with contextlib.suppress(OSError, EOFError), contextlib.closing(writer):
            while self.is_ready():
                asked = await _received(reader, _Asked)
                told = await self._unless_gone(asked, reader, writer)
                if told is None:
                    return
                _send(writer, told)
                await writer.drain()

    async def _unless_gone(
        self, asked: _Asked, reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> Answers | None:
        """Return the answers; None where the asker leaves before, and then compute no further."""
        answers = asyncio.ensure_future(
            self.workers.run_batch(lambda: self.answering.some(asked.lines, asked.instance), asked.caller, writer)
        )
        gone = asyncio.ensure_future(reader.read(1))  # it sends nothing while it waits
        try:
            while not (await asyncio.wait((answers, gone), timeout=_SIGN, return_when=asyncio.FIRST_COMPLETED))[0]:
                writer.write(bytes(_SIZE))
            return answers.result() if answers.done() else None
        finally:
            answers.cancel()
            gone.cancel()
            await asyncio.wait((answers, gone))  # only one may read at a time


class Peer:
    """Another worker, for one batch: the connection is made when it is first asked."""

    def __init__(self, path: Path, instance: str, caller: str) -> None:
        self._path, self._instance, self._caller = path, instance, caller
        self._reader: asyncio.StreamReader | None = None
        self._writer: asyncio.StreamWriter | None = None

    async def __call__(self, lines: Sequence[Given]) -> Answers:
        """Return the answers to the first of some lines.

        Raises:
            HandLostError: where the worker is gone, or gives no sign of life.
        """
        try:
            async with asyncio.timeout(_SILENCE):
                if self._reader is None or self._writer is None:
                    self._reader, self._writer = await asyncio.open_unix_connection(self._path)
                _send(self._writer, _Asked(list(lines), self._instance, self._caller))
                await self._writer.drain()
            return await _received(self._reader, Answers, _SILENCE)
        except ConnectionRefusedError:  # it died, and left its socket
            self._path.unlink(missing_ok=True)
            raise HandLostError from None
        except (OSError, EOFError):
            raise HandLostError from None

    def close(self) -> None:
        """Ask no more; what it still computes for this batch it gives up."""
        if self._writer is not None:
            self._writer.close()


def _send(writer: asyncio.StreamWriter, told: Struct) -> None:
    packed = msgspec.msgpack.encode(told)
    writer.write(len(packed).to_bytes(_SIZE, "big") + packed)


async def _received(reader: asyncio.StreamReader, wanted: type[AnyStruct], silence: float | None = None) -> AnyStruct:
    """Return what was sent; raises EOFError where the other side has gone, TimeoutError after so long a silence, s."""
    size = 0
    while not size:
        async with asyncio.timeout(silence):
            size = int.from_bytes(await reader.readexactly(_SIZE), "big")
    async with asyncio.timeout(silence):
        return msgspec.msgpack.decode(await reader.readexactly(size), type=wanted)
