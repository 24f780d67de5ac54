"""The rules of a sizing by weight, and in which order they are given up."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal, TypeAlias

from airbough.wire.sizing import SizingRequest
from airbough_service.core.choosing.sites import MOST_STEPS
from airbough_service.shop.filling import filled

RULES: Final = (
    "transport_velocity",
    "design_flow",
    "upper_velocity",
    "no_narrowing",
    "pressure_available",
    "meeting_without_gates",
)
CLEARED: Final = "transport_velocity, cleared by another state"
GIVEN_UP: Final = (
    ("upper_velocity",),
    ("no_narrowing",),
    (CLEARED,),
    ("transport_velocity",),
    ("design_flow", "pressure_available"),
)
"""Rules that the caller left out, from the first given up to the last."""
OF_FAN: Final = frozenset({"design_flow", "pressure_available"})
"""Those on the fan, which both look at the pressure that there is where the flows are given."""
MOST_KEPT: Final = 64  # sets of rules whose weights are remembered
EXACT: Final = 2.0**53  # whole numbers up to here are floats

Weight: TypeAlias = Literal["must", "prefer", "trade"]


@dataclass(frozen=True, slots=True)
class Rules:
    """Which rules must hold, which the caller prefers, and which of the trade's stand where he said nothing."""

    must: frozenset[str]
    prefer: frozenset[str]
    trade: frozenset[str] = frozenset()

    def without(self, dropped: frozenset[str]) -> Rules:
        """Return the rules with some no longer a must, but missed by as little as may be before all others are."""
        places_only = dropped & {"meeting_without_gates"}
        return Rules(self.must - dropped, places_only, dropped - places_only)

    def alone(self, must: frozenset[str]) -> Rules:
        """Return the rules with these as musts and the same wishes, runs that meet apart."""
        meeting = {"meeting_without_gates"}
        return Rules(must, self.prefer - meeting - must, self.trade - must)

    def weight_of(self, rule: str) -> Weight | None:
        """Return a rule's weight in words; None where it is not judged."""
        if rule in self.must:
            return "must"
        return "prefer" if rule in self.prefer else "trade" if rule in self.trade else None

    def most(self, rule: str) -> int:
        """Return how often a place counts at most: of a wish once, of the trade's once for each step."""
        return 1 if rule in self.prefer else MOST_STEPS

    def weights(self, places: int) -> dict[str, float]:
        """Return what a broken place counts each time: more than all `places` of what is given up before it.

        As far as whole numbers are floats; with so many rules and places that they are not, less.
        """
        return _weights(self, places)


@lru_cache(MOST_KEPT)
def _weights(rules: Rules, places: int) -> dict[str, float]:
    """Return what a broken place counts, as of `Rules.weights`; asked for each bore of each run."""
    trade = rules.trade | ({CLEARED} if "transport_velocity" in rules.trade else set())
    classes = [tuple(rule for rule in own if rule in trade) for own in GIVEN_UP]
    wished = rules.prefer | ({CLEARED} if "transport_velocity" in rules.prefer else set())
    classes = [own for own in (*classes, tuple(sorted(wished))) if own]
    most = float(MOST_STEPS * places + 2)
    base = min(most, (EXACT / most) ** (1.0 / max(len(classes) - 1, 1)) // 1.0)
    return {rule: base**number for number, own in enumerate(classes) for rule in own}


def rules_of(request: SizingRequest) -> Rules:
    """Return the rules by weight."""
    by_weight = {rule: getattr(request.rules, rule) for rule in RULES}

    def of(weight: str) -> frozenset[str]:
        return frozenset(rule for rule, own in by_weight.items() if own == weight)

    unsaid = frozenset(rule for rule, own in by_weight.items() if own is None)
    return Rules(of("must"), of("prefer"), unsaid & _of_the_trade(request))


def _of_the_trade(request: SizingRequest) -> set[str]:
    """Return the rules that there is something to judge by, without a word of the caller's."""
    limits, out = request.limits, {"no_narrowing"}
    for rule in ("transport_velocity", "upper_velocity"):
        if dusty(request) or getattr(limits, rule) is not None:
            out.add(rule)
    fan = request.collector is not None and request.collector.fan is not None
    if fan:
        out.add("design_flow")
    if fan or limits.pressure_available is not None:
        out.add("pressure_available")
    return out


def dusty(request: SizingRequest) -> bool:
    """Return whether some dust is named."""
    runs = filled(request)[0].runs
    return request.dust is not None or any(run.hood is not None and run.hood.dust is not None for run in runs)


def by_fan(request: SizingRequest) -> bool:
    """Return whether the fan decides what flows."""
    if request.flows is None:
        return request.collector is not None and request.collector.fan is not None
    return request.flows == "fan"
