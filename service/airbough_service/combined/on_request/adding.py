"""What may be asked of any tree question: the resolved request, the explanation, how sure the answer is."""

from __future__ import annotations

from typing import Any

from msgspec import Struct, structs

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.balance import BalanceRequest
from airbough.wire.collector import (
    Fan,
    NamedFan,
)
from airbough.wire.diagnosis import DiagnosisRequest
from airbough.wire.problem import Fault
from airbough.wire.tree import Tree
from airbough.wire.uncertainty import UncertaintyTold
from airbough_service.combined.on_request.explain.explanation import (
    State,
    explanation,
)
from airbough_service.combined.on_request.resolved import resolved
from airbough_service.combined.on_request.uncertainty import uncertainty
from airbough_service.core.network import balance as balancing
from airbough_service.core.network.losses import losses
from airbough_service.questions.measuring.diagnosis.readings import in_state
from airbough_service.shop import collector as fans
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving.design import at_hoods, limits
from airbough_service.solving.operating_point import solve
from airbough_service.terms.finding import (
    finding,
    ordered,
)
from airbough_service.terms.refusal import Refusal


def added(name: str, written: Tree, in_si: Tree, found: Struct) -> Struct:
    """Return the answer with what was asked beside it.

    Explanation and uncertainty are those of the balance for a balance, else of the operating point in the
    document's own state of the gates; for a diagnosis in the state of its readings.

    Args:
        name: of the question.
        written: the request with quantities as the caller wrote them.
        in_si: the same in SI.
        found: the answer in SI.

    Raises:
        Refusal: no fan where one is needed, or more draws than are answered.
    """
    _refuse_without_room(written, found)
    shop = build(in_si)
    changes: dict[str, Any] = {}
    if written.resolved:
        changes["resolved"] = resolved(written, shop)
    if isinstance(in_si, DiagnosisRequest):
        in_si = in_state(in_si, shop)
        shop = build(in_si)
    if written.explain:
        state = balanced(shop, in_si) if isinstance(in_si, BalanceRequest) else operating(shop)
        changes["explanation"] = () if state is None else explanation(state)
    if written.uncertainty is not None:
        changes["uncertainty"] = told = uncertainty(shop, in_si, written.uncertainty, chosen_fan(shop))
        if told.share_solved < 1.0:
            changes["findings"] = ordered([*found.findings, _left_out(shop, told)])  # type: ignore[attr-defined]
    return structs.replace(found, **changes)


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


def _left_out(shop: Shop, told: UncertaintyTold) -> Finding:
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


def chosen_fan(shop: Shop) -> Fan | None:
    """Return the document's fan, else the first of those to compare."""
    collector = shop.request.collector
    several: tuple[NamedFan, ...] = getattr(shop.request, "fans", ())
    if collector is not None and collector.fan is not None:
        return collector.fan
    return several[0].fan if several else None


def operating(shop: Shop) -> State | None:
    """Return the operating point in the document's state; None where the curve does not reach it."""
    asked = chosen_fan(shop)
    fan = fans.build(shop, asked)
    solved = solve(shop, fan)
    if solved.operating.outcome == "beyond-fan-curve":
        return None
    flow = solved.operating.flow
    return State(shop, solved.gate, flow, solved.losses, fan.left_for_tree(float(flow[0])), fan, asked)


def balanced(shop: Shop, request: BalanceRequest) -> State:
    """Return the balance at design flows."""
    result = balancing.balance(shop.tree, shop.gates(), at_hoods(shop), request.by, request.correction, limits())
    parts = losses(shop.tree, result.gate, result.flow, result.at_fan)
    return State(shop, result.gate, result.flow, parts, result.at_fan)
