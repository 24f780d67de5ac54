"""The losses and pressures of every run for given flows, term by term."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled, inner
from airbough_service.core.network.columns import (
    CHILDREN,
    FIRST_CHILD,
    PARENT,
    REYNOLDS,
    START,
    VP_END,
    VP_START,
)
from airbough_service.core.network.into_columns import dynamic_of
from airbough_service.core.network.junction import junction_at
from airbough_service.core.network.own_loss import duct_loss
from airbough_service.core.network.tree import Tree

Floats = NDArray[np.float64]


# Lines of what the compiled loop fills.
ENTRY, PORT, RESISTANCE, GATE, FRICTION, FITTINGS, JOIN, TOTAL, STATIC, AT_END, AT_HOOD = range(11)
LINES = 11
TOLD = 4 + AT_END + 1  # numbers of a run
LEAST_SUCTION = 1.0  # Pa, on which the energy residual is told at least


class _Line:
    """One line of `Losses.lines`."""

    def __init__(self, line: int) -> None:
        self.line = line

    def __get__(self, losses: Losses, _: type) -> Floats:
        return losses.lines[self.line]


@dataclass(frozen=True, slots=True)
class Losses:
    """Pressures in Pa, each of shape (n,), in packed order; gauge pressures are at the runs' downstream ends.

    The parts sum to ``total``: the fall of total pressure from the run's upstream end to the upstream end of the
    run that it flows into. A shut gate's part is the pressure that it holds.
    """

    lines: Floats
    mass_residual: float
    energy_residual: float

    entry = _Line(ENTRY)
    port = _Line(PORT)
    resistance = _Line(RESISTANCE)
    gate = _Line(GATE)
    friction = _Line(FRICTION)
    fittings = _Line(FITTINGS)
    join = _Line(JOIN)
    total = _Line(TOTAL)
    static_pressure = _Line(STATIC)
    total_pressure = _Line(AT_END)
    at_hood = _Line(AT_HOOD)


@inner
def _balanced(links: np.ndarray, flow: np.ndarray, run: int) -> float:
    """Return how far the flows into a run are from its own, relative; 0 at a hood."""
    first, count = links[run, FIRST_CHILD], links[run, CHILDREN]
    if count == 0 or flow[run] <= 0.0:
        return 0.0
    arriving = 0.0
    for arm in range(first, first + count):
        arriving += flow[arm]
    return abs(arriving - flow[run]) / flow[run]


@compiled
def fill(
    table: np.ndarray,
    links: np.ndarray,
    parts: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray],
    gate: np.ndarray,
    flow: np.ndarray,
    at_fan: float,
    out: np.ndarray,
) -> tuple[float, float]:
    """Fill the lines of `out`; return the worst residuals of mass, relative, and of energy, Pa.

    Goes from the fan to the hoods, so that a hood's room pressure, which ought to be 0, shows the residual.
    parts: entry, port, fittings and change of every run; out: shape (LINES, n).
    """
    n = table.shape[0]
    join, up = np.zeros(n), np.zeros(n)
    mass, energy = 0.0, 0.0
    for run in range(n):
        q, square = flow[run], flow[run] * flow[run]
        friction, resistance, open_gate, held = 0.0, 0.0, 0.0, 0.0
        if q > 0.0:
            friction, resistance, _ = duct_loss(table, run, q, table[run, START])
        entry, port, fittings = parts[0][run] * square, parts[1][run] * square, parts[2][run] * square
        joined = join[run] + parts[3][run] * square
        parent = links[run, PARENT]
        end = (-at_fan if parent < 0 else up[parent]) + joined
        if np.isinf(gate[run]):
            held = -end
            own = entry + port + resistance + friction + fittings
        else:
            open_gate = gate[run] * square
            own = entry + port + resistance + open_gate + friction + fittings
            up[run] = end + own
            if links[run, CHILDREN] == 0 and q > 0.0:
                energy = max(energy, abs(up[run]))
        mass = max(mass, _balanced(links, flow, run))
        junction_at(table, links, flow, run, join)
        out[ENTRY, run], out[PORT, run], out[RESISTANCE, run] = entry, port, resistance
        out[GATE, run], out[FRICTION, run], out[FITTINGS, run] = open_gate + held, friction, fittings
        out[JOIN, run], out[TOTAL, run], out[AT_END, run] = joined, own + held + joined, end
        out[STATIC, run] = end - table[run, VP_END] * square
        out[AT_HOOD, run] = 0.0 - (entry + port + resistance) - table[run, VP_START] * square
    return mass, energy


def losses(tree: Tree, gate: Floats, flow: Floats, at_fan: float) -> Losses:
    """Return every loss and pressure.

    Args:
        tree: the packed tree.
        gate: shape (n,), this state's gate coefficients, infinite where shut.
        flow: shape (n,), m3/s.
        at_fan: fall of total pressure from the room to the downstream end of the last run, Pa.
    """
    lines = np.empty((LINES, flow.size))
    parts = (tree.entry, tree.port, tree.fittings, tree.change)
    mass, energy = fill(tree.table, tree.links, parts, gate, flow, float(at_fan), lines)
    return Losses(lines, mass, energy / max(abs(at_fan), LEAST_SUCTION))


@compiled
def fill_runs(
    table: np.ndarray,
    lines: np.ndarray,
    flow: np.ndarray,
    rows: tuple[np.ndarray, np.ndarray],
    bores: np.ndarray,
    density: float,
    out: np.ndarray,
) -> None:
    """Fill a row of numbers for each run: flow, velocity, velocity pressure, Reynolds number, lines up to `AT_END`.

    Args:
        table: of the tree.
        lines: of `Losses`, where a run's own row tells of the whole run, as flow does.
        flow: by row of the tree, m3/s.
        rows: of each run, its own and that of its widest part.
        bores: of each run, that of its widest part, m.
        density: kg/m3.
        out: shape (runs, TOLD), filled.
    """
    for run in range(bores.size):
        row, bore = rows[0][run], bores[run]
        q = flow[row]
        out[run, 0], out[run, 1] = q, q / (math.pi * bore**2 / 4.0)
        out[run, 2] = dynamic_of(density, bore) * q * q
        out[run, 3] = table[rows[1][run], REYNOLDS] * q
        for line in range(AT_END + 1):
            out[run, 4 + line] = lines[line, row]


def run_lines(
    tree: Tree, found: Losses, flow: Floats, rows: NDArray[np.int32], widest: NDArray[np.int32], bores: list[float]
) -> Floats:
    """Return a row of numbers for each run, as `fill_runs` tells."""
    out = np.empty((len(bores), TOLD))
    fill_runs(tree.table, found.lines, flow, (rows, widest), np.array(bores), tree.density, out)
    return out
