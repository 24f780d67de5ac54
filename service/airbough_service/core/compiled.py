"""How the core's loops are compiled: once, kept between processes, with numpy's division, without Python's lock."""

from __future__ import annotations

from numba import njit

compiled = njit(cache=True, error_model="numpy", nogil=True)

# The compiler itself does not inline small functions that return several numbers; in the hot loop that costs a tenth.
inlined = njit(cache=True, error_model="numpy", nogil=True, inline="always")
