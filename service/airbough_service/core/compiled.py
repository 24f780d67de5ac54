"""How the core's loops are compiled: once, kept between processes, with numpy's division, without Python's lock."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar

import numpy as np
from numba import njit
from numba.extending import register_jitable

from airbough_service.core.kept import not_kept

_Function = TypeVar("_Function", bound=Callable[..., Any])

_KEPT: Final = not_kept() is None
_OPTIONS: Final[dict[str, Any]] = {"cache": _KEPT, "error_model": "numpy", "nogil": True, "no_cfunc_wrapper": True}

compiled: Callable[[_Function], _Function] = njit(**_OPTIONS)

# What compiled functions alone call: without the wrapper by which Python would, which is a tenth of the compiler's
# work. Where Python calls it all the same, as tests do, it runs uncompiled.
inner: Callable[[_Function], _Function] = register_jitable(**_OPTIONS)

# The compiler itself does not inline small functions that return several numbers; in the hot loop that costs a tenth.
inlined = njit(cache=_KEPT, error_model="numpy", nogil=True, inline="always")


@inlined
def whole(number: int) -> int:
    """Return a whole number in the type that they all have in calls: for each other one a callee is compiled anew."""
    return np.int64(number)  # type: ignore[return-value]  # which is what an int is here
