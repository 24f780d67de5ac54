"""What comes back for designs: asked of a client one chunk at a time; an outline is asked about as its tree."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import msgspec

from airbough import Client, Local
from airbough.calls import CALLS
from airbough.command.designs import Design
from airbough.local import sent_for
from airbough.raw_reply import Raw
from airbough.travel.batch import QUESTIONS, Line, Result
from airbough.wire.places import places_of
from airbough.wire.problem import Problem
from airbough.wire.tree import Tree

ABOUT_TREES: Final = frozenset(call.name for call in CALLS if issubclass(call.request, Tree))


@dataclass(frozen=True, slots=True)
class Answered:
    """What came back for a design.

    Attributes:
        design: the one asked about.
        status: as the service alone would give it.
        body: the answer, or the problem, as JSON.
    """

    design: Design
    status: int
    body: bytes

    @property
    def refused(self) -> bool:
        """Whether there is no answer."""
        return self.status != 200


def answered(chunk: list[Design], client: Client | Local, only: tuple[str, ...] | None = None) -> Iterator[Answered]:
    """Yield what comes back for each design of a chunk, in their order; `only`: parts of it, as far as it has them."""
    drawn = _trees(chunk, client)
    ready = [drawn.get(number, design) for number, design in enumerate(chunk)]
    told = _here(ready, client, only) if isinstance(client, Local) else _asked(ready, client, only)
    for design, (status, body) in zip(chunk, told, strict=True):
        yield Answered(design, status, body)


def _trees(chunk: list[Design], client: Client | Local) -> dict[int, Design]:
    """Return, by number, the designs whose document is an outline, with the tree of it or the fault of it instead."""
    outlines: list[tuple[str, str, Any]] = [
        (str(number), "outline", one.document)
        for number, one in enumerate(chunk)
        if one.fault is None and one.question in ABOUT_TREES and is_outline(one.document)
    ]
    found = {}
    for result in client.batch(outlines) if outlines else ():
        design = chunk[int(str(result.id))]
        tree = None if result.answer is None else msgspec.to_builtins(result.answer.tree)
        found[int(str(result.id))] = Design(design.place, design.question, tree, result.error)
    return found


def is_outline(document: object) -> bool:
    """Return whether a document is an outline: it has lines and machines, and no runs."""
    return isinstance(document, Mapping) and "lines" in document and "machines" in document and "runs" not in document


def _parts(question: str, only: tuple[str, ...] | None) -> tuple[str, ...] | None:
    """Return the parts to ask for: of a field that the question's answer does not have, none."""
    call = QUESTIONS.get(question)
    if only is None or call is None:
        return None
    answer: type[msgspec.Struct] = call.answer
    fields = places_of(answer)
    return tuple(one for one in only if one.partition(".")[0] in fields) or None


def _lines(chunk: Iterable[Design], only: tuple[str, ...] | None) -> Iterator[Line]:
    """Give each readable design an id of its own: its number in the chunk."""
    return (
        Line(str(number), one.question, one.document, _parts(one.question, only))  # type: ignore[arg-type]  # any JSON
        for number, one in enumerate(chunk)
        if one.fault is None
    )


def _asked(chunk: list[Design], client: Client | Local, only: tuple[str, ...] | None) -> Iterator[tuple[int, bytes]]:
    """Yield what a batch brings."""
    results: Iterator[Result] = client.batch(_lines(chunk, only))
    for design in chunk:
        if design.fault is not None:
            yield design.fault.status, _problem(design.fault.problem)
            continue
        result = next(results)
        yield result.status, result.content if result.error is None else _problem(result.error.problem)


def _here(chunk: list[Design], client: Local, only: tuple[str, ...] | None) -> Iterator[tuple[int, bytes]]:
    """Yield what the engine of this process answers: as a batch of it would, without a line around each question."""
    for design in chunk:
        raw = _plainly(design, client, only)
        if raw is None:
            yield from _asked([design], client, only)
        elif raw.status == 200:
            yield raw.status, raw.content
        else:
            yield raw.status, _problem(msgspec.json.decode(raw.content, type=Problem))


def _plainly(design: Design, client: Local, only: tuple[str, ...] | None) -> Raw | None:
    """Return the answer to a design that is plain JSON; None where a batch has more to say."""
    call = QUESTIONS.get(design.question)
    if call is None or design.fault is not None:
        return None
    try:
        body = msgspec.json.encode(design.document)
    except (TypeError, ValueError, RecursionError):
        return None
    return sent_for(client, call, body, _parts(design.question, only))


def _problem(problem: Problem) -> bytes:
    return msgspec.json.encode(msgspec.structs.replace(problem, instance=None))  # an id of the moment
