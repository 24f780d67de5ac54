"""How deep a suction one density can answer."""

from __future__ import annotations

from airbough.wire.answer import RunResult
from airbough.wire.problem import Fault
from airbough_service.catalogue.checks import check
from airbough_service.core.limits import above
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import show_apart
from airbough_service.terms.refusal import Refusal


def neglected() -> float:
    """Return the suction above which one density is a rough reading, Pa."""
    return check("suction-neglected").value


def most() -> float:
    """Return the greatest suction that one density answers, Pa."""
    return check("suction-refused").value


def refuse(shop: Shop, index: int, suction: float, state: str | None = None) -> None:
    """Refuse a suction that a constant density cannot answer.

    Args:
        shop: the tree.
        index: number of the run in which it is.
        suction: Pa.
        state: name of the state of the gates, where it is not the document's.

    Raises:
        Refusal: at that run.
    """
    if not above(suction, most()):
        return
    preset = shop.request.units
    where = "" if state is None else f" with {state!r}"
    reached, limit = show_apart(preset, "pressure", suction, most())
    detail = f"suction reaches {reached}{where}; above {limit} one density cannot answer"
    raise Refusal("not-computable", [Fault(path=f"runs[{index}]", code="suction-too-deep", detail=detail)])


def refuse_deep_suction(shop: Shop, told: tuple[RunResult, ...]) -> None:
    """Refuse a state of the tree that a constant density cannot answer.

    Raises:
        Refusal: at the first run whose suction is too deep.
    """
    deepest = min([answer.static_pressure for answer in told], default=0.0)
    if not above(-deepest, most()):
        return
    for run, answer in zip(shop.runs, told, strict=True):
        refuse(shop, run.index, -answer.static_pressure)
