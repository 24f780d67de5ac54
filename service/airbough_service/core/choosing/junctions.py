"""The laws of one junction for many sets of bores at once."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled, whole
from airbough_service.core.network.junction import junction_at


@compiled
def join_losses(lines: np.ndarray, place: np.ndarray, links: np.ndarray, flow: np.ndarray) -> np.ndarray:
    """Return the join loss of each arm by its junction's law, Pa, shape (sets, arms, states).

    Args:
        lines: shape (n, FLOAT_COLUMNS), packed rows.
        place: shape (sets, arms + 1), which of them stand for a set's run and the arms that flow into it.
        links: shape (arms + 1, LINK_COLUMNS), the same for all sets.
        flow: shape (states, arms + 1), m3/s.
    """
    sets, states, arms = place.shape[0], flow.shape[0], place.shape[1] - 1
    out, loss, table = np.zeros((sets, arms, states)), np.zeros(arms + 1), np.empty((arms + 1, lines.shape[1]))
    for i in range(sets):
        for row in range(arms + 1):
            table[row] = lines[place[i, row]]
        for s in range(states):
            if flow[s, 0] <= 0.0:
                continue
            junction_at(table, links, flow[s], whole(0), loss)
            for arm in range(arms):
                out[i, arm, s] = loss[arm + 1]
    return out
