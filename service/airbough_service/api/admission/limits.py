"""What this server answers at most in one question; the schema's own bounds are wider."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from msgspec import Struct

from airbough.wire.outline import OutlineRequest
from airbough.wire.places import places_of
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough.wire.variants import VariantsRequest
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.combined import registry
from airbough_service.combined.variants.asked import how_many


def check(question: Struct, settings: Settings) -> None:
    """Refuse a question larger than this server's limits.

    Raises:
        HttpRefusal: `over-limit`, with every limit that is passed.
    """
    faults = [
        Fault(path=path, code="over-limit", detail=f"{count} {what}; this server answers at most {most}")
        for path, what, count, most in _counts(question, settings)
        if count > most
    ]
    if faults:
        raise HttpRefusal("over-limit", "; ".join(fault.detail for fault in faults), faults)


def _counts(question: Struct, settings: Settings) -> Iterator[tuple[str, str, int, int]]:
    """Yield path, words, count and limit of everything that is counted."""
    for place, tree in _trees(question):
        yield f"{place}runs", "runs", len(tree.runs), settings.runs_limit
        if tree.uncertainty is not None:
            yield f"{place}uncertainty.samples", "samples", tree.uncertainty.samples, settings.samples_limit
    outline = getattr(question, "outline", question)
    if isinstance(outline, OutlineRequest):
        rows = len(outline.lines) + len(outline.machines)
        yield "machines" if outline is question else "outline.machines", "lines and machines", rows, settings.runs_limit
    if isinstance(question, VariantsRequest):  # each is a state of a tree
        path = "changes" if question.grid is None else "grid"
        yield path, "variants", how_many(question), settings.states_limit
    yield "states", "states", registry.states_asked(question), settings.states_limit


def _trees(question: Struct) -> Iterator[tuple[str, Tree]]:
    """Yield every tree of a question with what stands before its paths."""
    if isinstance(question, Tree):
        yield "", question
    for field in _holding(type(question)):
        inner = getattr(question, field)
        if isinstance(inner, Tree):
            yield f"{field}.", inner


@cache
def _holding(question: type[Struct]) -> tuple[str, ...]:
    """Return the fields of a kind of question in which a tree may stand."""
    places = places_of(question).items()
    return tuple(name for name, place in places if any(issubclass(one, Tree) for one in place.structs))
