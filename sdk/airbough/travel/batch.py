"""Batches: lines in, answers out, a chunk at a time, and never a line lost in silence.

A chunk is sent wholly before its answers are read. Where its answers break off, the lines still without an answer are
sent again; where that does not help, `CutStream` is raised and says which are missing.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeAlias

import msgspec
from msgspec import Struct

from airbough.calls import (
    CALLS,
    Call,
)
from airbough.errors import (
    AirboughError,
    CutStream,
    NotUnderstood,
    Refused,
    ServerFailed,
    TimedOut,
    Unreachable,
    from_problem,
)
from airbough.raw_reply import Raw
from airbough.signatures import PublicKeys
from airbough.travel import exchange
from airbough.travel.retry import (
    Policy,
    Tries,
    Try,
    tries,
)
from airbough.travel.transport import Outgoing
from airbough.wire.problem import Problem

PATH: Final = "/v1/batches"
MEDIA_TYPE: Final = "application/x-ndjson"
LINES: Final = 500
BYTES: Final = 2_000_000

_BY_NAME: Final[dict[str, Call[Any, Any]]] = {
    call.name: call for call in CALLS if call.method == "POST" and call.path != PATH
}


@dataclass(frozen=True, slots=True)
class Line:
    """One question of a batch: an id of the caller's, the call's name, the request."""

    id: str
    question: str
    request: Struct | Mapping[str, object]


GivenLine: TypeAlias = Line | tuple[str, str, Struct | Mapping[str, object]]
Lines: TypeAlias = Iterable[GivenLine]


@dataclass(frozen=True, slots=True)
class Result:
    """One line's answer or refusal.

    Attributes:
        id: the line's id.
        status: the status that the question alone would have had.
        answer: the answer, or None.
        error: the exception that the question alone would have raised, or None.
    """

    id: str
    status: int
    answer: Any = None
    error: Refused | ServerFailed | None = None

    def get(self) -> Any:  # of the type that the line's question answers with
        """Return the answer, or raise the error."""
        if self.error is not None:
            raise self.error
        return self.answer


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a batch is; told after each line and at the end of each chunk."""

    sent: int
    answered: int
    refused: int


class _ResultLine(Struct, frozen=True):  # of `wire.batch`, a result or the counts: which, its fields tell
    id: str | None = None
    status: int | None = None
    answer: msgspec.Raw = msgspec.Raw()  # empty: none
    signature: str | None = None
    problem: Problem | None = None
    line: int | None = None
    lines: int | None = None
    answered: int | None = None
    refused: int | None = None


class _SentLine(Struct):
    request: msgspec.Raw


@dataclass(slots=True)
class Chunk:
    """Lines that travel together, and which of them still wait for an answer.

    Attributes:
        waiting: lines without an answer, by id.
        refused: lines that cannot be sent and are not told yet, by id; each is told in its place.
        order: all ids.
    """

    waiting: dict[str, tuple[Call[Any, Any], bytes]] = field(default_factory=dict)
    refused: dict[str, Refused] = field(default_factory=dict)
    order: list[str] = field(default_factory=list)

    @property
    def lines(self) -> int:
        """How many lines there are."""
        return len(self.order)

    def refused_before(self, name: str | None) -> Iterator[Result]:
        """Yield the results of the lines before `name` that cannot be sent; None: of all."""
        for other in list(self.refused):
            if name is None or self.order.index(other) < self.order.index(name):
                error = self.refused.pop(other)
                yield Result(other, error.status, error=error)

    def outgoing(self) -> Outgoing:
        """Return what is sent: the lines without an answer."""
        body = b"".join(text for _, text in self.waiting.values())
        return Outgoing("POST", PATH, body=body, content_type=MEDIA_TYPE, accept=MEDIA_TYPE)


def chunks(lines: Lines, most_lines: int = LINES, most_bytes: int = BYTES) -> Iterator[Chunk]:
    """Yield the lines in chunks, each read only when the one before is done with.

    Raises:
        ValueError: for an id that comes twice in a chunk, or a question that batches do not take.
    """
    chunk, size = Chunk(), 0
    for given in lines:
        line = given if isinstance(given, Line) else Line(*given)
        if chunk.order and (chunk.lines >= most_lines or size >= most_bytes):
            yield chunk
            chunk, size = Chunk(), 0
        if line.id in chunk.waiting or line.id in chunk.refused:
            raise ValueError(f"the id {line.id!r} comes twice")
        call = _BY_NAME.get(line.question)
        if call is None:
            raise ValueError(f"batches take {', '.join(_BY_NAME)}, not {line.question!r}")
        chunk.order.append(line.id)
        try:
            text = encoded(line, call)
        except Refused as error:
            chunk.refused[line.id] = error
            continue
        chunk.waiting[line.id] = (call, text)
        size += len(text)
    if chunk.order:
        yield chunk


def encoded(line: Line, call: Call[Any, Any]) -> bytes:
    """Return the line as it is sent.

    Raises:
        InvalidRequest: for a request that cannot be sent.
    """
    request = exchange.body(exchange.asked(call, line.request, {}))
    return msgspec.json.encode({"id": line.id, "question": line.question, "request": msgspec.Raw(request)}) + b"\n"


class Reader:
    """Reads the answers of one chunk, piece by piece.

    Attributes:
        complete: whether the counts line has come and agrees.
    """

    def __init__(self, chunk: Chunk, head: Raw, keys: PublicKeys | None = None) -> None:
        self.complete = False
        self._chunk = chunk
        self._head = head
        self._keys = keys
        self._sent = tuple(chunk.waiting)
        self._counts = [0, 0]
        self._rest = b""

    def feed(self, piece: bytes) -> Iterator[Result]:
        """Yield the results that a piece of the body completes.

        Raises:
            NotUnderstood: for a line that is none of the batch's.
            SignatureRefused: with keys, for an answer whose signature is missing or does not hold.
        """
        # On newlines alone: a text may hold other characters that end a line elsewhere.
        *whole, self._rest = (self._rest + piece).split(b"\n")
        for text in whole:
            if text.strip():
                yield from self._line(text)

    def close(self) -> None:
        """Say that the body has ended.

        Raises:
            CutStream: where the counts line has not come.
        """
        if not self.complete:
            raise CutStream("the batch ended before its counts line", self._head, tuple(self._chunk.waiting))

    def _line(self, text: bytes) -> Iterator[Result]:
        try:
            line = msgspec.json.decode(text, type=_ResultLine)
        except (msgspec.MsgspecError, UnicodeDecodeError) as error:
            raise self._strange(str(error)) from None
        if self.complete:
            raise self._strange("a line after the counts line")
        if line.id is not None:
            yield from self._result(line.id, line)
        elif line.line is not None:  # the server could not read the id
            yield from self._result(self._sent[line.line - 1] if 0 < line.line <= len(self._sent) else "", line)
        else:
            self._check_counts(line)

    def _check_counts(self, line: _ResultLine) -> None:
        told = (line.lines, line.answered, line.refused)
        if None in told:
            raise self._strange("a line with neither id nor counts")
        if self._chunk.waiting:
            missing = tuple(self._chunk.waiting)
            raise CutStream(f"the batch left out {len(missing)} of {len(self._sent)} lines", self._head, missing)
        if told != (len(self._sent), *self._counts):
            raise self._strange(f"it counts {told}, and {self._counts} came")
        self.complete = True

    def _result(self, name: str, line: _ResultLine) -> Iterator[Result]:
        if name not in self._chunk.waiting or line.status is None:
            raise self._strange(f"the id {name!r} was not asked, or has no status")
        call, sent = self._chunk.waiting[name]
        if line.problem is not None:
            result = Result(name, line.status, error=from_problem(line.problem))
        elif bytes(line.answer):
            self._check_signature(line, call, sent)
            result = Result(name, line.status, answer=self._answer(line.answer, call))
        else:
            raise self._strange(f"neither answer nor problem for {name!r}")
        del self._chunk.waiting[name]
        self._counts[0 if result.error is None else 1] += 1
        yield from self._chunk.refused_before(name)
        yield result

    def _check_signature(self, line: _ResultLine, call: Call[Any, Any], sent: bytes) -> None:
        """Check a line as if its question had been asked alone."""
        if self._keys is not None:
            asked = msgspec.json.decode(sent, type=_SentLine).request
            told = bytes(line.answer)
            self._keys.check(told, line.signature, path=call.path, question=bytes(asked), raw=self._head)

    def _answer(self, text: msgspec.Raw, call: Call[Any, Any]) -> Any:  # the call's answer
        try:
            return msgspec.json.decode(text, type=call.answer)
        except msgspec.MsgspecError as error:
            raise self._strange(str(error)) from None

    def _strange(self, why: str) -> NotUnderstood:
        return NotUnderstood(f"the batch's answer is not understood: {why}", self._head)


@dataclass(slots=True)
class Tally:
    """Counts over all chunks."""

    sent: int = 0
    answered: int = 0
    refused: int = 0

    def count(self, result: Result) -> Progress:
        """Count a result and say how far the batch is."""
        if result.error is None:
            self.answered += 1
        else:
            self.refused += 1
        return Progress(self.sent, self.answered, self.refused)


def after(error: AirboughError, waiting: int, chunk: Chunk, plan: Tries, policy: Policy) -> tuple[Try, Tries]:
    """Return the next try for a chunk that broke off while `waiting` lines waited.

    As long as each try brings answers it goes on; without any the policy's retries count.

    Raises:
        AirboughError: the error itself, where another try is of no use.
    """
    if len(chunk.waiting) < waiting and isinstance(error, CutStream | Unreachable | TimedOut):
        plan = fresh_plan(policy)
        next(plan)
    try:
        return plan.send(error), plan
    except (Unreachable, TimedOut) as last:
        raise CutStream(f"the batch broke off: {last}", last.raw, tuple(chunk.waiting)) from last


def fresh_plan(policy: Policy) -> Tries:
    """Return the tries for one chunk, with no end: a chunk may take as long as its answers keep coming."""
    return tries(replace(policy, deadline=None), time.monotonic, random.random)
