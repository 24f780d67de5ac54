"""The part of the answer that every tree answer has."""

from __future__ import annotations

from typing import Any

from airbough.wire.answer import Finding, HoodTold, RunTold
from airbough.wire.sizing import SizingRequest
from airbough_service.edge import sources, told
from airbough_service.edge.finding import ordered
from airbough_service.edge.shop import Shop


def shared(
    request: SizingRequest, shop: Shop, runs: tuple[RunTold, ...], hoods: tuple[HoodTold, ...], items: list[Finding]
) -> dict[str, Any]:
    """Return what every tree answer carries."""
    words = ("nonconductive-duct",) if any(item.code == "nonconductive-duct" for item in items) else ()
    return {
        "engine": told.engine(request),
        "units": {},
        "preset": request.units,
        "air": shop.air,
        "name": request.name,
        "runs": runs,
        "hoods": hoods,
        "system": told.whole(shop, runs),
        "findings": ordered(items),
        "sources": sources.told((passport.source, passport.how) for passport in told.used(shop)),
        "cautions": told.cautions(shop, words),
    }
