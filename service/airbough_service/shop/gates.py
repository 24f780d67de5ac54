"""A named state of the gates as openings by run."""

from __future__ import annotations

from airbough.wire.drawing import DrawingState
from airbough.wire.problem import Fault
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms.refusal import Refusal


def openings(shop: Shop, states: tuple[DrawingState, ...]) -> list[dict[int, float]]:
    """Return, by state, run number -> opening where it departs from the document.

    Raises:
        Refusal: with every id that the tree does not have, and every opening of a run without a gate.
    """
    faults: list[Fault] = []
    found = [_openings(shop, state, f"states[{index}]", faults) for index, state in enumerate(states)]
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return found


def _openings(shop: Shop, state: DrawingState, path: str, faults: list[Fault]) -> dict[int, float]:
    out = {} if state.open is None else _with_open(shop, state.open, f"{path}.open", faults)
    by_id = {run.id: run for run in shop.runs}
    for name, opening in (state.openings or {}).items():
        named = by_id.get(name)
        if named is None:
            faults.append(Fault(path=f"{path}.openings", code="unknown-id", detail=f"no run has the id {name!r}"))
        elif named.run.gate is None:
            faults.append(Fault(path=f"{path}.openings", code="gate-missing", detail=f"run {name!r} has no gate"))
        else:
            out[named.index] = float(opening)
    return out


def _with_open(shop: Shop, wanted: tuple[str, ...], path: str, faults: list[Fault]) -> dict[int, float]:
    """Return the openings when the gates of these are open and those at all other hoods shut."""
    known = {name for run in shop.runs for name in _names(run)}
    for index, name in enumerate(wanted):
        if name not in known:
            detail = f"no run and no machine has the id {name!r}"
            faults.append(Fault(path=f"{path}[{index}]", code="unknown-id", detail=detail))
    out: dict[int, float] = {}
    for run in shop.runs:
        gate = run.run.gate
        if gate is not None and not _names(run).isdisjoint(wanted):
            out[run.index] = float(gate.opening) or 1.0
        elif gate is not None and run.run.hood is not None:
            out[run.index] = 0.0
    return out


def _names(run: ShopRun) -> frozenset[str]:
    """Return the ids by which a run's gate may be named."""
    hood, gate = run.run.hood, run.run.gate
    names = {run.id, hood.machine_id if hood is not None else None, gate.machine_id if gate is not None else None}
    return frozenset(name for name in names if name is not None)
