"""The gate that absorbs what a branch has to spare at its junction: on which run it is, how much, and how far open.

How much there is to spare is the difference of the pressures that runs need where they meet
(`core.network.governing`); which coefficient belongs to which opening stands in the catalogue's table of gates.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from airbough.wire.tree import Gate
from airbough_service import catalogue
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.network import governing as core
from airbough_service.core.network.tree import dynamic
from airbough_service.shop import gates
from airbough_service.shop.opening import passing
from airbough_service.shop.shop import Shop


def gate_runs(shop: Shop, may_stand: Collection[str] = (), openings: gates.Openings | None = None) -> list[int | None]:
    """Return, for each run, the run whose gate absorbs what the branch that ends with it has to spare.

    The next gate on the way up to where the next branch with an open hood joins, one that stands or that may; where
    none does and the branch leads to one open hood, a gate can be put where it ends. Else None: then the branch is to
    be resized.

    Args:
        shop: the tree.
        may_stand: ids of runs where a gate may stand.
        openings: of the state's gates, where they depart from the document.
    """
    above: list[int | None] = [None] * len(shop.runs)  # of the way up from a run, it included
    to_hood, active = [False] * len(shop.runs), gates.active(shop, openings)
    for index in reversed(shop.shape.order):
        run = shop.runs[index].run
        if run.hood is not None:
            to_hood[index] = True
        elif len(arms := [arm for arm in shop.shape.children[index] if active[arm]]) == 1:
            above[index], to_hood[index] = above[arms[0]], to_hood[arms[0]]
        if run.gate is not None or run.id in may_stand:
            above[index] = index
    return [index if gate is None and to_hood[index] else gate for index, gate in enumerate(above)]


def places(shop: Shop, may_stand: Collection[str] = (), openings: gates.Openings | None = None) -> core.Places:
    """Return where a tree leaks, and where the gate of the branch that ends with a run stands, or may: `gate_runs`."""
    return places_of(shop, gate_runs(shop, may_stand, openings))


def places_of(shop: Shop, absorbing: Sequence[int | None]) -> core.Places:
    """Return where a tree leaks, and where gates are, from the run whose gate absorbs for each, as `gate_runs`."""
    heads, ends = shop.hood_rows.tolist(), shop.end_rows.tolist()
    gate, may = list(range(shop.tree.table.shape[0])), [False] * shop.tree.table.shape[0]
    for index, (end, own) in enumerate(zip(ends, absorbing, strict=True)):
        gate[end], may[end] = heads[index if own is None else own], own is not None
    leaking = [] if shop.parted is None else [run.index for run in shop.runs if shop.parted.leak[run.index] >= 0]
    leaks = np.array([shop.leak_row(index) for index in leaking], np.int64)
    return core.Places(leaks, np.array(gate, np.int64), np.array(may, np.bool_))


def told_gate(shop: Shop, arm: core.ArmBalance, index: int, result: core.Balance) -> dict[str, Any]:
    """Return what a gate must add; where that is less than an open gate loses, the branch is left without one."""
    run = shop.runs[index]
    coefficient = float(result.gate[shop.hood_row(index)]) / dynamic(shop.density, run.start)
    told = {"gate_loss": arm.added, "gate_run": run.id, "gate_coefficient": coefficient}
    if run.run.gate is None and coefficient < catalogue.gate_loss(1.0).coefficient:
        return told | {"action": "leave"}
    opening = _opening(run.run.gate, coefficient)
    travel = None if opening is None else catalogue.gate_travel(opening)
    return told | {"action": "gate", "gate_opening": opening, "gate_travel": travel}


def _opening(gate: Gate | None, coefficient: float) -> float | None:
    """Return a gate's opening with this coefficient; None where none has it, as it leaks, or fully open it has more."""
    if coefficient < catalogue.gate_loss(1.0).coefficient:
        return None
    try:
        opening = float(catalogue.gate_opening(coefficient))
    except OutsideTableError:
        return None
    return None if gate is not None and passing(gate, opening) > opening else opening
