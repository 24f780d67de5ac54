"""Lines of a batch answered one after the other, a moment's worth of them, in whichever worker does it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import msgspec
from msgspec import Raw, Struct

from airbough.wire.batch import BatchResult
from airbough_service.api import problems
from airbough_service.api.http import line as reading
from airbough_service.api.http import respond
from airbough_service.api.observe import logs
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.api.signing import Signer
from airbough_service.core import deadline

SECONDS: Final = 0.25
"""So long lines are answered in one turn, the last of them to its end; then other questions get theirs."""

LONGER: Final = 3.0
"""Times as long as a question by itself a line may take: nobody waits for it at a screen."""


class Given(Struct, frozen=True):
    """A line of a batch: its number from 1, its text, and whether it is too long or its id stood there before."""

    number: int
    text: bytes
    too_long: bool = False
    repeated: bool = False


class Answers(Struct, frozen=True):
    """The answers to some lines as they are sent, and how many of them are answers and refusals."""

    text: bytes
    answered: int
    refused: int

    @property
    def lines(self) -> int:
        """How many lines they answer."""
        return self.answered + self.refused


@dataclass(frozen=True, slots=True)
class Answering:
    """Answers lines; the same in every worker of a server."""

    settings: Settings
    signer: Signer | None = None

    def some(self, lines: Sequence[Given], instance: str) -> Answers:
        """Return the answers to the first of some lines, at least one; `instance`: the request's id."""
        told: list[BatchResult] = []
        until = time.monotonic() + SECONDS
        for line in lines:
            deadline.check()
            told.append(self._one(line, instance))
            if time.monotonic() >= until:
                break
        answered = sum(result.status == 200 for result in told)
        return Answers(msgspec.json.Encoder().encode_lines(told), answered, len(told) - answered)

    def _one(self, line: Given, instance: str) -> BatchResult:
        asked = None
        try:
            if line.too_long:
                raise HttpRefusal("too-large", f"a line holds at most {self.settings.body_limit} bytes")
            if line.repeated:
                raise reading.repeated(line.text)
            asked, call = reading.read(line.text)
            question = bytes(asked.request)
            with deadline.limited(deadline.within(LONGER * self.settings.compute_timeout)):
                told = respond.answer_body(question, call, self.settings, distinct=True, only=asked.only)
            answer = msgspec.json.encode(told)
            signature = self.signer.signature(call.path, question, answer) if self.signer else None
        except deadline.NotWantedError:
            raise
        except Exception as error:  # whatever goes wrong with a line is its own answer
            name = asked.id if asked else None if line.too_long else reading.name(line.text)
            return _refusal(name, line.number, error, instance)
        return BatchResult(id=asked.id, status=200, answer=Raw(answer), signature=signature)


def _refusal(name: str | None, number: int, error: Exception, instance: str) -> BatchResult:
    refused = problems.from_exception(error, instance)
    if refused.status == 500:
        logs.fault(instance, error)
    return BatchResult(
        id=name, status=refused.status, problem=refused.problem, line=number if name is None else None
    )  # fmt: skip
