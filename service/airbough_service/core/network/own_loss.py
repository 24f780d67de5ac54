"""A run's own loss, its junction and its change of size left out; compiled, for all that ask.

The Newton loop (solver.linearise) does not settle 1/sqrt(f) but takes one step of it at a time, so it adds its
turbulent friction up itself; slow friction and the powers it has from here, and a test holds the sum to `own_loss`.
"""

from __future__ import annotations

import math

import numpy as np

from airbough_service.core.compiled import compiled, inner
from airbough_service.core.laws.curve import power_loss
from airbough_service.core.laws.friction import TURBULENT_START, inverse_root, slow_friction
from airbough_service.core.network.columns import (
    EXPONENT_A,
    EXPONENT_B,
    FRICTION,
    LOCAL,
    POWER_A,
    POWER_B,
    REYNOLDS,
    ROUGH,
    START,
)


@inner
def slow_loss(table: np.ndarray, run: int, q: float, start: float) -> tuple[float, float]:
    """Return the friction of a run below TURBULENT_START, Pa, and its slope; start: a first guess of 1/sqrt(f)."""
    factor, bend = slow_friction(table[run, ROUGH], table[run, REYNOLDS] * q, start)
    loss = table[run, FRICTION] * q * q * factor
    return loss, loss * (2.0 + bend) / q


@inner
def duct_loss(table: np.ndarray, run: int, q: float, start: float) -> tuple[float, float, float]:
    """Return friction and machine resistance of a run at a flow above 0, Pa, and 1/sqrt(f) to start from next."""
    friction, resistance, y = 0.0, 0.0, start
    if table[run, FRICTION] > 0.0:
        reynolds = table[run, REYNOLDS] * q
        if reynolds > TURBULENT_START:
            y = inverse_root(table[run, ROUGH], reynolds, start)
            friction = table[run, FRICTION] * q * q / (y * y)
        else:
            friction = slow_loss(table, run, q, start)[0]
    if table[run, POWER_A] > 0.0:
        friction += power_loss(table[run, POWER_A], table[run, EXPONENT_A], q)[0]
    if table[run, POWER_B] > 0.0:
        resistance = power_loss(table[run, POWER_B], table[run, EXPONENT_B], q)[0]
    return friction, resistance, y


@inner
def own_loss(table: np.ndarray, run: int, change: float, gate: float, q: float, start: float) -> tuple[float, float]:
    """Return a run's own loss at a flow above 0, Pa, and 1/sqrt(f) to start from next.

    Args:
        table: the packed tree's.
        run: its row.
        change: of size at the run's end, which LOCAL holds and its own loss does not, Pa per (m3/s)^2.
        gate: Pa per (m3/s)^2; a shut one takes no part.
        q: m3/s.
        start: a first guess of 1/sqrt(f).
    """
    friction, resistance, y = duct_loss(table, run, q, start)
    fixed = table[run, LOCAL] - change
    if not math.isinf(gate):
        fixed += gate
    return fixed * q * q + friction + resistance, y


@compiled
def straight_losses(table: np.ndarray, flow: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return friction loss and machine resistance of every run, Pa."""
    n = table.shape[0]
    friction, resistance = np.zeros(n), np.zeros(n)
    for run in range(n):
        if flow[run] > 0.0:
            friction[run], resistance[run], _ = duct_loss(table, run, flow[run], table[run, START])
    return friction, resistance


@compiled
def fill_own_losses(
    table: np.ndarray, change: np.ndarray, gate: np.ndarray, flow: np.ndarray, rows: np.ndarray, own: np.ndarray
) -> None:
    """Fill the own losses of some rows, Pa; arguments as `own_loss`, for every row."""
    for run in rows:
        own[run] = 0.0
        if flow[run] > 0.0:
            own[run] = own_loss(table, run, change[run], gate[run], flow[run], table[run, START])[0]
