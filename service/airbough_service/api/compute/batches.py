"""Batches: NDJSON in, NDJSON out, in order, a bad line answered in its place.

The body is read to its end before the first answer is sent: reading while streaming loses lines in silence.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from tempfile import SpooledTemporaryFile
from typing import IO, Final

import msgspec
from msgspec import Raw

from airbough.wire.batch import (
    MEDIA_TYPE,
    BatchCounts,
    BatchResult,
)
from airbough.wire.problem import Fault
from airbough_service.api import problems
from airbough_service.api.compute.workers import Workers
from airbough_service.api.http import (
    body,
    respond,
)
from airbough_service.api.http import (
    line as reading,
)
from airbough_service.api.http.respond import AnyRequest
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer
from airbough_service.core import deadline

BLOCK_LINES: Final = 64
BLOCK_SECONDS: Final = 0.25
"""A block of lines ends at either; between blocks other questions get their turn."""

_IN_MEMORY: Final = 1_000_000
_READ_TIMES: Final = 20


class Batch:
    """One batch: the spooled body and the counts so far."""

    def __init__(self, settings: Settings, instance: str, signer: Signer | None = None) -> None:
        self._settings = settings
        self._instance = instance
        self._signer = signer
        self._body: IO[bytes] = SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115  # closed by `answers`
        self._lines = reading.Lines()
        self._number = 0
        self._answered = 0
        self._refused = 0

    async def receive(self, request: AnyRequest) -> None:
        """Read the body to its end.

        Raises:
            HttpRefusal: `too-slow`, or `over-limit` where there are too many lines.
        """
        seconds, most = self._settings.read_timeout, self._settings.batch_lines_limit
        newlines = 0
        stream = request.stream()
        try:
            async with asyncio.timeout(seconds * _READ_TIMES):
                while True:
                    async with asyncio.timeout(seconds):
                        piece = await anext(stream, None)
                    if piece is None:
                        break
                    self._body.write(piece)
                    newlines += piece.count(b"\n")
                    if newlines > most:
                        fault = Fault(path="", code="over-limit", detail=f"more than {most} lines")
                        raise HttpRefusal("over-limit", f"this server answers at most {most} lines", [fault])
        except TimeoutError:
            raise HttpRefusal("too-slow", "the batch did not arrive in time", headers={"Connection": "close"}) from None
        self._body.seek(0)

    async def answers(self, workers: Workers) -> AsyncIterator[bytes]:
        """Yield the answers block by block, then the counts."""
        try:
            while (block := await workers.run_patiently(self._block)) is not None:
                yield block
        finally:
            self._body.close()
        counts = BatchCounts(lines=self._number, answered=self._answered, refused=self._refused)
        yield msgspec.json.encode(counts) + b"\n"

    def close(self) -> None:
        """Drop the body."""
        self._body.close()

    def _block(self) -> bytes | None:
        """Return the answers to the next lines, or None where there are none left."""
        answered: list[BatchResult] = []
        until = time.monotonic() + BLOCK_SECONDS
        most = self._settings.body_limit
        while len(answered) < BLOCK_LINES and time.monotonic() < until:
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
