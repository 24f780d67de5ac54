"""Answers in this process, without a server: the same methods, the same errors, the same bits."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar
from uuid import uuid4

import msgspec
from msgspec import Struct

from airbough import (
    errors,
)
from airbough.calls import Call
from airbough.client import Questions
from airbough.raw_reply import Raw
from airbough.reply import Reply
from airbough.travel import (
    batch,
    exchange,
)
from airbough.travel.batch import (
    Chunk,
    Lines,
    Progress,
    Result,
)

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)


@dataclass(frozen=True, slots=True)
class _Service:
    """What is used of the service: decode a body, answer a question, put what went wrong into words."""

    decode: Callable[[bytes, type[Any]], Any]
    answer: Callable[..., Any]
    problem: Callable[[BaseException, str], Any]


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
        words = dict(zip(exchange.path_names(call.path), path_words, strict=True))
        return self._ask(call, exchange.body(request), words)

    def _ask(self, call: Call[Any, Answer], body: bytes, words: dict[str, str]) -> Reply[Answer]:
        try:
            answer = self._service.answer(call.name, self._service.decode(body, call.request), **words)
            raw = Raw(200, {"content-type": "application/json"}, msgspec.json.encode(answer))
        except Exception as error:
            raw = self._problem(error)
            if raw.status == 500:
                raise errors.from_reply(raw) from error  # with its cause: a fault of the service
        return exchange.reply(call, raw)

    def _problem(self, error: Exception) -> Raw:
        refused = self._service.problem(error, str(uuid4()))
        return Raw(refused.status, {"content-type": "application/problem+json"}, refused.body())

    def batch(
        self, lines: Lines, *, lines_at_once: int = batch.LINES, progress: Callable[[Progress], object] | None = None
    ) -> Iterator[Result]:
        """Yield the result of each line, as `Client.batch`."""
        tally = batch.Tally()
        for chunk in batch.chunks(lines, lines_at_once):
            tally.sent += chunk.lines
            for result in self._results(chunk):
                told = tally.count(result)
                if progress:
                    progress(told)
                yield result

    def _results(self, chunk: Chunk) -> Iterator[Result]:
        for name, (call, text) in list(chunk.waiting.items()):
            yield from chunk.refused_before(name)
            yield self._line(name, call, text)
        yield from chunk.refused_before(None)

    def _line(self, name: str, call: Call[Any, Any], text: bytes) -> Result:
        request = bytes(msgspec.json.decode(text, type=_Sent).request)
        try:
            reply = self._ask(call, request, {})
        except (errors.Refused, errors.ServerFailed) as error:
            return Result(name, error.status, error=error)
        return Result(name, reply.status, answer=reply.answer())


class _Sent(Struct):
    request: msgspec.Raw


def local() -> Local:
    """Return a client that answers in this process; it needs the service's distribution installed.

    Raises:
        ImportError: where it is not.
    """
    try:
        questions = importlib.import_module("airbough_service.combined.registry")
        decoding = importlib.import_module("airbough_service.api.http.body")
        problems = importlib.import_module("airbough_service.api.problems")
    except ModuleNotFoundError as error:
        if error.name != "airbough_service":
            raise
        raise ImportError("answering without a server needs the service: pip install airbough-service") from None
    return Local(_Service(decoding.decode, questions.answer, problems.from_exception))
