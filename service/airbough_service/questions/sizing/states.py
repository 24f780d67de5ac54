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
from airbough_service.questions.sizing.rules import by_fan
from airbough_service.shop import gates
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving.design import design_flows
from airbough_service.solving.grades import dusts_of
from airbough_service.terms.refusal import Refusal, no_run

Floats = NDArray[np.float64]
DOCUMENT = "document"


@dataclass(frozen=True, slots=True)
class State:
    """One state.

    Attributes:
        name: the caller's; `document` where none was given.
        openings: run number -> opening where it departs from the document.
        flow: shape (runs,), design flow of each run with what is allowed for leaks, m3/s; 0 where nothing flows.
        design: same shape, design flow alone.
        active: same shape, whether an open hood is upstream; others are not judged.
        dusts: by run, those that reach it.
        at: path in the request.
        named: machines that it names as open, by number.
    """

    name: str
    openings: dict[int, float]
    flow: Floats
    design: Floats
    active: NDArray[np.bool_]
    dusts: tuple[tuple[Dust, ...], ...]
    at: str
    named: frozenset[int] = frozenset()


def states(request: SizingRequest, shop: Shop) -> tuple[State, ...]:
    """Return the states asked for, or each machine alone.

    Raises:
        Refusal: with every unknown or repeated name, every missing design flow, every state in which nothing flows.
    """
    faults: list[Fault] = []
    opened = gates.settings(shop, request.states, faults) or each_alone(shop)
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
        active = np.array(gates.active(shop, state.openings))
        name = state.name or DOCUMENT
        out.append(State(name, state.openings, design.flow, design.flow, active, dusts, at, state.named))
    if faults:
        raise Refusal("not-computable", list(dict.fromkeys(faults)))
    return tuple(out)


def each_alone(shop: Shop) -> tuple[gates.GateState, ...]:
    """Return the states in which one machine runs, alike ones once; the document's own where gates part none."""
    found: dict[tuple[bool, ...], gates.GateState] = {}
    for machine in shop.machines.each:
        state = alone(shop, (machine.name,))
        is_open = tuple(gates.open_hoods(shop, state.openings))
        if any(is_open[hood] for hood in machine.hoods):
            found.setdefault(is_open, state)
    several = len(found) > 1
    return tuple(found.values()) if several else (gates.GateState(DOCUMENT),)


def alone(shop: Shop, machines: tuple[str, ...]) -> gates.GateState:
    """Return the state in which only these machines run, and hoods without gates with them."""
    return gates.setting(shop, SizingState(name=" + ".join(machines), open=machines), "", [])


def _needed(request: SizingRequest) -> bool:
    """Return whether each open hood must have a design flow."""
    return not by_fan(request) or request.rules.design_flow in ("must", "prefer")


def _own_flows(shop: Shop, state: SizingState, at: str, faults: list[Fault]) -> dict[int, float]:
    """Return the state's own design flows by run number."""
    by_id = {run.id: run for run in shop.runs}
    out: dict[int, float] = {}
    for name, flow in (state.flows or {}).items():
        run = by_id.get(name)
        if run is None or run.run.hood is None:
            path = f"{at}.flows.{name}"
            no_hood = Fault(path=path, code="no-hood", detail=f"run {name!r} has no hood")
            faults.append(no_run(path, "unknown-run", name, by_id) if run is None else no_hood)
        else:
            out[run.index] = float(flow)
    return out
