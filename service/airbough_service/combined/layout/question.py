"""POST /v1/outlines/layout answered: the program's trees, sized, solved, ranked, and what is proven of their price."""

from __future__ import annotations

from airbough.wire.layout import LayoutAnswer, LayoutRequest
from airbough_service.combined.layout import telling
from airbough_service.combined.layout.asked import asked
from airbough_service.combined.layout.places import places
from airbough_service.combined.layout.searching import searched


def answer(request: LayoutRequest) -> LayoutAnswer:
    """Answer the question; the request is in SI.

    Raises:
        Refusal: with every fault of room and machines, else of stock and states, else of places without a way.
    """
    ready = asked(request)
    where = places(request)
    found = searched(ready, where)
    return telling.told(ready, where, found)
