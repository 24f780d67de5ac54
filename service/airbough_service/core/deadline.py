"""A limit on one computation, heeded by its own loops: each asks now and then whether to go on."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class OutOfTimeError(Exception):
    """The computation passed its limit of time and was given up."""


class NotWantedError(OutOfTimeError):
    """Nobody waits for the result any more."""


class Interest:
    """Whether somebody still waits for a result; it is lost in another thread than the one that computes.

    Attributes:
        lost: set once nobody does.
    """

    __slots__ = ("lost",)

    def __init__(self) -> None:
        self.lost = False


_limit: ContextVar[tuple[float | None, Interest | None]] = ContextVar("airbough_deadline", default=(None, None))


@contextmanager
def limited(until: float | None, interest: Interest | None = None) -> Iterator[None]:
    """Limit what is computed inside to a moment of `time.monotonic`, s, and to the time in which it is wanted.

    None: no limit but one that holds already.
    """
    outer_until, outer_interest = _limit.get()
    known = [moment for moment in (outer_until, until) if moment is not None]
    token = _limit.set((min(known, default=None), interest or outer_interest))
    try:
        yield
    finally:
        _limit.reset(token)


def within(seconds: float) -> float:
    """Return the moment that lies so many seconds ahead."""
    return time.monotonic() + seconds


def check() -> None:
    """Give up where the limit has passed; about 0.1 us, so loops of 10 us and more may ask every time.

    Raises:
        OutOfTimeError: the limit has passed.
        NotWantedError: nobody waits for the result.
    """
    until, interest = _limit.get()
    if interest is not None and interest.lost:
        raise NotWantedError("nobody waits for the result")
    if until is not None and time.monotonic() > until:
        raise OutOfTimeError("the limit of time has passed")
