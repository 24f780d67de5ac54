"""The part of the answer that every tree answer has."""

from __future__ import annotations

from typing import Any

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
)
from airbough.wire.sizing import SizingRequest
from airbough_service.shop.shop import Shop
from airbough_service.solving import tree_answer
from airbough_service.terms.finding import ordered


def shared(
    request: SizingRequest, shop: Shop, runs: tuple[RunResult, ...], hoods: tuple[HoodResult, ...], items: list[Finding]
) -> dict[str, Any]:
    """Return what every tree answer carries."""
    return {
        "engine": tree_answer.engine(request),
        "units": {},
        "preset": request.units,
        "air": shop.air,
        "name": request.name,
        "runs": runs,
        "hoods": hoods,
        "system": tree_answer.whole(shop, runs),
        "findings": ordered(items),
        "sources": tree_answer.told_sources(shop),
        "cautions": tree_answer.cautions(shop, items),
        "assumed": shop.assumed,
    }
