"""Where air is meant to flow: which hoods are open and which runs they serve, for many states of the gates at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from airbough_service.core.compiled import compiled


@compiled
def reach_one(
    parents: np.ndarray,
    order: np.ndarray,
    hoods: np.ndarray,
    gates: np.ndarray,
    is_open: np.ndarray,
    active: np.ndarray,
) -> None:
    """Fill which hoods are open and which runs are active in one state; arguments as of `reach`, of shape (runs,)."""
    for run in order:
        parent = parents[run]
        active[run] = gates[run] and (parent < 0 or active[parent])  # so far: whether it leads to the collector
    for run in order:
        is_open[run] = active[run] and hoods[run]
        active[run] = is_open[run]
    for k in range(len(order) - 1, -1, -1):
        run = order[k]
        if active[run] and parents[run] >= 0:
            active[parents[run]] = True


reach_lists: Callable[..., None] = getattr(reach_one, "py_func", reach_one)
"""`reach_one` as it is written, of plain lists: for one state of a few runs that is less than making arrays of them."""


@compiled
def reach(
    parents: np.ndarray,
    order: np.ndarray,
    hoods: np.ndarray,
    gates: np.ndarray,
    is_open: np.ndarray,
    active: np.ndarray,
) -> None:
    """Fill which hoods are open and which runs are active in each state.

    A hood is open when no gate between it and the collector is shut; a run is active when an open hood is upstream.

    Args:
        parents: shape (runs,), the run that each flows into, below 0 at the collector.
        order: shape (runs,), every run, from the collector to the hoods.
        hoods: shape (runs,), whether a run has a hood.
        gates: shape (states, runs), whether a run's own gate lets air through; true where it has none.
        is_open: shape (states, runs), filled: whether the run has a hood and it is open.
        active: shape (states, runs), filled.
    """
    for s in range(gates.shape[0]):
        reach_one(parents, order, hoods, gates[s], is_open[s], active[s])


@compiled
def greatest_upstream(
    parents: np.ndarray, order: np.ndarray, at_hood: np.ndarray, is_open: np.ndarray, out: np.ndarray
) -> None:
    """Fill the greatest value among the open hoods upstream of each run, 0 where none is open.

    Args:
        parents: as of `reach`.
        order: as of `reach`.
        at_hood: shape (runs,), a value of each hood, 0 or above.
        is_open: shape (states, runs), of `reach`.
        out: shape (states, runs), filled.
    """
    for s in range(is_open.shape[0]):
        for run in range(parents.shape[0]):
            out[s, run] = at_hood[run] if is_open[s, run] else 0.0
        for k in range(order.shape[0] - 1, -1, -1):
            run = order[k]
            if parents[run] >= 0:
                out[s, parents[run]] = max(out[s, parents[run]], out[s, run])
