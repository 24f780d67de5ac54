"""The states that a tree is sized for: gates, design flows and dusts, by run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough.wire.problem import Fault
from airbough.wire.sizing import (
    SizingRequest,
    SizingState,
)
from airbough_service.catalogue import Dust
from airbough_service.judging.checks import dusts_of
from airbough_service.shop import gates
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving.design import design_flows
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
DOCUMENT = "document"


@dataclass(frozen=True, slots=True)
class State:
    """One state.

    Attributes:
        name: the caller's; `document` where none was given.
        openings: run number -> opening where it departs from the document.
        flow: shape (runs,), design flow of each run, m3/s; 0 where nothing is meant to flow.
        dusts: by run, those that reach it.
        at: path in the request.
    """

    name: str
    openings: dict[int, float]
    flow: Floats
    dusts: tuple[tuple[Dust, ...], ...]
    at: str


def states(request: SizingRequest, shop: Shop) -> tuple[State, ...]:
    """Return the states asked for, or the document's own alone.

    Raises:
        Refusal: with every unknown or repeated name, every missing design flow, every state in which nothing flows.
    """
    faults: list[Fault] = []
    opened = gates.settings(shop, request.states, faults)
    if not opened:
        opened = (gates.GateState(DOCUMENT),)
    out = []
    for number, state in enumerate(opened):
        own = _own_flows(shop, request.states[number], f"states[{number}]", faults) if request.states else {}
        at = f"states[{number}]" if request.states else "runs"
        design = design_flows(shop, state.openings, own)
        if _needed(request):
            faults += design.faults
        if not gates.way_open(shop, state.openings):
            faults.append(Fault(path=at, code="all-gates-shut", detail="nothing flows in this state"))
        dusts = tuple(dusts_of(shop, state.openings))
        out.append(State(state.name or DOCUMENT, state.openings, design.flow, dusts, at))
    if faults:
        raise Refusal("not-computable", list(dict.fromkeys(faults)))
    return tuple(out)


def _needed(request: SizingRequest) -> bool:
    """Return whether each open hood must have a design flow."""
    return request.flows == "design" or request.rules.design_flow is not None


def _own_flows(shop: Shop, state: SizingState, at: str, faults: list[Fault]) -> dict[int, float]:
    """Return the state's own design flows by run number."""
    by_id = {run.id: run for run in shop.runs}
    out: dict[int, float] = {}
    for name, flow in (state.flows or {}).items():
        run = by_id.get(name)
        if run is None or run.run.hood is None:
            detail = f"no run has the id {name!r}" if run is None else f"run {name!r} has no hood"
            faults.append(
                Fault(path=f"{at}.flows.{name}", code="unknown-run" if run is None else "no-hood", detail=detail)
            )
        else:
            out[run.index] = float(flow)
    return out
