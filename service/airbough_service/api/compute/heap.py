"""Memory that was let go, given back to the machine; the C library by itself keeps much of it.

Under glibc each thread allocates from a heap of its own, up to eight for each processor, and what one heavy question
left free in one of them serves no other thread. It also learns from large tables that were let go to take the next ones
from its heaps, and to keep tens of MB free at the end of each. Elsewhere nothing is done.
"""

from __future__ import annotations

import ctypes
import time
from typing import Any, Final

_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8  # of <malloc.h>
_HEAPS: Final = 2
_LARGE: Final = 1 << 20  # bytes: what is no smaller lies outside the heaps and is given back at once
_FREE_AT_END: Final = 4 << 20  # bytes that a heap may keep there
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
            for what, value in ((_ARENA_MAX, _HEAPS), (_MMAP_THRESHOLD, _LARGE), (_TRIM_THRESHOLD, _FREE_AT_END)):
                _LIBRARY.mallopt(what, value)

    def give_back(self) -> bool:
        """Give free pages back to the machine and return True; False where that was done a moment ago."""
        now = time.monotonic()
        if _LIBRARY is None or now < self._next:
            return False
        self._next = now + _SECONDS
        _LIBRARY.malloc_trim(0)  # other threads go on meanwhile
        return True
