"""Batches: NDJSON in, NDJSON out, in order, a bad line answered in its place.

The body is read to its end before the first answer is sent: reading while streaming loses lines in silence.
"""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Final, TypeAlias

import msgspec
from msgspec import Raw

from airbough.wire.batch import (
    MEDIA_TYPE,
    BatchCounts,
    BatchResult,
)
from airbough_service.api import problems
from airbough_service.api.compute.spool import Spool
from airbough_service.api.compute.workers import Workers
from airbough_service.api.http import (
    body,
    respond,
)
from airbough_service.api.http import (
    line as reading,
)
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer
from airbough_service.core import deadline

BLOCK_LINES: Final = 64
BLOCK_SECONDS: Final = 0.25
"""A block of lines ends at either; between blocks other questions get their turn."""

PIECE_BYTES: Final = 65_536
"""Answers are sent in pieces no larger, so that a slow reader is told from one that does not read at all."""

Spend: TypeAlias = Callable[[int], Awaitable[None]]


class Batch:
    """One batch: its body and the counts so far."""

    def __init__(self, settings: Settings, instance: str, body: Spool, signer: Signer | None = None) -> None:
        self._settings = settings
        self._instance = instance
        self._signer = signer
        self._body = body
        self._lines = reading.Lines()
        self._number = 0
        self._answered = 0
        self._refused = 0

    async def answers(self, workers: Workers, caller: str, spend: Spend) -> AsyncIterator[bytes]:
        """Yield the answers piece by piece, then the counts.

        Args:
            workers: what computes.
            caller: in whose turn.
            spend: is awaited with the number of lines answered, before further ones are.
        """
        paid = 1  # the request itself
        while (block := await workers.run_batch(self._block, caller, self)) is not None:
            for start in range(0, len(block), PIECE_BYTES):
                yield block[start : start + PIECE_BYTES]
            if self._number > paid:
                await spend(self._number - paid)
                paid = self._number
        counts = BatchCounts(lines=self._number, answered=self._answered, refused=self._refused)
        yield msgspec.json.encode(counts) + b"\n"

    def _block(self) -> bytes | None:
        """Return the answers to the next lines, or None where there are none left."""
        answered: list[BatchResult] = []
        until = time.monotonic() + BLOCK_SECONDS
        most = self._settings.body_limit
        while len(answered) < BLOCK_LINES and time.monotonic() < until:
            deadline.check()
            line = self._body.readline(most + 1)
            if not line:
                return msgspec.json.Encoder().encode_lines(answered) if answered else None
            if not line.strip():
                continue
            self._number += 1
            if len(line) > most and not line.endswith(b"\n"):
                self._skip_rest()
                answered.append(self._refusal(None, HttpRefusal("too-large", f"a line holds at most {most} bytes")))
            else:
                answered.append(self._answer(line))
        return msgspec.json.Encoder().encode_lines(answered)

    def _skip_rest(self) -> None:
        while (piece := self._body.readline(65536)) and not piece.endswith(b"\n"):
            pass

    def _answer(self, line: bytes) -> BatchResult:
        asked = None
        try:
            asked, call = self._lines.read(line)
            question = bytes(asked.request)
            with deadline.limited(deadline.within(self._settings.compute_timeout)):
                told = respond.answer_body(question, call, self._settings, distinct=True)
            answer = msgspec.json.encode(told)
            signature = self._signer.signature(call.path, question, answer) if self._signer else None
        except deadline.NotWantedError:
            raise
        except Exception as error:  # whatever goes wrong with a line is its own answer
            return self._refusal(asked.id if asked else reading.name(line), error)
        self._answered += 1
        return BatchResult(id=asked.id, status=200, answer=Raw(answer), signature=signature)

    def _refusal(self, name: str | None, error: Exception) -> BatchResult:
        self._refused += 1
        refused = problems.from_exception(error, self._instance)
        if refused.status == 500:
            logs.fault(self._instance, error)
        return BatchResult(
            id=name,
            status=refused.status,
            problem=refused.problem,
            line=self._number if name is None else None,
        )


def check_headers(content_type: str, content_encoding: str) -> None:
    """Take NDJSON and nothing else.

    Raises:
        HttpRefusal: `unsupported-media-type`.
    """
    body.check_headers(content_type, content_encoding, MEDIA_TYPE)
