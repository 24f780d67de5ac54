"""The losses and pressures of every run for given flows, term by term."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled
from airbough_service.core.laws.friction import darcy
from airbough_service.core.network.columns import (
    CHILDREN,
    ENTRY,
    ENTRY_FACTOR,
    EXPONENT_A,
    EXPONENT_B,
    FIRST_CHILD,
    FRICTION,
    LAW,
    MEET,
    PARENT,
    POWER_A,
    POWER_B,
    REYNOLDS,
    ROUGH,
    START,
    VP_END,
    VP_START,
)
from airbough_service.core.network.kernel import arm_pressures, entry_recovery
from airbough_service.core.network.tree import Tree

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Losses:
    """Pressures in Pa, each of shape (n,), in packed order; gauge pressures are at the runs' downstream ends.

    The parts sum to ``total``: the fall of total pressure from the run's upstream end to the upstream end of the
    run that it flows into. A shut gate's part is the pressure that it holds.
    """

    entry: Floats
    port: Floats
    resistance: Floats
    gate: Floats
    friction: Floats
    fittings: Floats
    join: Floats
    total: Floats
    total_pressure: Floats
    static_pressure: Floats
    at_hood: Floats
    mass_residual: float
    energy_residual: float


@compiled
def straight_losses(table: np.ndarray, flow: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return friction loss and machine resistance of every run, Pa."""
    n = table.shape[0]
    friction, resistance = np.zeros(n), np.zeros(n)
    for run in range(n):
        q = flow[run]
        if q <= 0.0:
            continue
        if table[run, FRICTION] > 0.0:
            factor = darcy(table[run, ROUGH], table[run, REYNOLDS] * q, table[run, START])
            friction[run] = table[run, FRICTION] * q * q * factor
        if table[run, POWER_A] > 0.0:
            friction[run] += table[run, POWER_A] * q ** table[run, EXPONENT_A]
        if table[run, POWER_B] > 0.0:
            resistance[run] = table[run, POWER_B] * q ** table[run, EXPONENT_B]
    return friction, resistance


@compiled
def junction_at(table: np.ndarray, links: np.ndarray, flow: np.ndarray, run: int, loss: np.ndarray) -> None:
    """Fill loss[arm] of every run that flows into `run` by its junction's law, Pa, idle arms too."""
    count, law, total = links[run, CHILDREN], links[run, LAW], flow[run]
    if count < 2 or law == MEET or total <= 0.0:
        return
    first = links[run, FIRST_CHILD]
    arms = np.arange(first, first + count)
    if law == ENTRY:
        recovery = entry_recovery(table, run, arms, flow)[0]
        for arm in range(first, first + count):
            own = table[arm, VP_END] * flow[arm] * flow[arm]
            loss[arm] = (1.0 + table[arm, ENTRY_FACTOR]) * own - recovery
    else:
        values = arm_pressures(table, links, law, run, arms, flow[first : first + count], total)[0]
        for k in range(count):
            loss[first + k] = values[k]


@compiled
def junction_losses(table: np.ndarray, links: np.ndarray, flow: np.ndarray) -> np.ndarray:
    """Return every run's junction loss by its law, Pa; changes of size are not in it."""
    loss = np.zeros(table.shape[0])
    for run in range(table.shape[0]):
        junction_at(table, links, flow, run, loss)
    return loss


@compiled
def pressures(
    links: np.ndarray, gate: np.ndarray, flow: np.ndarray, own: np.ndarray, join: np.ndarray, at_fan: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Return total pressure at every downstream end, the pressure each shut gate holds, and the energy residual.

    Goes from the fan to the hoods, so that a hood's room pressure, which ought to be 0, shows the residual.
    """
    n = own.shape[0]
    end, up, held = np.zeros(n), np.zeros(n), np.zeros(n)
    worst = 0.0
    for run in range(n):
        parent = links[run, PARENT]
        end[run] = (-at_fan if parent < 0 else up[parent]) + join[run]
        if np.isinf(gate[run]):
            held[run] = -end[run]
            up[run] = 0.0
        else:
            up[run] = end[run] + own[run]
            if links[run, CHILDREN] == 0 and flow[run] > 0.0:
                worst = max(worst, abs(up[run]))
    return end, held, worst


def losses(tree: Tree, gate: Floats, flow: Floats, at_fan: float) -> Losses:
    """Return every loss and pressure.

    Args:
        tree: the packed tree.
        gate: shape (n,), this state's gate coefficients, infinite where shut.
        flow: shape (n,), m3/s.
        at_fan: fall of total pressure from the room to the downstream end of the last run, Pa.
    """
    square = flow * flow
    friction, resistance = straight_losses(tree.table, flow)
    open_gate = np.where(np.isinf(gate), 0.0, gate) * square
    entry, port, fittings = tree.entry * square, tree.port * square, tree.fittings * square
    join = junction_losses(tree.table, tree.links, flow) + tree.change * square
    own = entry + port + resistance + open_gate + friction + fittings
    end, held, worst = pressures(tree.links, gate, flow, own, join, at_fan)
    gate_loss = open_gate + held
    static = end - tree.table[:, VP_END] * square
    at_hood = -(entry + port + resistance) - tree.table[:, VP_START] * square
    return Losses(
        entry=entry,
        port=port,
        resistance=resistance,
        gate=gate_loss,
        friction=friction,
        fittings=fittings,
        join=join,
        total=own + held + join,
        total_pressure=end,
        static_pressure=static,
        at_hood=at_hood,
        mass_residual=_mass_residual(tree, flow),
        energy_residual=worst / max(abs(at_fan), 1.0),
    )


def _mass_residual(tree: Tree, flow: Floats) -> float:
    """Return the worst |sum in - out| / out over the junctions with flow."""
    parent = tree.links[:, 0]
    arriving = np.zeros_like(flow)
    np.add.at(arriving, parent[1:], flow[1:])
    inner = (tree.links[:, CHILDREN] > 0) & (flow > 0.0)
    if not inner.any():
        return 0.0
    return float(np.max(np.abs(arriving[inner] - flow[inner]) / flow[inner]))
