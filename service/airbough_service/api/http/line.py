"""The lines of a batch: each read, or refused with every fault of it; server and in-process client read them here."""

from __future__ import annotations

from codecs import BOM_UTF8
from typing import Any, Final

import msgspec

from airbough.calls import (
    CALLS,
    Call,
)
from airbough.reading.examples import nearest
from airbough.reading.request import repeated_id
from airbough.wire.base import (
    Asked,
    Id,
    Word,
)
from airbough.wire.batch import BatchLine
from airbough.wire.known import known
from airbough.wire.problem import Fault
from airbough.wire.trimmed import Only
from airbough_service.api.http import body
from airbough_service.terms.refusal import (
    Refusal,
    refusal,
)

QUESTIONS: Final[dict[str, Call[Any, Any]]] = {call.name: call for call in CALLS if call.method == "POST"}


class _PlainLine(Asked, kw_only=True):
    id: Id
    question: Word
    request: Any
    only: Only | None = None


class _Named(msgspec.Struct):
    id: Id


class Lines:
    """Reads the lines of one batch, in which an id stands once."""

    def __init__(self) -> None:
        self._ids = Ids()

    def read(self, line: bytes) -> tuple[BatchLine, Call[Any, Any]]:
        """Return a line and its call, as `read`; raises for an id that stood before too."""
        if self._ids.stood_before(line):
            raise repeated(line)
        return read(line)


class Ids:
    """The ids of the lines of one batch so far."""

    def __init__(self) -> None:
        self._ids: set[str] = set()

    def stood_before(self, line: bytes) -> bool:
        """Return whether the id of a line stood in one before; one that cannot be read did not."""
        own = name(line)
        if own is None:
            return False
        before = own in self._ids
        self._ids.add(own)
        return before


def repeated(line: bytes) -> Refusal:
    """Return the refusal of a line whose id stood in one before."""
    return refusal(repeated_id(str(name(line))))


def read(line: bytes) -> tuple[BatchLine, Call[Any, Any]]:
    """Return a line and its call; its request is not looked at yet.

    Raises:
        Refusal: with every fault; what is wrong with its request is told by paths within the request.
    """
    line = line.removeprefix(BOM_UTF8)  # of the file that the batch was
    asked = _decoded(line)
    body.refuse_duplicate_keys(line)
    return asked, _call(asked.question)


def name(line: bytes) -> str | None:
    """Return the id of a line, where it has one that can be read."""
    line = line.removeprefix(BOM_UTF8)
    try:
        return msgspec.json.decode(line, type=known(_Named)).id
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        pass
    try:
        return msgspec.convert(body.plain(line.decode()), known(_Named)).id  # where only its numbers are strange
    except (Refusal, UnicodeDecodeError, msgspec.ValidationError):
        return None


def _decoded(line: bytes) -> BatchLine:
    try:
        return body.decode(line, BatchLine, distinct=True)
    except Refusal as refusal:
        if refusal.kind == "not-json":
            raise
    data = body.plain(line.decode())
    inner = data.get("request") if isinstance(data, dict) else None
    asked = body.convert(data if inner is None else data | {"request": True}, _PlainLine)
    body.convert(inner, _call(asked.question).request)
    detail = "the line is no JSON"
    raise Refusal("not-json", [Fault(path="", code="malformed-json", detail=detail)])


def _call(question: str) -> Call[Any, Any]:
    call = QUESTIONS.get(question)
    if call is None:
        detail = f"the questions are {', '.join(QUESTIONS)}"
        near = nearest(question, tuple(QUESTIONS))
        raise Refusal("unknown-word", [Fault(path="question", code="unknown-word", detail=detail, example=near)])
    return call
