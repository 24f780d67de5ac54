"""Runs of more than one row of the packed tree: leaking ones, and those whose bore changes inside; SI units.

Where the bore changes between two lengths of duct each is a row of its own, the change's loss among the fittings of
the one before it. A leak is a hole to the room, so it is a hood of its own: a row without length whose loss is
(q / (C A))^(1/n). A leaking run is parted at its middle. There the leak joins under the law that lets static pressures
meet, since static pressure drives it, with a bore so wide that the leak brings no velocity pressure of its own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.laws.leakage import leak_flow
from airbough_service.core.network.columns import ENTRY
from airbough_service.core.network.losses import AT_END, JOIN, STATIC, Losses
from airbough_service.core.network.tree import (
    Arm,
    Run,
    Tree,
)

Floats = NDArray[np.float64]

WIDE = 1.0e3  # bore where a leak's row ends, m: its velocity pressure there is nothing
GUESS_PRESSURE, GUESS_SPEED = 200.0, 18.0  # Pa and m/s of a hole, only for the solver's first guess of the leak


@dataclass(frozen=True, slots=True)
class Part:
    """One length of duct of a run whose bore changes, with the fittings on it.

    Attributes:
        bore: m.
        length, power_law, fittings: as of ``core.network.tree.Run``.
    """

    bore: float
    length: float
    power_law: tuple[float, float] | None
    fittings: float


@dataclass(frozen=True, slots=True)
class RunRow:
    """One row of a run: which of its parts it belongs to, and its share of the run's length."""

    row: int
    part: int
    share: float


@dataclass(frozen=True, slots=True)
class PartedRuns:
    """Runs of more than one row, for packing: those that leak, and those whose bore changes between lengths of duct.

    Attributes:
        runs: the runs given, cut to their first rows, then the new rows.
        lower: index of each given run's last row; its own where it has one.
        leak: index of each given run's leak; -1 where it does not leak.
        rows: of each given run, in the direction of flow.
    """

    runs: tuple[Run, ...]
    lower: tuple[int, ...]
    leak: tuple[int, ...]
    rows: tuple[tuple[RunRow, ...], ...]


def part_runs(
    runs: Sequence[Run],
    coefficients: Sequence[float],
    exponent: float,
    parts: Mapping[int, Sequence[Part]] | None = None,
) -> PartedRuns:
    """Part runs where their bore changes, and every leaking run at the middle of the part where its own middle lies.

    Hood, gate and the runs upstream stay with the index given, which becomes the first row; the last, appended, takes
    over where the run ends. So gates are set as before.

    Args:
        runs: for ``core.tree.pack``.
        coefficients: leak of each run at 1 Pa [m3/s]; 0 where it does not leak.
        exponent: of the leak's law, 0.5 to 1.
        parts: by index of a run, its parts where it has several.
    """
    rows = list(runs)
    of_run: list[tuple[RunRow, ...]] = []
    leak = [-1] * len(runs)
    for index, coefficient in enumerate(coefficients):
        run = runs[index]
        own = [(part, number) for number, part in enumerate((parts or {}).get(index) or [_whole(run)])]
        half = _middle([part.length for part, _ in own])
        if coefficient > 0.0:
            own[half : half + 1] = [(_halved(own[half][0]), own[half][1])] * 2
        numbers = [index, *range(len(rows), len(rows) + len(own) - 1)]
        _append(rows, run, [part for part, _ in own], numbers)
        if coefficient > 0.0:
            rows[numbers[half + 1]] = rows[numbers[half + 1]]._replace(law=ENTRY)
            leak[index] = len(rows)
            rows.append(_leak_row(numbers[half + 1], coefficient, exponent))
        shares = _shares([part.length for part, _ in own])
        of_run.append(tuple(map(RunRow, numbers, [number for _, number in own], shares)))
    return PartedRuns(tuple(rows), tuple(own[-1].row for own in of_run), tuple(leak), tuple(of_run))


def _whole(run: Run) -> Part:
    """Return a run of one bore as its only part."""
    bore = run.start if run.bore is None else run.bore
    return Part(bore, run.length, run.power_law, run.fittings)


def _halved(part: Part) -> Part:
    """Return half of a part."""
    half = None if part.power_law is None else (0.5 * part.power_law[0], part.power_law[1])
    return Part(part.bore, 0.5 * part.length, half, 0.5 * part.fittings)


def _middle(lengths: Sequence[float]) -> int:
    """Return the number of the part in which the middle of all lies."""
    reached = 0.0
    for number, length in enumerate(lengths):
        reached += length
        if reached >= 0.5 * sum(lengths):
            return number
    return len(lengths) - 1


def _shares(lengths: Sequence[float]) -> list[float]:
    """Return each length as its share of all; alike where there is none."""
    whole = sum(lengths)
    return [length / whole if whole > 0.0 else 1.0 / len(lengths) for length in lengths]


def _append(rows: list[Run], run: Run, parts: Sequence[Part], numbers: Sequence[int]) -> None:
    """Put a run's rows in their places: what stands at its ends goes with the first and the last."""
    last = len(parts) - 1
    if last == 0:
        return
    for k, part in enumerate(parts):
        own = run._replace(bore=part.bore, length=part.length, power_law=part.power_law, fittings=part.fittings)
        if k > 0:
            own = own._replace(start=part.bore, entry=0.0, port=0.0, resistance=None, gate=0.0, law=None)
        if k < last:
            own = own._replace(parent=numbers[k + 1], end=part.bore, change=0.0, arm=Arm())
        if k == 0:
            rows[numbers[0]] = own
        else:
            rows.append(own)


def _leak_row(parent: int, coefficient: float, exponent: float) -> Run:
    """Return the row of a leak: no length, only its law."""
    law = (coefficient ** (-1.0 / exponent), 1.0 / exponent)
    hole = math.sqrt(4.0 / math.pi * leak_flow(coefficient, GUESS_PRESSURE, exponent) / GUESS_SPEED)
    return Run(parent=parent, start=hole, end=WIDE, length=0.0, roughness=0.0, power_law=law)


def whole_runs(tree: Tree, parted: PartedRuns, losses: Losses, flow: Floats) -> tuple[Losses, Floats, Floats]:
    """Put the rows of each run together again.

    Args:
        tree: packed from ``parted.runs``.
        parted: of ``part_runs``.
        losses: of every row.
        flow: of every row [m3/s].

    Returns:
        Losses and flow of every row where a run's own row tells of the whole run, flow at its downstream end; and
        the flow of every row at the upstream end. What the entering air costs inside the run is a fitting loss.
    """
    out = replace(losses, lines=losses.lines.copy())
    at_end = flow.copy()
    for own in parted.rows:
        rows = [int(tree.place[one.row]) for one in own]
        up, down = rows[0], rows[-1]
        for before, row in pairwise(rows):
            out.friction[up] += losses.friction[row]
            out.gate[up] += losses.gate[row]  # what a balance adds, it adds where the run ends
            out.fittings[up] += losses.fittings[row] + losses.join[before]
            out.total[up] += losses.total[row]
        for line in (JOIN, AT_END, STATIC):
            out.lines[line, up] = losses.lines[line, down]
        at_end[up] = flow[down]
    return out, at_end, flow
