"""The finding of a fan whose curve is a guess: its band, and what to ask the seller."""

from __future__ import annotations

from airbough.wire.answer import Finding, Suggestion
from airbough.wire.collector import Collector
from airbough.wire.quantity import Preset
from airbough_service.shop.guessed_fan import guessed
from airbough_service.terms.finding import finding, show

_ASK = (
    "ask the seller for flow against static pressure at five or more points, what of filter, cyclone and bag is in it, "
    "in which inlet and air it was measured, and the motor's rated output"
)


def of(preset: Preset, collector: Collector | None) -> list[Finding]:
    """Return the warning of a guessed fan."""
    if collector is None or collector.known_by is None:
        return []
    found = guessed(collector.known_by)
    flows, suctions = (
        tuple(show(preset, kind, getattr(curve, name)) for curve in (found.low, found.own, found.high))
        for kind, name in (("flow", "most"), ("pressure", "suction"))
    )
    return [
        finding(
            preset,
            "fan-guessed",
            f"the fan's curve is a guess, no curve of the maker's: it ends at {flows[1]} ({flows[0]} to {flows[2]}), "
            f"and begins at {suctions[1]} ({suctions[0]} to {suctions[2]}); all that rests on it has that band",
            at="collector.known_by",
            quantity="greatest_flow",
            kind="flow",
            value=found.own.most,
            minimum=found.low.most,
            suggestion=Suggestion(text=_ASK),
            source="common-practice",
        )
    ]
