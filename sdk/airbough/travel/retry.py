"""When to try again, as a generator that neither sleeps nor sends.

Every question is a pure computation, so a POST may be sent again as safely as a GET.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Final, TypeAlias

from airbough.errors import (
    AirboughError,
    CutStream,
    ServerFailed,
    Unreachable,
)

_STATUSES: Final = frozenset({408, 429, 502, 503, 504})  # 500 would fail again: the service is deterministic


RETRIES: Final = 8
"""With the waits of `Policy` these take 20 to 40 seconds."""


@dataclass(frozen=True, slots=True)
class Policy:
    """How long to keep trying.

    Attributes:
        retries: tries after the first; with the waits below they outlast a restart of the service.
        retries_unreached: the same as long as nobody has ever answered, for then the address may be wrong.
        first_wait: the longest wait before the first retry, in seconds; it doubles from there.
        longest_wait: the cap of the doubling.
        longest_asked_wait: a `Retry-After` beyond this is not waited for.
        deadline: seconds for everything, waits included; None for no end.
    """

    retries: int = RETRIES
    retries_unreached: int = 2
    first_wait: float = 0.5
    longest_wait: float = 8.0
    longest_asked_wait: float = 60.0
    deadline: float | None = 120.0


@dataclass(frozen=True, slots=True)
class Try:
    """One try: sleep `wait` seconds, then send and be done when the clock shows `end`."""

    wait: float
    end: float | None


Tries: TypeAlias = Generator[Try, AirboughError, None]


def worth_repeating(error: AirboughError) -> bool:
    """Return whether the same request may be answered a moment later."""
    if isinstance(error, ServerFailed) and error.kind == "took-too-long":
        return False  # the same question would take as long again
    return isinstance(error, Unreachable | CutStream) or error.status in _STATUSES


def tries(
    policy: Policy,
    clock: Callable[[], float],
    chance: Callable[[], float],
    reached: Callable[[], bool] = lambda: True,
) -> Tries:
    """Yield each try; send in the error that it ended with.

    Args:
        policy: how long to keep trying.
        clock: seconds, monotonic.
        chance: 0..1, drawn for each wait: half of it is by chance.
        reached: whether the service has ever answered.

    Raises:
        AirboughError: the last error, when there is no use or time for another try.
    """
    end = None if policy.deadline is None else clock() + policy.deadline
    wait = 0.0
    for retry in range(policy.retries + 1):
        error = yield Try(wait, end)
        asked = error.retry_after
        wait = (0.5 + 0.5 * chance()) * min(policy.longest_wait, policy.first_wait * 2.0**retry)
        if asked is not None:
            wait += asked  # the jitter on top, lest all come back at once
        too_late = end is not None and clock() + wait >= end
        asks_too_much = asked is not None and asked > policy.longest_asked_wait
        most = policy.retries if reached() else min(policy.retries, policy.retries_unreached)
        if retry >= most or too_late or asks_too_much or not worth_repeating(error):
            raise error
