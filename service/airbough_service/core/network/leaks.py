"""Leaking duct walls as rows of the packed tree; SI units.

A leak is a hole to the room, so it is a hood of its own: a row without length whose loss is (q / (C A))^(1/n). A
leaking run is parted at its middle. There the leak joins under the law that lets static pressures meet, since static
pressure drives it, with a bore so wide that the leak brings no velocity pressure of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.laws.leakage import leak_flow
from airbough_service.core.network.columns import ENTRY
from airbough_service.core.network.losses import Losses
from airbough_service.core.network.tree import (
    Arm,
    Run,
    Tree,
)

Floats = NDArray[np.float64]

WIDE = 1.0e3  # bore where a leak's row ends, m: its velocity pressure there is nothing
GUESS_PRESSURE, GUESS_SPEED = 200.0, 18.0  # Pa and m/s of a hole, only for the solver's first guess of the leak


@dataclass(frozen=True, slots=True)
class Leaks:
    """Runs with their leaks, for packing.

    Attributes:
        runs: the runs given, leaking ones cut to their upstream halves, then the new rows.
        lower: index of each given run's downstream half; its own where it does not leak.
        leak: index of each given run's leak; -1 where it does not leak.
    """

    runs: tuple[Run, ...]
    lower: tuple[int, ...]
    leak: tuple[int, ...]


def with_leaks(runs: Sequence[Run], coefficients: Sequence[float], exponent: float) -> Leaks:
    """Part every leaking run at its middle and let a leak join there.

    Hood, gate and the runs upstream stay with the index given, which becomes the upstream half; the downstream half,
    appended, takes over where the run ends. So gates are set as before.

    Args:
        runs: for ``core.tree.pack``.
        coefficients: leak of each run at 1 Pa [m3/s]; 0 where it does not leak.
        exponent: of the leak's law, 0.5 to 1.
    """
    rows = list(runs)
    lower, leak = list(range(len(runs))), [-1] * len(runs)
    for index, coefficient in enumerate(coefficients):
        if coefficient <= 0.0:
            continue
        run = runs[index]
        lower[index], leak[index] = len(rows), len(rows) + 1
        half = None if run.power_law is None else (0.5 * run.power_law[0], run.power_law[1])
        shared = replace(run, length=0.5 * run.length, power_law=half, fittings=0.5 * run.fittings)
        # A change of bore inside the run belongs to its end: until there the bore is that of the start.
        rows[index] = replace(shared, parent=lower[index], end=run.start, change=0.0, arm=Arm())
        rows.append(replace(shared, entry=0.0, port=0.0, resistance=None, gate=0.0, law=ENTRY))
        rows.append(_leak_row(lower[index], coefficient, exponent))
    return Leaks(tuple(rows), tuple(lower), tuple(leak))


def _leak_row(parent: int, coefficient: float, exponent: float) -> Run:
    """Return the row of a leak: no length, only its law."""
    law = (coefficient ** (-1.0 / exponent), 1.0 / exponent)
    hole = math.sqrt(4.0 / math.pi * leak_flow(coefficient, GUESS_PRESSURE, exponent) / GUESS_SPEED)
    return Run(parent=parent, start=hole, end=WIDE, length=0.0, roughness=0.0, power_law=law)


def whole_runs(tree: Tree, leaks: Leaks, losses: Losses, flow: Floats) -> tuple[Losses, Floats, Floats]:
    """Put the halves of each leaking run together again.

    Args:
        tree: packed from ``leaks.runs``.
        leaks: of ``with_leaks``.
        losses: of every row.
        flow: of every row [m3/s].

    Returns:
        Losses and flow of every row where a run's own row tells of the whole run, flow at its downstream end; and
        the flow of every row at the upstream end. What the entering air costs inside the run is a fitting loss.
    """
    out = {name: getattr(losses, name).copy() for name in _PARTS}
    at_end = flow.copy()
    for index, below in enumerate(leaks.lower):
        if leaks.leak[index] < 0:
            continue
        up, down = tree.place[index], tree.place[below]
        out["friction"][up] += losses.friction[down]
        out["gate"][up] += losses.gate[down]  # what a balance adds, it adds where the run ends
        out["fittings"][up] += losses.fittings[down] + losses.join[up]
        out["join"][up] = losses.join[down]
        out["total"][up] += losses.total[down]
        out["total_pressure"][up] = losses.total_pressure[down]
        out["static_pressure"][up] = losses.static_pressure[down]
        at_end[up] = flow[down]
    return replace(losses, **out), at_end, flow


_PARTS = ("friction", "gate", "fittings", "join", "total", "total_pressure", "static_pressure")
