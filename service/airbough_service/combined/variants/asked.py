"""The variants that a request asks for, each value read in SI, or everything that is wrong with them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple, TypeAlias

import msgspec
from msgspec import structs

from airbough.wire.outline import OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.state import GateSetting
from airbough.wire.tree import Tree
from airbough.wire.variants import MOST_VARIANTS, VariantsRequest
from airbough_service.combined.variants.places import NoPlaceError, Target, target
from airbough_service.questions.outline import question as outlines
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

Set: TypeAlias = tuple[Target, Any]
_TREE_ALONE: Final = "runs["
_LONGEST: Final = 40  # characters of a value in the name of a variant


class Variant(NamedTuple):
    """One variant.

    Attributes:
        number: from 0.
        name: as asked, or told by its number or its values.
        document: values that differ from the document that was given.
        tree: values that differ from the tree of it.
        state: how the gates stand; None as in the document.
        own_state: whether that is the variant's own, not the request's.
    """

    number: int
    name: str
    document: tuple[Set, ...]
    tree: tuple[Set, ...]
    state: GateSetting | None
    own_state: bool


@dataclass(slots=True)
class Reading:
    """What is read so far.

    Attributes:
        document: as given, in SI: a tree or an outline.
        tree: of the outline, in SI; made when a path first needs it.
    """

    document: Tree | OutlineRequest
    faults: list[Fault] = field(default_factory=list)
    tree: Tree | None = None
    _known: dict[str, tuple[Target, bool] | str] = field(default_factory=dict)

    def place(self, path: str) -> tuple[Target, bool] | str:
        """Return a place and whether it is of the outline's tree, or why there is none."""
        if path not in self._known:
            of_tree = isinstance(self.document, OutlineRequest) and path.startswith(_TREE_ALONE)
            try:
                self._known[path] = target(self._tree() if of_tree else self.document, path, self.preset), of_tree
            except NoPlaceError as missing:
                self._known[path] = str(missing)
        return self._known[path]

    @property
    def preset(self) -> str:
        """In which the document's bare numbers are."""
        return self.document.units

    def _tree(self) -> Tree:
        if self.tree is None:
            assert isinstance(self.document, OutlineRequest)
            self.tree = drafted(self.document)
        return self.tree


def drafted(outline: OutlineRequest) -> Tree:
    """Return the tree of an outline; both in SI.

    Raises:
        Refusal: as the outline's own question.
    """
    return units.to_si(outlines.answer(outline).tree)


def how_many(request: VariantsRequest) -> int:
    """Return how many variants a request asks for."""
    if request.grid is not None:
        return math.prod(len(values) for values in request.grid.values())
    return len(request.changes or ())


def read(request: VariantsRequest) -> tuple[Reading, list[Variant]]:
    """Return what is read of a request in SI, and its variants.

    Raises:
        Refusal: with every fault of the changes, each with its path.
    """
    document = request.tree if request.outline is None else request.outline
    faults = _contradictions(request)
    if faults or document is None:
        raise Refusal("not-computable", faults)
    reading = Reading(document)
    try:
        variants = list(_of_grid(request, reading) if request.grid is not None else _of_changes(request, reading))
    except Refusal as refused:  # of the outline, whose tree a path is of
        faults = [structs.replace(fault, path=f"outline.{fault.path}") for fault in refused.faults]
        raise Refusal(refused.kind, faults) from None
    if reading.faults:
        raise Refusal("not-computable", reading.faults)
    return reading, variants


def _contradictions(request: VariantsRequest) -> list[Fault]:
    """Return the faults of a request that gives two documents, or changes and a grid, or neither."""
    out = []
    for names in (("tree", "outline"), ("changes", "grid")):
        given = [name for name in names if getattr(request, name) is not None]
        if len(given) == 2:
            out.append(Fault(path=given[1], code="given-twice", detail=f"give `{names[0]}` or `{names[1]}`, not both"))
        if not given:
            out.append(Fault(path=names[0], code="missing-value", detail=f"`{names[0]}` or `{names[1]}` is needed"))
    if how_many(request) > MOST_VARIANTS:
        detail = f"{how_many(request)} variants; at most {MOST_VARIANTS} are answered"
        out.append(Fault(path="grid", code="over-limit", detail=detail))
    return out


def _of_changes(request: VariantsRequest, reading: Reading) -> Iterator[Variant]:
    for number, change in enumerate(request.changes or ()):
        document, tree = list[Set](), list[Set]()
        for place, one in enumerate(change.set):
            found = reading.place(one.path)
            if isinstance(found, str):
                path = f"changes[{number}].set[{place}].path"
                reading.faults.append(Fault(path=path, code="unknown-path", detail=found))
                continue
            goal, of_tree = found
            try:
                value = goal.value(one.value)
            except ValueError:
                reading.faults += goal.faults(one.value, f"changes[{number}].set[{place}].value")
                continue
            (tree if of_tree else document).append((goal, value))
        state, name = change.state, change.name
        yield Variant(
            number,
            str(number) if name is None else name,
            tuple(document),
            tuple(tree),
            request.state if state is None else state,
            state is not None,
        )


def _of_grid(request: VariantsRequest, reading: Reading) -> Iterator[Variant]:
    axes: list[list[tuple[str, Target | None, bool, Any]]] = []
    for path, values in (request.grid or {}).items():
        found = reading.place(path)
        if isinstance(found, str):
            reading.faults.append(Fault(path=f"grid.{path}", code="unknown-path", detail=found))
            continue
        goal, of_tree = found
        axis: list[tuple[str, Target | None, bool, Any]] = []
        for number, value in enumerate(values):
            try:
                axis.append((f"{path}={_shown(value)}", goal, of_tree, goal.value(value)))
            except ValueError:
                reading.faults += goal.faults(value, f"grid.{path}[{number}]")
        axes.append(axis)
    for number, point in enumerate(itertools.product(*axes) if not reading.faults else ()):
        document = tuple([(goal, value) for _, goal, of_tree, value in point if goal is not None and not of_tree])
        tree = tuple([(goal, value) for _, goal, of_tree, value in point if goal is not None and of_tree])
        yield Variant(number, ", ".join([said for said, *_ in point]), document, tree, request.state, False)


def _shown(value: Any) -> str:
    """Return a value as the name of a variant tells it."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        value = int(value)
    text = value if isinstance(value, str) else msgspec.json.encode(value).decode()
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
