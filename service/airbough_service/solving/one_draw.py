"""The packed tree and its gates as one draw of the uncertain terms has them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.network import (
    columns,
    sampling,
)
from airbough_service.core.network.sampling import Uses
from airbough_service.core.network.tree import Tree as Packed

Floats = NDArray[np.float64]


def drawn_tree(tree: Packed, uses: Uses, factor: Floats) -> Packed:
    """Return the packed tree of one draw; what a draw adds to fixed losses is booked as fittings."""
    table = np.empty_like(tree.table)
    sampling.apply(tree.table, factor, uses, table)
    more = table[:, columns.LOCAL] - tree.table[:, columns.LOCAL]
    return tree._replace(table=table, fittings=tree.fittings + more)


def drawn_gate(gate: Floats, uses: Uses, factor: Floats) -> Floats:
    """Return the gate coefficients of one draw."""
    return np.asarray(gate * np.where(uses.gate >= 0, factor[uses.gate], 1.0))
