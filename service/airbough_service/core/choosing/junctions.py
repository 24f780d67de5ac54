"""The laws of one junction for many sets of bores at once."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled
from airbough_service.core.network.junction import junction_at


@compiled
def join_losses(tables: np.ndarray, links: np.ndarray, flow: np.ndarray) -> np.ndarray:
    """Return the join loss of each arm by its junction's law, Pa, shape (sets, arms, states).

    Args:
        tables: shape (sets, arms + 1, FLOAT_COLUMNS); row 0 is the run that the arms flow into.
        links: shape (arms + 1, LINK_COLUMNS), the same for all sets.
        flow: shape (states, arms + 1), m3/s.
    """
    sets, states, arms = tables.shape[0], flow.shape[0], tables.shape[1] - 1
    out, loss = np.zeros((sets, arms, states)), np.zeros(arms + 1)
    for i in range(sets):
        for s in range(states):
            if flow[s, 0] <= 0.0:
                continue
            junction_at(tables[i], links, flow[s], 0, loss)
            for arm in range(arms):
                out[i, arm, s] = loss[arm + 1]
    return out
