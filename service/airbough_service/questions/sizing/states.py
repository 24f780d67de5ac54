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
    downstream_first,
)
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
    asked = request.states
    openings: list[dict[int, float]] = gates.openings(shop, asked) if asked else [{}]
    faults = _names(asked)
    out = []
    for number, opened in enumerate(openings):
        state = asked[number] if asked else SizingState(name=DOCUMENT)
        at = f"states[{number}]" if asked else "runs"
        flow = _flows(request, shop, state, opened, at, faults)
        out.append(State(state.name, opened, flow, tuple(dusts_of(shop, opened)), at))
    if faults:
        raise Refusal("not-computable", list(dict.fromkeys(faults)))
    return tuple(out)


def _names(asked: tuple[SizingState, ...]) -> list[Fault]:
    """Return a fault for each name that stands twice."""
    names = [state.name for state in asked]
    return [
        Fault(path=f"states[{number}].name", code="duplicate-name", detail=f"a state named {name!r} already stands")
        for number, name in enumerate(names)
        if name in names[:number]
    ]


def _flows(
    request: SizingRequest, shop: Shop, state: SizingState, opened: dict[int, float], at: str, faults: list[Fault]
) -> Floats:
    """Return every run's design flow in a state."""
    own = _own_flows(shop, state, at, faults)
    flow, live = np.zeros(len(shop.runs)), gates.served(shop, opened)
    order = downstream_first(shop.shape)
    for index in order:
        parent = shop.shape.parents[index]
        live[index] = live[index] and (parent < 0 or live[parent])
    for index in reversed(order):
        run, parent = shop.runs[index].run, shop.shape.parents[index]
        if not live[index]:
            continue
        if run.hood is not None:
            given = own.get(index, None if run.hood.flow is None else float(run.hood.flow))
            if given is None and _needed(request):
                path = f"runs[{index}].hood.flow"
                faults.append(Fault(path=path, code="design-flow-missing", detail="needed of each hood that is open"))
            flow[index] = given or 0.0
        if parent >= 0:
            flow[parent] += flow[index]
    if not any(live):
        faults.append(Fault(path=at, code="all-gates-shut", detail="nothing flows in this state"))
    return flow


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
            faults.append(Fault(path=f"{at}.flows", code="unknown-id" if run is None else "no-hood", detail=detail))
        else:
            out[run.index] = float(flow)
    return out
