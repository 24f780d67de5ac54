"""Types that msgspec knows: it learns one when it first meets it, and crashes where two threads do so at once."""

from __future__ import annotations

from threading import Lock
from typing import Final, TypeVar

import msgspec

AnyType = TypeVar("AnyType")
_LEARNING: Final = Lock()
_KNOWN: Final[set[object]] = set()


def known(told: type[AnyType]) -> type[AnyType]:
    """Return the type, learned by one thread at a time."""
    if told not in _KNOWN:
        with _LEARNING:
            msgspec.json.Decoder(told)
            _KNOWN.add(told)
    return told
