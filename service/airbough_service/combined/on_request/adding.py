"""What may be asked beside any answer about a tree: the resolved request, the explanation, how sure the answer is."""

from __future__ import annotations

from typing import Any

from msgspec import Struct, structs

from airbough.wire.answer import Finding, Suggestion
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough.wire.uncertainty import UncertaintyResult
from airbough_service.combined.on_request.explain.explanation import explanation
from airbough_service.combined.on_request.resolved import resolved
from airbough_service.combined.on_request.uncertainty import uncertainty
from airbough_service.shop.shop import Shop, build
from airbough_service.solving.told_state import Answered, ToldState
from airbough_service.terms.finding import finding, ordered
from airbough_service.terms.refusal import Refusal


def added(written: Tree, in_si: Tree, answered: Answered[Any]) -> Struct:
    """Return the answer with what was asked beside it; explanation and uncertainty are of the state that it tells.

    Args:
        written: the request with quantities as the caller wrote them.
        in_si: the same in SI.
        answered: the answer in SI, with the state of its `runs`.

    Raises:
        Refusal: the answer tells no state, or more draws are asked for than are answered.
    """
    found: Struct = answered.answer
    _refuse_without_room(written, found)
    changes: dict[str, Any] = {}
    if written.resolved:
        changes["resolved"] = resolved(written, build(in_si))
    if written.explain:
        state = answered.state
        changes["explanation"] = explanation(state) if state is not None and state.known else ()
    if written.uncertainty is not None:
        told_of = _told(answered.state)
        _refuse_guess(told_of)
        changes["uncertainty"] = told = uncertainty(told_of, in_si, written.uncertainty)
        if told.share_solved < 1.0:
            changes["findings"] = ordered([*found.findings, _left_out(told_of.shop, told)])  # type: ignore[attr-defined]
    return structs.replace(found, **changes)


def _refuse_guess(state: ToldState) -> None:
    """Refuse draws around a guessed fan: it may be off by far more than a curve that somebody measured."""
    collector = state.shop.request.collector
    if state.fan is not None and collector is not None and collector.known_by is not None:
        detail = "the fan is a guess, and what it may be off by is told in the band of the answer; give its curve"
        raise Refusal("not-computable", [Fault(path="uncertainty", code="fan-guessed", detail=detail)])


def _told(state: ToldState | None) -> ToldState:
    """Return the state told, or refuse where there is none to be sure of."""
    if state is None:
        detail = "this answer shows no state of the tree; it needs a fan, and some state in which that runs"
        raise Refusal("not-computable", [Fault(path="uncertainty", code="no-state-shown", detail=detail)])
    return state


def _refuse_without_room(written: Tree, found: Struct) -> None:
    """Refuse what an answer of this kind has no place for, such as an explanation in a picture."""
    wanted = (
        ("resolved", "resolved", written.resolved),
        ("explain", "explanation", written.explain),
        ("uncertainty", "uncertainty", written.uncertainty is not None),
    )
    faults = [
        Fault(
            path=path,
            code="not-for-this-question",
            detail="this answer has no place for it; ask operating-point or balance",
        )
        for path, field, is_asked in wanted
        if is_asked and field not in found.__struct_fields__
    ]
    if faults:
        raise Refusal("not-computable", faults)


def _left_out(shop: Shop, told: UncertaintyResult) -> Finding:
    """Return the finding of draws without an operating point."""
    return finding(
        shop.request.units,
        "draws-beyond-curve",
        f"{100.0 * (1.0 - told.share_solved):.0f} % of the draws cross the fan's curve outside its points; the ranges "
        "are those of the rest",
        at="collector.fan.curve",
        quantity="share_solved",
        value=told.share_solved,
        minimum=1.0,
        suggestion=Suggestion(text="give further points of the curve"),
    )
