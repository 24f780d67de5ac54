"""Why a request has no answer: every fault of one level at once, in the wire's own words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Literal, TypeAlias

from airbough.reading.request import Unreadable
from airbough.wire.problem import Fault

Kind: TypeAlias = Literal[
    "not-json", "against-schema", "out-of-range", "not-a-duct-tree", "not-computable", "unknown-word"
]


class Refusal(Exception):
    """A request that is refused.

    Attributes:
        kind: which problem type it is; the api layer turns it into a status.
        faults: every fault found at this level.
    """

    def __init__(self, kind: Kind, faults: list[Fault]) -> None:
        super().__init__("; ".join(f"{fault.path}: {fault.detail}" for fault in faults))
        self.kind: Kind = kind
        self.faults = tuple(faults)


def no_run(path: str, code: str, word: str, ids: Iterable[str]) -> Fault:
    """Return the fault of a word that is no run's id, with the nearest ids."""
    hint, near = nearest(word, ids)
    return Fault(path=path, code=code, detail=f"no run has the id {word!r}{hint}", example=near)


def nearest(word: str, known: Iterable[str]) -> tuple[str, str | None]:
    """Return the end of a sentence that names the words nearest to one, empty where none is near, and the nearest."""
    near = difflib.get_close_matches(word, list(known), 3)
    return (f"; nearest: {', '.join(near)}", near[0]) if near else ("", None)


def nearest_or_some(word: str, known: Iterable[str]) -> str:
    """Return the end of a sentence that names the words nearest to one; where none is near the first that there are."""
    names = list(known)
    return nearest(word, names)[0] or f"; there is {', '.join(names[:3])}"


def refusal(unreadable: Unreadable) -> Refusal:
    """Return the refusal of a document that is no request."""
    return Refusal(unreadable.kind, unreadable.faults)


class NotFiniteError(Exception):
    """A number of the answer is not finite; nothing of it leaves."""


def undistributed() -> Refusal:
    """Return the refusal of a tree in which no flow was found that enters every open hood."""
    detail = "no flow was found that enters every open hood; unlike diameters, or many hoods on one duct, have none"
    return Refusal("not-computable", [Fault(path="runs", code="no-distribution-of-flow", detail=detail)])
