"""Changes of a tree in which each run is one row, tried one by one in one state; their rows are arrays."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.tree import Tree
from airbough_service.core.network.trials import Needs, Tried, try_each

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


class ChangedRows(NamedTuple):
    """The rows that T changes change, one after the other.

    Attributes:
        begins: shape (T + 1,), where each change's rows begin, and where the last one's end.
        rows: shape (k,), of the packed tree.
        columns: shape (k, FLOAT_COLUMNS), as the change would have them.
        change: shape (k,), the part of LOCAL that is `change`.
        about: shape (T,), row of the run that each change is told of.
    """

    begins: Integers
    rows: Integers
    columns: Floats
    change: Floats
    about: Integers


def tried_rows(tree: Tree, fan: Fan, gate: Floats, before: Floats, changed: ChangedRows, needs: Needs) -> Tried:
    """Return what changes of a tree bring, each tried alone; arguments as of `trials.tried`."""
    deadline.check()
    count = changed.about.size
    out = Tried(np.empty(count, np.int64), np.empty(count), np.empty(count), np.empty(count, np.int64))
    try_each(
        (tree.table, tree.links, tree.change, gate),
        (fan.pieces, fan.terms, fan.net_quadratic),
        (changed.begins, np.arange(count + 1)),
        (changed.rows, changed.about),
        changed.columns,
        changed.change,
        (needs.rows, needs.least),
        before,
        (out.status, out.flow, out.lost, out.starved),
    )
    return out
