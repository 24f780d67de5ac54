"""The band of an answer that rests on a guessed fan: its state for the least and the most that the fan may do."""

from __future__ import annotations

from airbough.wire.answer import Band, HoodBand, HoodResult
from airbough_service.shop.gates import GateState
from airbough_service.solving.guess_band import fans
from airbough_service.solving.solved_state import solve
from airbough_service.solving.told_state import ToldState


def band(state: ToldState | None) -> Band | None:
    """Return the band of a state that was told; None where its fan is no guess, or no fan moves its air."""
    if state is None or state.fan is None:
        return None
    own = state.shop.request.collector
    if own is None or own.known_by is None or own.fan is None or state.fan_given != own.fan:
        return None
    ends = fans(state.shop)
    assert ends is not None
    low, high = (solve(state.shop, end, GateState(openings=state.openings)) for end in ends)
    return Band(
        flow_low=float(low.operating.flow[0]),
        flow_high=float(high.operating.flow[0]),
        hoods=tuple(_hood(least, most) for least, most in zip(low.hoods, high.hoods, strict=True)),
    )


def _hood(low: HoodResult, high: HoodResult) -> HoodBand:
    return HoodBand(
        run=low.run,
        flow_low=low.flow,
        flow_high=high.flow,
        share_of_design_low=low.share_of_design,
        share_of_design_high=high.share_of_design,
    )
