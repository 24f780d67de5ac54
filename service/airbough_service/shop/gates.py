"""A named state of the gates as openings by run."""

from __future__ import annotations

from airbough.wire.drawing import DrawingState
from airbough.wire.problem import Fault
from airbough.wire.strength import StrengthRequest, StrengthState
from airbough_service.shop.pieces import SMALLEST_OPENING
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


def is_open(run: ShopRun, openings: dict[int, float] | None = None) -> bool:
    """Return whether a run's own gate is open at all; a leak of a shut gate does not count."""
    if run.run.gate is None:
        return True
    opening = float(run.run.gate.opening) if openings is None else openings.get(run.index, float(run.run.gate.opening))
    return opening >= SMALLEST_OPENING


def served(shop: Shop, openings: dict[int, float] | None = None) -> list[bool]:
    """Return, by run, whether a hood upstream is open and every gate between is: air is meant to flow here."""
    out = [False] * len(shop.runs)
    order: list[int] = list(shop.shape.roots)
    for index in order:
        order.extend(shop.shape.children[index])
    for index in reversed(order):
        run = shop.runs[index]
        arms = shop.shape.children[index]
        out[index] = is_open(run, openings) and (any(out[arm] for arm in arms) if arms else True)
    return out


def way_open(shop: Shop, openings: dict[int, float] | None = None) -> bool:
    """Return whether some hood has an open way to the fan; leaks are no way."""
    live = served(shop, openings)
    return any(live[root] for root in shop.shape.roots)


def strength_openings(shop: Shop, request: StrengthRequest) -> list[tuple[str, dict[int, float]]]:
    """Return each state's name and the opening of every gate in it: run number -> opening.

    Raises:
        Refusal: names that stand twice, gates that do not exist.
    """
    faults: list[Fault] = []
    names = [state.name for state in request.states]
    for index, name in enumerate(names):
        if name in names[:index] or name in ("document", "shut-off"):
            faults.append(Fault(path=f"states[{index}].name", code="duplicate-name", detail=f"{name!r} is taken"))
    gates = _strength_gates(shop)
    states = [
        (state.name, _strength_one(shop, gates, state, index, faults)) for index, state in enumerate(request.states)
    ]
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return states


def _strength_gates(shop: Shop) -> dict[str, set[int]]:
    """Return the gates by run id and by machine_id; gates of one machine move together."""
    found: dict[str, set[int]] = {}
    for run in shop.runs:
        gate = run.run.gate
        if gate is None:
            continue
        machine = gate.machine_id or (run.run.hood.machine_id if run.run.hood is not None else None)
        if machine is not None:
            found.setdefault(machine, set()).add(run.index)
    for run in shop.runs:
        if run.run.gate is not None:
            together = [gates for gates in found.values() if run.index in gates]
            found.setdefault(run.id, {run.index}).update(*together)
    return found


def _strength_one(
    shop: Shop, gates: dict[str, set[int]], state: StrengthState, index: int, faults: list[Fault]
) -> dict[int, float]:
    """Return the opening of every gate in one state."""
    found = {run.index: 0.0 for run in shop.runs if run.run.gate is not None}
    wanted = [(f"open[{k}]", word, 1.0) for k, word in enumerate(state.open)]
    wanted += [(f"openings.{word}", word, float(share)) for word, share in (state.openings or {}).items()]
    for step, word, share in wanted:
        if word not in gates:
            detail = f"no run or machine {word!r} has a gate"
            faults.append(Fault(path=f"states[{index}].{step}", code="unknown-gate", detail=detail))
        found.update((gate, share) for gate in gates.get(word, ()))
    return found
