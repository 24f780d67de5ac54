"""The solver's scratch: columns of its arrays, as plain integers that compiled code can use as constants."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from airbough_service.core.compiled import inner

# Columns of `work` by place among the live runs:
FLOW, Y, QUADRATIC, RUBBING, PER_FLOW, WALL, ALPHA, BETA, CONSTANT, PROPORTION = range(10)
# By row of the table, from state to state:
KEPT_Y, KEPT_PER_FLOW, KEPT_LONE, KEPT_POWERS = range(10, 14)
WORK_COLUMNS = 14

# Lines of `order`, by place among the live runs: the run's row in the table, and how many live runs flow into it.
ROW, ARMS = 0, 1


class Scratch(NamedTuple):
    """Arrays that a solve writes into.

    Attributes:
        order: shape (2, n).
        slots: shape (n,), how many live runs flow into each row, -1 where it is not live itself.
        work: shape (n, WORK_COLUMNS).
    """

    order: np.ndarray
    slots: np.ndarray
    work: np.ndarray


@inner
def copy_row(source: np.ndarray, target: np.ndarray) -> None:
    """Copy a row, value by value: an assignment of slices has a message compiled for those of unlike shape, in 2 s."""
    for column in range(source.size):
        target[column] = source[column]


@inner
def scratch(n: int) -> Scratch:
    """Return scratch for a tree of n rows."""
    return Scratch(np.empty((2, n), np.int32), np.empty(n, np.int32), np.empty((n, WORK_COLUMNS)))
