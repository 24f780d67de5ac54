"""The body of a refusal: RFC 9457 problem details with every fault and its path."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Annotated, Any

from msgspec import Meta, field

from airbough.wire.base import Told, nothing

PLACES_SHOWN = 12
"""Places of one fault that a sentence names."""


class FaultPlace(Told, kw_only=True):
    """Another place of the same fault."""

    path: str
    id: str | None = None
    read: str | None = None

    def where(self) -> str:
        """Return path and id for a sentence: `runs[7].gate (planer)`."""
        return printable(f"{self.path} ({self.id})" if self.id is not None else self.path)


class Fault(Told, kw_only=True):
    """One fault of the request: the first place it stands at, what is wrong, and the other places of the same."""

    path: str
    code: str
    detail: str
    id: Annotated[str | None, Meta(description="Id of the run, or name of the row, that the path is in.")] = None
    read: Annotated[str | None, Meta(description="What stands there, as JSON, cut where it is long.")] = None
    example: Annotated[Any, Meta(description="What would be right there; an example, not advice.")] = None
    also: Annotated[tuple[FaultPlace, ...], Meta(description="Other places with the same fault.")] = field(
        default_factory=nothing
    )

    @property
    def paths(self) -> tuple[str, ...]:
        """Every place's path."""
        return (self.path, *(place.path for place in self.also))

    def sentence(self) -> str:
        """Return the fault as one sentence: place, what is wrong, what was read, an example, the other places."""
        first = FaultPlace(path=self.path, id=self.id).where()
        parts = [f"{first}: {printable(self.detail)}" if self.path else printable(self.detail)]
        if self.read is not None:
            parts.append(f"read {printable(self.read)}")
        if self.example is not None:
            parts.append(f"for example {printable(json.dumps(self.example, ensure_ascii=False))}")
        told = "; ".join(parts)
        if not self.also:
            return told
        shown = ", ".join(place.where() for place in self.also[:PLACES_SHOWN])
        more = len(self.also) - PLACES_SHOWN
        return f"{told}; the same at {shown}{f' and {more} more' if more > 0 else ''}"


class Problem(Told, kw_only=True):
    """`application/problem+json` (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    instance: str | None = None
    errors: tuple[Fault, ...] = field(default_factory=nothing)


def summary(faults: Sequence[Fault]) -> str:
    """Return the `detail` of a problem with these faults."""
    return faults[0].sentence() if len(faults) == 1 else f"{len(faults)} faults, each in `errors`"


def printable(text: str) -> str:
    """Return a caller's text with what a terminal would obey, or not show, as escapes."""
    return "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in text)
