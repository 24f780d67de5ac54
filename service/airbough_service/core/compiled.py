"""How the core's loops are compiled: once, kept between processes, with numpy's division, without Python's lock."""

from __future__ import annotations

import numpy as np
from numba import njit

compiled = njit(cache=True, error_model="numpy", nogil=True)

# The compiler itself does not inline small functions that return several numbers; in the hot loop that costs a tenth.
inlined = njit(cache=True, error_model="numpy", nogil=True, inline="always")


@inlined
def whole(number: int) -> int:
    """Return a whole number in the type that they all have in calls: for each other one a callee is compiled anew."""
    return np.int64(number)  # type: ignore[return-value]  # which is what an int is here
