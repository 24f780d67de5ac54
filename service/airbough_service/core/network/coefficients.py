"""The flow-ratio law as coefficients, for one junction without a tree."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from airbough_service.core.network import columns as c
from airbough_service.core.network.junction import junction_losses
from airbough_service.core.network.tree import Arm, fill_arm


def flow_ratio_coefficients(arms: Sequence[Arm], shares: Sequence[float]) -> list[float]:
    """Coefficients of the arriving runs on the common run's velocity pressure, by the law that the solver uses.

    Args:
        arms: the arriving runs.
        shares: of the common run's flow, in the arms' order; they sum to 1.
    """
    count = len(arms)
    table, links = np.zeros((count + 1, c.FLOAT_COLUMNS)), np.zeros((count + 1, c.LINK_COLUMNS), np.int32)
    table[0, c.VP_START] = 1.0
    links[0, c.FIRST_CHILD], links[0, c.CHILDREN], links[0, c.LAW] = 1, count, c.FLOW_RATIO
    for row, arm in enumerate(arms, 1):
        fill_arm(table[row], arm)
        links[row, c.IS_BRANCH] = arm.is_branch
    return [float(loss) for loss in junction_losses(table, links, np.array([1.0, *shares]))[1:]]
