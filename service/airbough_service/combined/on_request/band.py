"""The band of an answer that rests on a guessed fan: its state for the least and the most that the fan may do."""

from __future__ import annotations

from airbough.wire.answer import Band, HoodBand, HoodResult
from airbough_service.shop import collector
from airbough_service.shop.gates import GateState
from airbough_service.shop.guessed_fan import Curve, guessed
from airbough_service.solving.solved_state import Solved, solve
from airbough_service.solving.told_state import ToldState


def band(state: ToldState | None) -> Band | None:
    """Return the band of a state that was told; None where its fan is no guess, or no fan moves its air."""
    if state is None or state.fan is None:
        return None
    own = state.shop.request.collector
    if own is None or own.known_by is None or own.fan is None or state.fan_given != own.fan:
        return None
    found = guessed(own.known_by)
    low, high = _solved(state, found.low), _solved(state, found.high)
    return Band(
        flow_low=float(low.operating.flow[0]),
        flow_high=float(high.operating.flow[0]),
        hoods=tuple(_hood(least, most) for least, most in zip(low.hoods, high.hoods, strict=True)),
    )


def _solved(state: ToldState, curve: Curve) -> Solved:
    request = state.shop.request
    losses = request.collector is not None and bool(request.collector.losses)
    fan = collector.build(state.shop, curve.fan(losses))
    return solve(state.shop, fan, GateState(openings=state.openings))


def _hood(low: HoodResult, high: HoodResult) -> HoodBand:
    return HoodBand(
        run=low.run,
        flow_low=low.flow,
        flow_high=high.flow,
        share_of_design_low=low.share_of_design,
        share_of_design_high=high.share_of_design,
    )
