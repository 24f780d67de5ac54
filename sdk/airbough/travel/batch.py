"""Batches: lines in, answers out, a chunk at a time, and never a line lost in silence.

A chunk is sent wholly before its answers are read. Where its answers break off, the lines still without an answer are
sent again; where that does not help, `CutStream` is raised and says which are missing.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias

import msgspec
from msgspec import Struct

from airbough import errors
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
from airbough.reading.request import repeated_id
from airbough.signatures import PublicKeys
from airbough.travel import exchange
from airbough.travel.retry import (
    Tries,
    Try,
)
from airbough.travel.transport import Outgoing
from airbough.units import quantities
from airbough.wire.batch import (
    MEDIA_TYPE,
    PATH,
)
from airbough.wire.known import known
from airbough.wire.problem import Problem
from airbough.wire.trimmed import TrimmedAnswer

LINES: Final = 500
BYTES: Final = 2_000_000

QUESTIONS: Final[dict[str, Call[Any, Any]]] = {
    call.name: call for call in CALLS if call.method == "POST" and call.path != PATH
}


@dataclass(frozen=True, slots=True)
class Line:
    """One question of a batch: an id of the caller's, the call's name, the request; the parts asked for, or all."""

    id: str
    question: str
    request: Struct | Mapping[str, object]
    only: Sequence[str] | None = None


GivenLine: TypeAlias = Line | tuple[str, str, Struct | Mapping[str, object]] | Mapping[str, object]
"""A line, the three in a row, or a table with `id`, `question`, `request` and perhaps `only`."""

Lines: TypeAlias = Iterable[GivenLine]


@dataclass(frozen=True, slots=True)
class Result:
    """One line's answer or refusal.

    Attributes:
        id: the line's id.
        status: the status that the question alone would have had.
        answer: the answer, or None.
        error: the exception that the question alone would have raised, or None.
        content: the answer as JSON, as it came; empty where there is none.
    """

    id: str
    status: int
    answer: Any = None
    error: Refused | ServerFailed | None = None
    content: bytes = field(default=b"", repr=False)

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
class Entry:
    """One line of a chunk: what is sent, or why it cannot be."""

    id: str
    call: Call[Any, Any] | None = None
    text: bytes = b""
    refused: Refused | ServerFailed | None = None
    trimmed: bool = False


@dataclass(slots=True)
class Chunk:
    """Lines that travel together, and which of them still wait to be told.

    Attributes:
        waiting: lines without an answer, by number.
        refused: lines that cannot be sent and are not told yet, by number; each is told in its place.
        ids: of the lines that are sent -> number.
        lines: how many lines there are.
    """

    waiting: dict[int, Entry] = field(default_factory=dict)
    refused: dict[int, Entry] = field(default_factory=dict)
    ids: dict[str, int] = field(default_factory=dict)
    lines: int = 0

    def add(self, entry: Entry) -> None:
        """Add a line."""
        (self.waiting if entry.refused is None else self.refused)[self.lines] = entry
        if entry.refused is None:
            self.ids[entry.id] = self.lines
        self.lines += 1

    @property
    def missing(self) -> tuple[str, ...]:
        """The ids of the lines without a result, in order."""
        return tuple(entry.id for _, entry in sorted((self.waiting | self.refused).items()))

    def refused_before(self, number: int | None) -> Iterator[Result]:
        """Yield the results of the lines before a number that cannot be sent; None: of all."""
        for other in [other for other in self.refused if number is None or other < number]:
            entry = self.refused.pop(other)
            if entry.refused is not None:
                yield Result(entry.id, entry.refused.status, error=entry.refused)

    def outgoing(self) -> Outgoing:
        """Return what is sent: the lines without an answer."""
        body = b"".join(entry.text for entry in self.waiting.values())
        return Outgoing("POST", PATH, body=body, content_type=MEDIA_TYPE, accept=MEDIA_TYPE)


class Feed:
    """The lines of a batch in chunks, each read only when the one before is done with."""

    def __init__(
        self, lines: Lines, most_lines: int = LINES, most_bytes: int = BYTES, only: Sequence[str] | None = None
    ) -> None:
        self._only = only
        self._counted = isinstance(lines, Collection)
        self._lines = iter(lines)
        self._most = most_lines, most_bytes
        self._ids: set[str] = set()

    def __iter__(self) -> Iterator[Chunk]:
        chunk, size = Chunk(), 0
        for given in self._lines:
            entry = self._entry(given)
            chunk.add(entry)
            size += len(entry.text)
            if chunk.lines >= self._most[0] or size >= self._most[1]:
                yield chunk
                chunk, size = Chunk(), 0
        if chunk.lines:
            yield chunk

    def rest(self) -> tuple[str, ...]:
        """Return the ids of the lines not taken yet; of an iterator none, for it may have no end."""
        return tuple(_line(given).id for given in self._lines) if self._counted else ()

    def _entry(self, given: GivenLine) -> Entry:
        line = _line(given)
        if line.id in self._ids:
            return Entry(line.id, refused=errors.unreadable(repeated_id(line.id)))
        self._ids.add(line.id)
        call = QUESTIONS.get(line.question)
        try:
            only = self._only if line.only is None else line.only
            return Entry(line.id, call, encoded(line, call, only), trimmed=only is not None)
        except (Refused, ServerFailed) as error:
            return Entry(line.id, call, refused=error)


def _line(given: object) -> Line:
    """Return what was given as a line; what is none becomes one that is refused."""
    if isinstance(given, Line):
        return given
    parts: list[Any] = []
    if isinstance(given, Mapping):
        parts = [given.get(name) for name in ("id", "question", "request", "only")]
    elif isinstance(given, tuple | list):
        parts = list(given[:3])
    name, question, request, only = [*parts, *[None] * 4][:4]
    word = question if isinstance(question, str) else ""
    return Line(name if isinstance(name, str) else repr(name), word, request, only)


def encoded(line: Line, call: Call[Any, Any] | None, only: object = None) -> bytes:
    """Return the line as it is sent; what is wrong with it is the service's to say.

    Raises:
        InvalidRequest: for a request that cannot be written as JSON.
    """
    request: object = line.request
    if call is not None:
        struct = type(request) if isinstance(request, Struct) else call.request
        request = quantities.written(request, struct)
    asked = {"id": line.id, "question": line.question, "request": request}
    asked |= {} if only is None else {"only": only}
    quickly = exchange.quickly(asked)
    return (exchange.json(exchange.plain(asked)) if quickly is None else quickly) + b"\n"


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
        self._sent = tuple(chunk.waiting)  # numbers
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
            raise CutStream("the batch ended before its counts line", self._head, self._chunk.missing)

    def _line(self, text: bytes) -> Iterator[Result]:
        try:
            line = msgspec.json.decode(text, type=known(_ResultLine))
        except (msgspec.MsgspecError, UnicodeDecodeError) as error:
            raise self._strange(str(error)) from None
        if self.complete:
            raise self._strange("a line after the counts line")
        if line.id is not None:
            yield from self._result(self._chunk.ids.get(line.id), line)
        elif line.line is not None:  # the server could not read the id
            yield from self._result(self._sent[line.line - 1] if 0 < line.line <= len(self._sent) else None, line)
        else:
            self._check_counts(line)

    def _check_counts(self, line: _ResultLine) -> None:
        told = (line.lines, line.answered, line.refused)
        if None in told:
            raise self._strange("a line with neither id nor counts")
        if self._chunk.waiting:
            why = f"the batch left out {len(self._chunk.waiting)} of {len(self._sent)} lines"
            raise CutStream(why, self._head, self._chunk.missing)
        if told != (len(self._sent), *self._counts):
            raise self._strange(f"it counts {told}, and {self._counts} came")
        self.complete = True

    def _result(self, number: int | None, line: _ResultLine) -> Iterator[Result]:
        entry = None if number is None else self._chunk.waiting.get(number)
        if number is None or entry is None or line.status is None:
            raise self._strange(f"the id {line.id!r} was not asked, or has no status")
        if line.problem is not None:
            result = Result(entry.id, line.status, error=from_problem(line.problem))
        elif (told := bytes(line.answer)) and entry.call is not None:
            self._check_signature(line, entry.call, entry.text)
            answer = self._answer(told, TrimmedAnswer if entry.trimmed else entry.call.answer)
            result = Result(entry.id, line.status, answer=answer, content=told)
        else:
            raise self._strange(f"neither answer nor problem for {entry.id!r}")
        del self._chunk.waiting[number]
        self._counts[0 if result.error is None else 1] += 1
        yield from self._chunk.refused_before(number)
        yield result

    def _check_signature(self, line: _ResultLine, call: Call[Any, Any], sent: bytes) -> None:
        """Check a line as if its question had been asked alone."""
        if self._keys is not None:
            asked = msgspec.json.decode(sent, type=known(_SentLine)).request
            told = bytes(line.answer)
            self._keys.check(told, line.signature, path=call.path, question=bytes(asked), raw=self._head)

    def _answer(self, text: bytes, struct: type[Struct]) -> Any:  # the struct
        try:
            return msgspec.json.decode(text, type=known(struct))
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


def after(
    error: AirboughError, waiting: int, chunk: Chunk, plan: Tries, fresh: Callable[[], Tries]
) -> tuple[Try, Tries]:
    """Return the next try for a chunk that broke off while `waiting` lines waited.

    As long as each try brings answers it goes on; without any the policy's retries count.

    Raises:
        AirboughError: the error itself, where another try is of no use.
    """
    if len(chunk.waiting) < waiting and isinstance(error, CutStream | Unreachable | TimedOut):
        plan = fresh()
        next(plan)
    try:
        return plan.send(error), plan
    except (Unreachable, TimedOut) as last:
        raise CutStream(f"the batch broke off: {last}", last.raw, chunk.missing) from last
