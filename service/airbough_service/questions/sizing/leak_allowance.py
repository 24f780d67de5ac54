"""What a sizing for given flows allows for leaks: as much as the sized tree then lets in, a little more."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.questions.sizing.duty import duty
from airbough_service.questions.sizing.engine import Checked
from airbough_service.questions.sizing.problem import Maker

Floats = NDArray[np.float64]
MORE: Final = 1.02  # allowed for what leaks in


def allowing(maker: Maker, checks: list[Checked]) -> Maker | None:
    """Return the maker with more allowed for leaks; None where as much is allowed as leaks in, in every run and state.

    Args:
        maker: with what was allowed.
        checks: what the engine says of the tree sized for it.
    """
    states, short = [], False
    for state, check in zip(maker.states, checks, strict=True):
        assert check.balance is not None
        flow = np.array([float(run.flow) for run in check.balance.runs[: state.flow.size]])
        over = flow > state.flow + 1.0e-9 * flow.max()
        short = short or bool(over.any())
        leaks = np.maximum(state.flow - state.design, MORE * (flow - state.design) * over)
        states.append(replace(state, flow=state.design + leaks))
    if not short:
        return None
    request, shop, raised = maker.request, maker.shop, tuple(states)
    return maker.guided(raised, maker.options.at_flows(raised), duty(request, shop, raised))


def allowed(maker: Maker) -> Floats | None:
    """Return, by state, what is allowed for leaks at the fan, m3/s; None where nothing leaks."""
    if maker.shop.parted is None:
        return None
    roots = list(maker.shop.shape.roots)
    return np.array([float((state.flow - state.design)[roots].sum()) for state in maker.states])
