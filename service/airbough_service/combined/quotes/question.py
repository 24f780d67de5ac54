"""POST /v1/quotes: sized, solved in each state, taken off, priced and drawn, one after the other."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any, Final

import msgspec
from msgspec import structs

from airbough.wire.answer import Assumed, Finding, Source, Suggestion
from airbough.wire.drawing import DrawingRequest
from airbough.wire.parts_list import PartsListAnswer, PartsListRequest
from airbough.wire.problem import Fault
from airbough.wire.quote import QuoteAnswer, QuotedParts, QuoteRequest
from airbough.wire.sizing import SizingAnswer, SizingRequest
from airbough.wire.tree import Tree
from airbough_service.combined import pairs
from airbough_service.combined.quotes.asked import Document, asked_of, document, of_answer
from airbough_service.combined.quotes.states import in_states
from airbough_service.drafting.following import followed
from airbough_service.judging import fan_findings
from airbough_service.questions import drawing, sizing
from airbough_service.questions.parts_list import question as parts_list
from airbough_service.terms import units
from airbough_service.terms.finding import finding, ordered
from airbough_service.terms.refusal import Refusal

_OF_JOINTS: Final = frozenset(
    ("end-not-judged", "stretches-not-given", "plain-cut-end", "piece-turned", "edge-faces-flow", "lip-against-flow")
)
"""What a quote does not tell: how pieces are joined is for the parts list."""


def answer(request: QuoteRequest) -> QuoteAnswer:
    """Answer the question in SI; the tree is in the request's preset. The digest is of the request as it was sent.

    Raises:
        Refusal: with every fault of the level that failed, each with its path in the request.
    """
    asked = document(request)
    sized = asked_of(asked, lambda: sizing.answer(_sizing(request, asked)))
    whole = QuoteAnswer(
        engine=sized.engine,
        units={},
        preset=request.units,
        air=sized.air,
        outcome=sized.outcome,
        proof=sized.proof,
        stock_digest="",
        rows=asked.rows,
        pairs=sized.pairs,
        broken=sized.broken,
        currency=request.stock.currency,
        expires=request.stock.expires,
        findings=ordered(
            [
                *_of_outline(request, asked),
                *_of_tree(asked, _but_prices(sized.findings)),
                *_expired(request),
                *_guessed(asked.tree),
            ]
        ),
        assumed=(*_kept(request, asked), *sized.assumed),
        sources=_once((*asked.sources, *sized.sources)),
        cautions=tuple(dict.fromkeys((*asked.cautions, *sized.cautions))),
        name=asked.tree.name,
    )
    return whole if sized.outcome != "sized" else _quoted(request, asked, sized, whole)


def _sizing(request: QuoteRequest, asked: Document) -> SizingRequest:
    return SizingRequest(
        **_fields(asked.tree),
        stock=request.stock,
        states=request.states,
        fixed=request.fixed,
        rules=request.rules,
        limits=request.limits,
    )


def _quoted(request: QuoteRequest, asked: Document, sized: SizingAnswer, whole: QuoteAnswer) -> QuoteAnswer:
    """Return the quote of a tree that has been sized."""
    told: Tree = msgspec.convert(sized.document, Tree)
    tree, _ = followed(units.to_si(told))
    there = asked_of(asked, lambda: in_states(tree, request.states, sized))
    parts = asked_of(asked, lambda: parts_list.answer(_parts_list(request, tree)))
    return structs.replace(
        whole,
        tree=told,
        states=there.states,
        parts=_parts(parts),
        price=parts.system.price,
        price_complete=parts.system.price_complete,
        drawings=_drawings(request, tree),
        findings=_merged(asked, whole, (*there.findings, *parts.findings)),
        sources=_once((*whole.sources, *parts.sources)),
        cautions=tuple(dict.fromkeys((*whole.cautions, *there.cautions, *parts.cautions))),
    )


def _parts_list(request: QuoteRequest, tree: Tree) -> PartsListRequest:
    return PartsListRequest(
        **_fields(tree),
        stock=request.stock,
        port_end=request.port_end,
        collector_end=request.collector_end,
        csv=request.csv,
    )


def _parts(answer: PartsListAnswer) -> QuotedParts:
    return QuotedParts(**{name: getattr(answer, name) for name in QuotedParts.__struct_fields__})


def _drawings(request: QuoteRequest, tree: Tree) -> dict[str, str]:
    """Return the drawings asked for, of the shop as it stands.

    Raises:
        Refusal: what cannot be drawn of this tree, each with its place in `drawings`.
    """
    out: dict[str, str] = {}
    faults: list[Fault] = []
    for number, word in enumerate(request.drawings):
        asked = DrawingRequest(**_fields(tree), of=word)
        try:
            out[word] = (pairs.answer(asked) if word == "pairs" else drawing.answer(asked)).svg
        except Refusal as refusal:
            faults += [structs.replace(fault, path=f"drawings[{number}]") for fault in refusal.faults]
    if faults:
        raise Refusal("not-computable", faults)
    return out


def _fields(tree: Tree) -> dict[str, Any]:
    return {name: getattr(tree, name) for name in Tree.__struct_fields__}


def _of_outline(request: QuoteRequest, asked: Document) -> list[Finding]:
    """Return the outline's findings, but for those of diameters that it chose and sizing chose anew."""
    return [one for one in asked.findings if request.fixed or not (one.at or "").endswith(".diameter")]


def _kept(request: QuoteRequest, asked: Document) -> list[Assumed]:
    """Return what was assumed of the document, likewise."""
    return [one for one in asked.assumed if request.fixed or not one.path.endswith(".diameter")]


def _of_tree(asked: Document, findings: Iterable[Finding]) -> list[Finding]:
    """Return findings of the tree, but for what the outline has told already and what is of joints."""
    told = {one.code for one in asked.findings} | _OF_JOINTS
    return of_answer(one for one in findings if one.code not in told)


def _but_prices(findings: Iterable[Finding]) -> list[Finding]:
    """Return sizing's findings but for what its price is without: a quote's price is the parts list's."""
    return [one for one in findings if one.code != "piece-not-priced"]


def _merged(asked: Document, whole: QuoteAnswer, further: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return all findings, of those with one code at one place in one state the first; what was solved comes first."""
    once: dict[tuple[str, str | None, str | None], Finding] = {}
    for one in (*_of_tree(asked, further), *whole.findings):
        once.setdefault((one.code, one.at, one.state), one)
    return ordered(list(once.values()))


def _once(sources: Iterable[Source]) -> tuple[Source, ...]:
    return tuple({source.id: source for source in sources}.values())


def _guessed(tree: Tree) -> list[Finding]:
    """Return the finding of a fan whose curve was guessed."""
    return [] if tree.collector is None else of_answer(fan_findings.of(tree.units, tree.collector))


def today() -> date:
    """Return the day by universal time."""
    return datetime.now(UTC).date()


def _expired(request: QuoteRequest) -> list[Finding]:
    """Return the warning that the stock's prices hold no longer."""
    expires = request.stock.expires
    if expires is None or date.fromisoformat(expires) >= today():
        return []
    message = f"the stock's prices held until {expires}; this quote is not one to order by"
    advice = Suggestion(text="ask the seller for today's prices")
    return [finding(request.units, "stock-expired", message, at="stock.expires", suggestion=advice)]
