"""Doors and lids with suction behind them: what holds them shut."""

from __future__ import annotations

import math

from airbough.wire.problem import Fault
from airbough.wire.strength import Door, DoorForce, StrengthRequest
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal, no_run

TIGHT = "a door or lid is taken as shut tight, with the whole suction across it; gaps round it let air in and ease it"


def areas(shop: Shop, request: StrengthRequest) -> list[float]:
    """Return the area of each door, m2.

    Raises:
        Refusal: with every door that names no run of the tree, or whose size is not told in one way.
    """
    faults: list[Fault] = []
    numbers = {run.id: run.index for run in shop.runs}
    sizes = []
    for index, door in enumerate(request.doors):
        path = f"doors[{index}]"
        if door.run is not None and door.run not in numbers:
            faults.append(no_run(f"{path}.run", "dangling-run", door.run, numbers))
        size = _area(door)
        if size is None:
            detail = "a door needs `width` and `height`, a round lid `diameter` alone"
            faults.append(Fault(path=path, code="parameter-missing", detail=detail))
        sizes.append(size or 0.0)
    if faults:
        raise Refusal("not-computable", faults)
    return sizes


def _area(door: Door) -> float | None:
    """Return a door's area, m2; None where it is not told in one way."""
    sides = (door.width, door.height)
    if door.diameter is not None:
        return 0.25 * math.pi * float(door.diameter) ** 2 if sides == (None, None) else None
    return None if None in sides else float(sides[0] or 0.0) * float(sides[1] or 0.0)


def forces(shop: Shop, request: StrengthRequest, sizes: list[float], by_state: dict[str, list[float]],
           at_collector: tuple[str, float]) -> tuple[DoorForce, ...]:  # fmt: skip
    """Return what holds each door shut in its worst state.

    Pressure times area; about the hinges half of it balances it at the edge across from them.

    Args:
        shop: the tree.
        request: with the doors.
        sizes: of each door, m2.
        by_state: suction of every run in each state, Pa.
        at_collector: the state in which the collector's suction is deepest, and that suction, Pa.
    """
    numbers = {run.id: run.index for run in shop.runs}
    out = []
    for door, area in zip(request.doors, sizes, strict=True):
        state, suction = at_collector
        if door.run is not None:
            index = numbers[door.run]
            state = max(by_state, key=lambda name: by_state[name][index])
            suction = by_state[state][index]
        force = suction * area
        out.append(
            DoorForce(
                name=door.name, run=door.run, area=area, suction=suction, state=state, force=force,
                edge_force=0.5 * force,
            )
        )  # fmt: skip
    return tuple(out)
