"""The one solved state that an answer's `runs` tell, for what may be asked beside any answer about a tree."""

from __future__ import annotations

from typing import Generic, TypeVar

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from airbough.wire.collector import Fan
from airbough_service.core.laws.fan import Fan as Curve
from airbough_service.core.network.losses import Losses
from airbough_service.shop.gates import Openings
from airbough_service.shop.shop import Shop
from airbough_service.solving.balanced_tree import Balanced
from airbough_service.solving.solved_state import Solved

Floats = NDArray[np.float64]
AnyAnswer = TypeVar("AnyAnswer", bound=Struct)


class ToldState(Struct, frozen=True):
    """A solved state: an operating point, or a balance at design flows.

    Attributes:
        shop: the tree.
        openings: run number -> opening where the state departs from the document.
        gate: gate coefficients by packed row, with what a balance added.
        flow: by packed row, m3/s.
        losses: by packed row.
        at_fan: fall of total pressure from the room to the fan's inlet and past the discharge, Pa.
        known: whether pressures are known; they are not where the fan's curve has no point for the state.
        fan: ready, None for a balance.
        fan_given: the same fan as the request has it, in SI.
    """

    shop: Shop
    gate: Floats
    flow: Floats
    losses: Losses
    at_fan: float
    openings: Openings = field(default_factory=dict)
    known: bool = True
    fan: Curve | None = None
    fan_given: Fan | None = None


class Answered(Struct, Generic[AnyAnswer], frozen=True):
    """An answer, and the state that its `runs` tell; None where it tells none."""

    answer: AnyAnswer
    state: ToldState | None


def of_point(solved: Solved, own: Fan | None = None) -> ToldState:
    """Return the state of an operating point; `own`: its fan, where it is not the collector's own."""
    collector = solved.shop.request.collector
    known = solved.known
    flow = solved.operating.flow
    return ToldState(
        shop=solved.shop,
        gate=solved.gate,
        flow=flow,
        losses=solved.losses,
        at_fan=solved.at_fan,
        openings=solved.openings,
        known=known,
        fan=solved.fan,
        fan_given=own or (None if collector is None else collector.fan),
    )


def of_balance(found: Balanced) -> ToldState:
    """Return the state of a balance."""
    return ToldState(found.shop, found.result.gate, found.result.flow, found.losses, found.result.at_fan)
