"""Batches: NDJSON in, NDJSON out, in order, a bad line answered in its place.

The body is read to its end before the first answer is sent: reading while streaming loses lines in silence. Its lines
go in blocks to whoever has a hand free, this worker or another of the server's, and the answers leave in their order.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, TypeAlias

import msgspec

from airbough.wire.batch import MEDIA_TYPE, BatchCounts
from airbough_service.api.compute.answering import Answering, Answers, Given
from airbough_service.api.compute.spool import Spool
from airbough_service.api.compute.workers import Workers
from airbough_service.api.http import body
from airbough_service.api.http.line import Ids

BLOCK_LINES: Final = 16
"""Lines that one hand takes at once."""

PIECE_BYTES: Final = 65_536
"""Answers are sent in pieces no larger, so that a slow reader is told from one that does not read at all."""

AHEAD: Final = 2
"""Blocks for each hand that may be under way or wait to be sent: where one block takes long, others go on."""

Spend: TypeAlias = Callable[[int], Awaitable[None]]
Hand: TypeAlias = Callable[[Sequence[Given]], Awaitable[Answers]]
"""Answers the first of some lines, at least one."""


class HandLostError(Exception):
    """Who answered lines does so no more; what it had not answered is another's to answer."""


@dataclass(slots=True)
class _Block:
    """Lines that one hand answers: what is left of them, and the answers that came; None ends them."""

    left: list[Given]
    told: asyncio.Queue[Answers | BaseException | None] = field(default_factory=asyncio.Queue)


class Batch:
    """One batch: its body and the counts so far."""

    def __init__(self, instance: str, body: Spool, answering: Answering) -> None:
        self._instance = instance
        self._body = body
        self._answering = answering
        self._ids = Ids()
        self._number = 0
        self._blocks: asyncio.Queue[_Block | None] = asyncio.Queue()
        self._one_reads = asyncio.Lock()

    async def answers(
        self, workers: Workers, caller: str, spend: Spend, others: Sequence[Hand] = ()
    ) -> AsyncIterator[bytes]:
        """Yield the answers piece by piece, then the counts.

        Args:
            workers: what computes here.
            caller: in whose turn.
            spend: is awaited with the number of lines answered, before further ones are sent.
            others: further hands.
        """

        async def here(lines: Sequence[Given]) -> Answers:
            return await workers.run_batch(lambda: self._answering.some(lines, self._instance), caller, self)

        room = asyncio.Semaphore(AHEAD * (1 + len(others)) if others else 1)
        at_work = [asyncio.create_task(self._work(workers, hand, here, room)) for hand in (here, *others)]
        counts, paid = [0, 0], 1  # the request itself
        try:
            while (block := await self._blocks.get()) is not None:
                while (some := await block.told.get()) is not None:
                    if isinstance(some, BaseException):
                        raise some
                    for start in range(0, len(some.text), PIECE_BYTES):
                        yield some.text[start : start + PIECE_BYTES]
                    counts = [counts[0] + some.answered, counts[1] + some.refused]
                    if sum(counts) > paid:
                        await spend(sum(counts) - paid)
                        paid = sum(counts)
                room.release()
        finally:
            for task in at_work:
                task.cancel()
            await asyncio.gather(*at_work, return_exceptions=True)
        told = BatchCounts(lines=sum(counts), answered=counts[0], refused=counts[1])
        yield msgspec.json.encode(told) + b"\n"

    async def _work(self, workers: Workers, hand: Hand, here: Hand, room: asyncio.Semaphore) -> None:
        """Take block after block and answer it; where the hand is lost, the rest of its block is answered here."""
        own = hand
        while own is hand:
            await room.acquire()
            block = await self._block(workers)
            if not block.left:
                room.release()  # for the other hands, that they see the end too
                return
            try:
                own = await self._answer(block, hand, here)
            except BaseException as error:
                block.told.put_nowait(error)
                raise

    async def _block(self, workers: Workers) -> _Block:
        """Return the next lines, in their place among what is to be sent; an empty block at the end."""
        async with self._one_reads:
            block = _Block([])
            try:
                block.left = await workers.look_up(self._next)
            except BaseException as error:
                block.told.put_nowait(error)
                self._blocks.put_nowait(block)
                raise
            self._blocks.put_nowait(block if block.left else None)
            return block

    async def _answer(self, block: _Block, hand: Hand, here: Hand) -> Hand:
        """Answer a block; return who did, this worker where the hand was lost."""
        while block.left:
            try:
                some = await hand(block.left)
            except HandLostError:
                hand = here
                continue
            block.told.put_nowait(some)
            del block.left[: some.lines]
        block.told.put_nowait(None)
        return hand

    def _next(self) -> list[Given]:
        """Return the next lines; none at the end."""
        out: list[Given] = []
        most = self._answering.settings.body_limit
        while len(out) < BLOCK_LINES and (line := self._body.readline(most + 1)):
            if not line.strip():
                continue
            self._number += 1
            too_long = len(line) > most and not line.endswith(b"\n")
            if too_long:
                self._skip_rest()
            repeated = not too_long and self._ids.stood_before(line)
            out.append(Given(self._number, b"" if too_long else line, too_long, repeated))
        return out

    def _skip_rest(self) -> None:
        while (piece := self._body.readline(65536)) and not piece.endswith(b"\n"):
            pass


def check_headers(content_type: str, content_encoding: str) -> None:
    """Take NDJSON and nothing else.

    Raises:
        HttpRefusal: `unsupported-media-type`.
    """
    body.check_headers(content_type, content_encoding, MEDIA_TYPE)
