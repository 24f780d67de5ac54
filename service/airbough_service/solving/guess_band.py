"""The least and the most that a guessed fan may do, ready for a tree."""

from __future__ import annotations

from airbough_service.core.laws.fan import Fan as Curve
from airbough_service.shop import collector
from airbough_service.shop.guessed_fan import guessed
from airbough_service.shop.shop import Shop


def fans(shop: Shop) -> tuple[Curve, Curve] | None:
    """Return the two ends of a guessed fan's band; None where the fan's curve is the caller's."""
    own = shop.request.collector
    if own is None or own.known_by is None or own.fan is None:
        return None
    found, losses = guessed(own.known_by), bool(own.losses)
    low, high = (collector.build(shop, curve.fan(losses)) for curve in (found.low, found.high))
    return low, high
