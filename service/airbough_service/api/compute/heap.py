"""Memory that was let go, given back to the machine; the C library by itself keeps much of it.

Under glibc each thread allocates from a heap of its own, up to eight for each processor, and what one heavy question
left free in one of them serves no other thread. Elsewhere nothing is done.
"""

from __future__ import annotations

import ctypes
import time
from typing import Any, Final

_ARENA_MAX: Final = -8  # M_ARENA_MAX of <malloc.h>
_HEAPS: Final = 2
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
            _LIBRARY.mallopt(_ARENA_MAX, _HEAPS)

    def give_back(self) -> bool:
        """Give free pages back to the machine and return True; False where that was done a moment ago."""
        now = time.monotonic()
        if _LIBRARY is None or now < self._next:
            return False
        self._next = now + _SECONDS
        _LIBRARY.malloc_trim(0)  # other threads go on meanwhile
        return True
