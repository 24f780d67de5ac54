"""Every question by name, and the one function that answers it; server, batch and in-process SDK all come here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from msgspec import Struct, structs

from airbough.reading.telling import taught
from airbough.wire.answer import TreeAnswer
from airbough.wire.drawing import DrawingAnswer, DrawingRequest
from airbough.wire.gate_states import GateStatesRequest
from airbough.wire.quote import QuoteAnswer
from airbough.wire.tree import Tree
from airbough_service.combined import compare, layout, pairs, trimming
from airbough_service.combined.on_request.adding import added
from airbough_service.combined.on_request.advice import advice
from airbough_service.combined.on_request.advice_price import refuse_idle_stock
from airbough_service.combined.on_request.band import band
from airbough_service.combined.quotes import question as quotes
from airbough_service.combined.quotes.digest import digest
from airbough_service.combined.variants import question as variants
from airbough_service.core.errors import DidNotConvergeError
from airbough_service.drafting.following import followed
from airbough_service.judging import fan_findings
from airbough_service.questions import balance, drawing, operating_point, sizing
from airbough_service.questions.gate_states import question as gate_states
from airbough_service.questions.gate_states.states_asked import how_many
from airbough_service.questions.lookups import air, catalogue, fitting, friction, velocity
from airbough_service.questions.make_up_air import question as make_up_air
from airbough_service.questions.measuring import hood_static_pressure
from airbough_service.questions.measuring.diagnosis import question as diagnosis
from airbough_service.questions.measuring.traverse import question as traverse
from airbough_service.questions.outline import question as outline
from airbough_service.questions.outline import template
from airbough_service.questions.parts_list import question as parts_list
from airbough_service.questions.strength import question as strength
from airbough_service.questions.working_day import question as working_day
from airbough_service.shop.machines import machines_of
from airbough_service.shop.topology import shape_of
from airbough_service.solving.told_state import Answered
from airbough_service.terms import units
from airbough_service.terms.finding import ordered
from airbough_service.terms.refusal import Refusal, undistributed

Answering = Callable[..., Struct | Answered[Any]]
"""Takes the request in SI (and path words as keywords); returns the answer in SI, a tree's with the state it tells."""


def _drawing(request: DrawingRequest) -> DrawingAnswer:
    return pairs.answer(request) if request.of == "pairs" else drawing.answer(request)


_ANSWERING: Final[dict[str, Answering]] = {
    "air": air.answer,
    "friction-loss": friction.answer,
    "velocity-check": velocity.answer,
    "fittings": catalogue.fittings,
    "fitting": catalogue.fitting,
    "fitting-loss": fitting.answer,
    "ducts": catalogue.ducts,
    "dusts": catalogue.dusts,
    "hoods": catalogue.hoods,
    "sources": catalogue.sources,
    "balance": balance.answered,
    "operating-point": operating_point.answered,
    "gate-states": gate_states.answered,
    "sizing": sizing.answer,
    "parts-list": parts_list.answer,
    "quote": quotes.answer,
    "working-day": working_day.answered,
    "strength": strength.answered,
    "make-up-air": make_up_air.answered,
    "diagnosis": diagnosis.answered,
    "compare": compare.answer,
    "variants": variants.answer,
    "outline": outline.answer,
    "outline-template": template.answer,
    "layout": layout.answer,
    "drawing": _drawing,
    "traverse": traverse.answer,
    "hood-static-pressure": hood_static_pressure.answer,
}
"""Question name -> answering function."""


_IN_PART: Final = frozenset({"operating-point", "balance"})
"""Questions that leave out work for what is not wanted of their answer."""


def answer(name: str, request: Any, only: tuple[str, ...] | None = None, **path_words: str) -> Any:
    """Answer a question.

    Args:
        name: the call's name, as in ``airbough.calls``.
        request: the decoded request struct, quantities as the caller wrote them.
        only: the parts of the answer that are asked for; None: the whole.
        path_words: words of the path template.

    Returns:
        The answer struct in the request's preset, all numbers finite; a `TrimmedAnswer` of parts.

    Raises:
        Refusal: with every fault of the level that failed.
        NotFiniteError: where a number of the answer is not finite.
    """
    parts = None if only is None else trimming.parts(name, only)
    try:
        told = _answered(name, request, path_words, parts)
    except Refusal as refused:
        raise Refusal(refused.kind, taught(refused.faults, request)) from None
    if parts is None:
        return units.told(told, request.units)
    return trimming.trimmed(units.told(trimming.emptied(told, parts), request.units), parts)


def _answered(name: str, request: Any, path_words: dict[str, str], parts: trimming.Parts | None) -> Any:
    """Return the answer in SI, at least the parts of it that are wanted."""
    in_si, assumed = followed(units.to_si(request))
    if hasattr(in_si, "advice"):
        refuse_idle_stock(in_si)
    try:
        wanted = {"wanted": parts.fields} if parts is not None and name in _IN_PART else {}
        found = _ANSWERING[name](in_si, **wanted, **path_words)
        told = found.answer if isinstance(found, Answered) else found
        if isinstance(found, Answered) and isinstance(told, TreeAnswer):
            own = band(found.state)
            told = told if own is None else structs.replace(told, band=own)
        if isinstance(told, QuoteAnswer):
            told = structs.replace(told, stock_digest=digest(request.stock))  # as it was sent, not in SI
        if isinstance(told, TreeAnswer) and isinstance(in_si, Tree):
            guess = fan_findings.of(in_si.units, in_si.collector)
            told = structs.replace(told, findings=ordered([*told.findings, *guess])) if guess else told
        if isinstance(request, Tree) and (request.resolved or request.explain or request.uncertainty is not None):
            told = added(request, in_si, Answered(told, found.state if isinstance(found, Answered) else None))
        if getattr(in_si, "advice", False) and isinstance(found, Answered) and found.state is not None:
            told = structs.replace(told, advice=advice(found.state))
    except DidNotConvergeError:
        raise undistributed() from None
    if assumed and isinstance(told, TreeAnswer):
        told = structs.replace(told, assumed=(*assumed, *told.assumed))
    return told


def states_asked(request: Struct) -> int:
    """Return how many states of the gates a request asks for, beside those that are always looked at."""
    if not isinstance(request, GateStatesRequest):
        return len(getattr(request, "states", None) or ())
    shape, _ = shape_of(request.runs)
    return how_many(request, () if shape is None else machines_of(request.runs, shape)[0].each)
