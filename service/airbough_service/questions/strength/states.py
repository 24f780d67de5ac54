"""The states that walls are judged in, and the suction of every run in each."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from airbough.wire.problem import Fault
from airbough.wire.strength import (
    StrengthRequest,
    StrengthState,
)
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network import columns
from airbough_service.questions.operating_point import Solved
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal

DOCUMENT, SHUT_OFF, GIVEN = "document", "shut-off", "given-suction"


def openings(shop: Shop, request: StrengthRequest) -> list[tuple[str, dict[int, float]]]:
    """Return each state's name and the opening of every gate in it: run number -> opening.

    Raises:
        Refusal: names that stand twice, gates that do not exist.
    """
    faults: list[Fault] = []
    names = [state.name for state in request.states]
    for index, name in enumerate(names):
        if name in names[:index] or name in (DOCUMENT, SHUT_OFF):
            faults.append(Fault(path=f"states[{index}].name", code="duplicate-name", detail=f"{name!r} is taken"))
    gates = _gates(shop)
    states = [(state.name, _one(shop, gates, state, index, faults)) for index, state in enumerate(request.states)]
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    return states


def _gates(shop: Shop) -> dict[str, set[int]]:
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


def _one(
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


def suctions(solved: Solved) -> list[float] | None:
    """Return the greatest suction inside each run [Pa], in document order; None beyond the fan's curve.

    Static pressure at the downstream end, where it is deepest; where the bore changes inside the run, with the
    velocity pressure of the narrower end.
    """
    if not solved.runs:
        return None
    table, flow = solved.shop.tree.table, solved.operating.flow
    fastest = np.maximum(table[:, columns.VP_START], table[:, columns.VP_END]) * flow * flow
    deep = fastest - solved.losses.total_pressure
    return [max(float(deep[solved.shop.row(run.index)]), 0.0) for run in solved.shop.runs]


def highest_pressure(fan: Fan) -> float:
    """Return the highest pressure of the fan's curve as given, the velocity pressure of its rating taken off [Pa]."""
    ends: Iterable[float] = (*fan.pieces[:, 0], fan.highest)
    return max(fan.static_pressure(float(flow)) for flow in ends)
