"""Which bores are taken where none is stated: from ports, design flows and transport velocities; SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from airbough_service.core.limits import HOLDS

_ALIKE: Final = 0.5 * HOLDS  # of a diameter: half of what a velocity may lack


@dataclass(frozen=True, slots=True)
class Demand:
    """What a machine alone carries.

    Attributes:
        flow: its design flow, m3/s.
        velocity: that its dust needs, m/s.
    """

    flow: float
    velocity: float

    @property
    def widest(self) -> float:
        """The widest bore in which it still carries, m."""
        return math.sqrt(4.0 * self.flow / (math.pi * self.velocity))

    def carries(self, bore: float) -> bool:
        """Return whether air is fast enough in a bore, m."""
        return bore <= self.widest * (1.0 + _ALIKE)


def bore(least: float, demand: Demand | None, listed: Sequence[float]) -> float:
    """Return the largest listed bore in which a demand alone still carries, but none below the least.

    Args:
        least: what it may not be narrower than, m; 0 for nothing.
        demand: of the machine that fills the least bore; None where that is not known.
        listed: nominal diameters, m, rising.

    Returns:
        m. Where no listed bore does both, the smallest listed one that is not below the least; beyond the list, the
        least itself.
    """
    wide = [size for size in listed if size >= least * (1.0 - _ALIKE)]
    if not wide:
        return least
    carrying = [] if demand is None else [size for size in wide if demand.carries(size)]
    return carrying[-1] if carrying else wide[0]
