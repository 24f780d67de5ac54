"""How the core's loops are compiled: once, kept between processes, with numpy's division, without Python's lock."""

from __future__ import annotations

from numba import njit

compiled = njit(cache=True, error_model="numpy", nogil=True)
