"""A limit on the time of one computation, heeded by its own loops: each asks now and then and gives up past it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_until: ContextVar[float | None] = ContextVar("airbough_deadline", default=None)


class OutOfTimeError(Exception):
    """The computation passed its limit of time and was given up."""


@contextmanager
def limited(until: float | None) -> Iterator[None]:
    """Limit what is computed inside to a moment of `time.monotonic`, s; None: no limit but one that holds already."""
    outer = _until.get()
    known = [moment for moment in (outer, until) if moment is not None]
    token = _until.set(min(known, default=None))
    try:
        yield
    finally:
        _until.reset(token)


def within(seconds: float) -> float:
    """Return the moment that lies so many seconds ahead."""
    return time.monotonic() + seconds


def check() -> None:
    """Give up where the limit has passed; about 0.1 us, so loops of 10 us and more may ask every time.

    Raises:
        OutOfTimeError: the limit has passed.
    """
    until = _until.get()
    if until is not None and time.monotonic() > until:
        raise OutOfTimeError("the limit of time has passed")
