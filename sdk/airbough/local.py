"""Answers in this process, without a server: the same methods, the same errors, the same bits."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar

import msgspec
from msgspec import Struct

from airbough import (
    errors,
)
from airbough.calls import Call
from airbough.client import Questions
from airbough.raw_reply import AtHand, Raw
from airbough.reply import Reply
from airbough.travel import (
    batch,
    exchange,
)
from airbough.travel.ahead import checked
from airbough.travel.batch import (
    Chunk,
    Entry,
    Lines,
    Progress,
    Result,
)
from airbough.wire.base import Asked
from airbough.wire.known import known
from airbough.wire.places import Place, places_of
from airbough.wire.problem import Problem
from airbough.wire.trimmed import TrimmedAnswer

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)


@dataclass(frozen=True, slots=True)
class _Service:
    """What is used of the service: decode a body or a batch's lines, answer, put what went wrong into words."""

    decode: Callable[[bytes, type[Any], bool], Any]
    answer: Callable[..., Any]
    problem: Callable[[BaseException, str], Any]
    lines: Callable[[], Any]


class Local(Questions):
    """A client whose service is in this process."""

    def __init__(self, service: _Service) -> None:
        self._service = service

    def close(self) -> None:
        """Do nothing: there is no connection."""

    def __enter__(self) -> Local:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def send(self, call: Call[Request, Answer], request: Request, path_words: tuple[str, ...]) -> Reply[Answer]:
        """Return the reply to a question.

        Raises:
            AirboughError: as the service would answer.
        """
        words = dict(zip(call.path_words, path_words, strict=True))
        return self._ask(call, exchange.body(request), words)

    def _ask(self, call: Call[Any, Answer], body: bytes, words: dict[str, str]) -> Reply[Answer]:
        caught: list[Exception] = []
        raw = self._raw(call, body, words, caught, distinct=True)  # fields of structs, and tables by their texts
        if raw.status == 500:
            raise errors.from_reply(raw) from caught[0]  # with its cause: a fault of the service
        return exchange.reply(call, raw)

    def _raw(
        self,
        call: Call[Any, Any],
        body: bytes,
        words: dict[str, str] | None = None,
        caught: list[Exception] | None = None,
        only: tuple[str, ...] | None = None,
        *,
        distinct: bool = False,
    ) -> Raw:
        """Return what the service would send: an answer, or its parts, or a problem.

        Args:
            call: the question.
            body: of it.
            words: of its path.
            caught: where the cause of a problem goes.
            only: the parts asked for; None: the whole.
            distinct: whether the body's keys are known to stand once each.
        """
        try:
            question = self._service.decode(body, call.request, distinct)
            answer = self._service.answer(call.name, question, only=only, **(words or {}))
            headers = {"content-type": "application/json"}
            made_for_it = call.method == "POST"  # what looks the catalogue up may hold tables of the catalogue's own
            if made_for_it and only is None and as_written(type(answer)):  # type: ignore[arg-type]  # of a struct
                return AtHand(answer, headers)
            return Raw(200, headers, msgspec.json.encode(answer))
        except Exception as error:
            if caught is not None:
                caught.append(error)
            return self._problem(error)

    def _problem(self, error: Exception) -> Raw:
        from uuid import uuid4

        refused = self._service.problem(error, str(uuid4()))
        return Raw(refused.status, {"content-type": "application/problem+json"}, refused.body())

    def batch(
        self,
        lines: Lines,
        *,
        lines_at_once: int = batch.LINES,
        at_once: int = 1,
        only: Sequence[str] | None = None,
        progress: Callable[[Progress], object] | None = None,
    ) -> Iterator[Result]:
        """Yield the result of each line, as `Client.batch`; one process has one under way, whatever `at_once` is."""
        checked(at_once)
        tally, reading = batch.Tally(), self._service.lines()
        for chunk in batch.Feed(lines, lines_at_once, only=only):
            tally.sent += chunk.lines
            for result in self._results(chunk, reading):
                told = tally.count(result)
                if progress:
                    progress(told)
                yield result

    def _results(self, chunk: Chunk, reading: Any) -> Iterator[Result]:
        for number, entry in list(chunk.waiting.items()):
            yield from chunk.refused_before(number)
            yield self._line(entry, reading)
        yield from chunk.refused_before(None)

    def _line(self, entry: Entry, reading: Any) -> Result:
        try:
            asked, call = reading.read(entry.text)
        except Exception as error:
            refused = self._problem(error)
            return self._result(entry, refused)
        return self._result(entry, self._raw(call, bytes(asked.request), only=asked.only, distinct=True), call)

    def _result(self, entry: Entry, raw: Raw, call: Call[Any, Any] | None = None) -> Result:
        if call is not None and raw.status == 200:
            answer = Reply(raw, TrimmedAnswer if entry.trimmed else call.answer).answer()
            return Result(entry.id, raw.status, answer=answer, content=raw.content)
        error = errors.from_problem(msgspec.json.decode(raw.content, type=known(Problem)))
        return Result(entry.id, raw.status, error=error)


@cache
def as_written(told: type[Struct]) -> bool:
    """Return whether an answer of a type is what its JSON would be read as: no document of a request stands in it.

    In a document a quantity may be a whole number, which is read as a fraction.
    """
    return not issubclass(told, Asked) and all(map(_as_written, places_of(told).values()))


def _as_written(place: Place) -> bool:
    return all(map(as_written, place.structs)) and (place.item is None or _as_written(place.item))


def sent_for(client: Local, call: Call[Any, Any], body: bytes, only: tuple[str, ...] | None = None) -> Raw:
    """Return what a service in this process would send, refusals included.

    Args:
        client: of the service.
        call: the question.
        body: of it, in which each key stands once, as where it was written from plain data.
        only: the parts of the answer that are asked for; None: the whole.
    """
    return client._raw(call, body, only=only, distinct=True)


def local() -> Local:
    """Return a client that answers in this process; it needs the service's distribution installed.

    Raises:
        ImportError: where it is not.
    """
    try:
        questions = importlib.import_module("airbough_service.combined.registry")
        decoding = importlib.import_module("airbough_service.api.http.body")
        line = importlib.import_module("airbough_service.api.http.line")
        problems = importlib.import_module("airbough_service.api.problems")
    except ModuleNotFoundError as error:
        if error.name != "airbough_service":
            raise
        raise ImportError("answering without a server needs the service: pip install airbough-service") from None
    return Local(_Service(decoding.decode, questions.answer, problems.from_exception, line.Lines))
