"""Memory that was let go, given back to the machine; the C library by itself keeps much of it.

Under glibc each thread allocates from a heap of its own, up to eight for each processor, and what one heavy question
left free in one of them serves no other thread. It also learns from large tables that were let go to take the next ones
from its heaps, and to keep tens of MB free at the end of each. Elsewhere nothing is done, and what an operator has set
by the library's own variables stays as he set it.
"""

from __future__ import annotations

import ctypes
import os
import time
from typing import Any, Final

_HEAPS: Final = 2
_LARGE: Final = 1 << 20  # bytes: what is no smaller lies outside the heaps and is given back at once
_FREE_AT_END: Final = 4 << 20  # bytes that a heap may keep there
_SET: Final = (
    # The parameter's number in <malloc.h>, our value, and what an operator sets it by.
    (-8, _HEAPS, "MALLOC_ARENA_MAX", "glibc.malloc.arena_max"),
    (-3, _LARGE, "MALLOC_MMAP_THRESHOLD_", "glibc.malloc.mmap_threshold"),
    (-1, _FREE_AT_END, "MALLOC_TRIM_THRESHOLD_", "glibc.malloc.trim_threshold"),
)
_SECONDS: Final = 5.0
"""Free pages are given back once in so long at most; that takes some 3 ms."""


def _glibc() -> Any:
    """Return the C library where it is glibc; None elsewhere."""
    try:
        library = ctypes.CDLL(None)
    except (OSError, TypeError):
        return None
    return library if hasattr(library, "gnu_get_libc_version") else None


_LIBRARY: Final = _glibc()


class Heap:
    """The memory of this process."""

    def __init__(self) -> None:
        self._next = 0.0
        if _LIBRARY is not None:
            tuned = {word.partition("=")[0] for word in os.environ.get("GLIBC_TUNABLES", "").split(":")}
            for what, value, variable, tunable in _SET:
                if variable not in os.environ and tunable not in tuned:
                    _LIBRARY.mallopt(what, value)

    def give_back(self) -> bool:
        """Give free pages back to the machine and return True; False where that was done a moment ago."""
        now = time.monotonic()
        if _LIBRARY is None or now < self._next:
            return False
        self._next = now + _SECONDS
        _LIBRARY.malloc_trim(0)  # other threads go on meanwhile
        return True
