"""The document of a quote's request made a tree, and where its faults and findings stand."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Final, NoReturn, TypeVar

from msgspec import structs

from airbough.wire.answer import Assumed, Finding, Source
from airbough.wire.outline import OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.quote import QuoteRequest
from airbough.wire.tree import Tree
from airbough_service.drafting.following import followed
from airbough_service.questions.outline import question as outline
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

Answer = TypeVar("Answer")

_OWN: Final = ("stock", "states", "fixed", "rules", "limits", "port_end", "collector_end", "trade_sizes", "flows")
"""What stands in the request beside the document."""


@dataclass(frozen=True, slots=True)
class Document:
    """The tree of a request in SI, and what was told on the way to it.

    Attributes:
        tree: in the request's preset.
        place: `outline` or `tree`, before each path of it.
        rows: run id -> id of the outline's row.
        assumed, findings, sources, cautions: of the outline.
    """

    tree: Tree
    place: str
    rows: dict[str, str] = field(default_factory=dict)
    assumed: tuple[Assumed, ...] = ()
    findings: tuple[Finding, ...] = ()
    sources: tuple[Source, ...] = ()
    cautions: tuple[str, ...] = ()


def document(request: QuoteRequest) -> Document:
    """Return the tree that a request is about.

    Raises:
        Refusal: neither or both of `outline` and `tree`; what does not go with a quote; faults of the outline.
    """
    if (request.outline is None) == (request.tree is None):
        detail = "give `outline` or `tree`, one of them"
        raise Refusal("not-computable", [Fault(path="outline", code="given-twice" if request.tree else "missing-field",
                                               detail=detail)])  # fmt: skip
    if request.tree is not None:
        _refuse_unanswered(request.tree)
        tree, assumed = followed(request.tree)
        told = tuple(structs.replace(one, path=f"tree.{one.path}") for one in assumed)
        return Document(structs.replace(tree, units=request.units), "tree", assumed=told)
    assert request.outline is not None
    return _outlined(request, request.outline)


def _outlined(request: QuoteRequest, asked: OutlineRequest) -> Document:
    try:
        answer = outline.answer(asked)
    except Refusal as refusal:
        _refuse(refusal.kind, (structs.replace(one, path=_under("outline", one.path)) for one in refusal.faults))
    tree, _ = followed(units.to_si(answer.tree))
    return Document(
        structs.replace(tree, units=request.units),
        "outline",
        answer.rows,
        tuple(structs.replace(one, path=f"outline.{one.path}") for one in answer.assumed),
        tuple(structs.replace(one, at=_under("outline", one.at or "")) for one in answer.findings),
        answer.sources,
        answer.cautions,
    )


def _refuse_unanswered(tree: Tree) -> None:
    faults = [
        Fault(path=f"tree.{name}", code="not-for-this-question", detail="ask it of the tree that the quote answers")
        for name in ("resolved", "explain", "uncertainty")
        if getattr(tree, name)
    ]
    if faults:
        raise Refusal("not-computable", faults)


def asked_of(document: Document, ask: Callable[[], Answer]) -> Answer:
    """Return an answer about the document; a refusal with paths of the quote's own request.

    What is wrong with a tree that was made of an outline is told of the outline, with the run that it is of.
    """
    try:
        return ask()
    except Refusal as refusal:
        _refuse(refusal.kind, (_of_request(document, fault) for fault in refusal.faults))


def _of_request(document: Document, fault: Fault) -> Fault:
    if fault.path.partition(".")[0].partition("[")[0] in _OWN:
        return fault
    if document.place == "tree":
        return structs.replace(fault, path=_under("tree", fault.path))
    return structs.replace(fault, path="outline", detail=f"{fault.path}: {fault.detail}")


def of_answer(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings of the sized tree with paths of the answer."""
    return [
        one
        if one.at is None or one.at.partition(".")[0].partition("[")[0] in _OWN
        else structs.replace(one, at=_under("tree", one.at))
        for one in findings
    ]


def _refuse(kind: str, faults: Iterable[Fault]) -> NoReturn:
    raise Refusal(kind, list(faults)) from None  # type: ignore[arg-type]  # a kind of a refusal that was caught


def _under(place: str, path: str) -> str:
    return f"{place}.{path}" if path else place
