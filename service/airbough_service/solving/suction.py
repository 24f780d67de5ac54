"""How deep a suction one density can answer."""

from __future__ import annotations

from typing import Final

from airbough.wire.answer import RunResult
from airbough.wire.problem import Fault
from airbough_service.shop.shop import Shop
from airbough_service.terms.finding import show_apart
from airbough_service.terms.refusal import Refusal

NEGLECTED: Final = 20.0 * 249.08891  # Pa of suction above which one density is a rough reading
REFUSED: Final = 60.0 * 249.08891  # Pa of suction above which the service does not answer


def refuse_deep_suction(shop: Shop, told: tuple[RunResult, ...]) -> None:
    """Refuse what a constant density cannot answer.

    Raises:
        Refusal: at the first run whose suction is too deep.
    """
    for run, answer in zip(shop.runs, told, strict=True):
        if -answer.static_pressure > REFUSED:
            text, most = show_apart(shop.request.units, "pressure", -answer.static_pressure, REFUSED)
            detail = f"suction reaches {text}; above {most} one density cannot answer"
            raise Refusal("not-computable", [Fault(path=f"runs[{run.index}]", code="suction-too-deep", detail=detail)])
