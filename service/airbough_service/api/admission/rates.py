"""How often one caller may ask: a bucket of tokens for each key, or for each address where no keys are asked for."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from airbough_service.api.settings import Settings

_MOST_BUCKETS: Final = 10_000


@dataclass(slots=True)
class _Bucket:
    tokens: float
    at: float


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a caller stands after this request.

    Attributes:
        allowed: whether the request is answered.
        headers: `RateLimit-Policy` and `RateLimit` as the IETF draft of 2025 has them; `Retry-After` where refused.
    """

    allowed: bool
    headers: dict[str, str]


class Rates:
    """The buckets; `rate` tokens a second run into each, and it holds `burst`."""

    def __init__(self, settings: Settings, clock: Callable[[], float] = time.monotonic) -> None:
        self._rate = settings.rate
        self._burst = float(settings.burst)
        self._clock = clock
        self._buckets: dict[str, _Bucket] = {}
        window = math.ceil(self._burst / self._rate) if self._rate else 0
        self._policy = f'"default";q={settings.burst};w={window}'

    def take(self, caller: str, tokens: int = 1) -> Standing:
        """Take tokens from a caller's bucket, where there is one at least; what is then missing is owed."""
        now = self._clock()
        bucket = self._buckets.get(caller)
        if bucket is None:
            self._make_room(now)
            bucket = self._buckets[caller] = _Bucket(self._burst, now)
        bucket.tokens = self._filled(bucket, now)
        bucket.at = now
        allowed = bucket.tokens >= 1.0
        if allowed:
            bucket.tokens -= tokens
        return self.standing(allowed, bucket.tokens)

    def standing(self, allowed: bool, tokens: float) -> Standing:
        """Return what a caller is told whose bucket now holds `tokens`."""
        full_in = math.ceil((self._burst - tokens) / self._rate)
        headers = {
            "RateLimit-Policy": self._policy,
            "RateLimit": f'"default";r={max(0, math.floor(tokens))};t={full_in}',
        }
        if not allowed:
            headers["Retry-After"] = str(max(1, math.ceil((1.0 - tokens) / self._rate)))
        return Standing(allowed, headers)

    def _filled(self, bucket: _Bucket, now: float) -> float:
        return min(self._burst, bucket.tokens + (now - bucket.at) * self._rate)

    def _make_room(self, now: float) -> None:
        """Forget full buckets, which are as good as new; where none is full, the oldest."""
        if len(self._buckets) < _MOST_BUCKETS:
            return
        kept = {caller: bucket for caller, bucket in self._buckets.items() if self._filled(bucket, now) < self._burst}
        if len(kept) >= _MOST_BUCKETS:
            oldest = sorted(kept, key=lambda caller: kept[caller].at)[: _MOST_BUCKETS // 2]
            for caller in oldest:
                del kept[caller]
        self._buckets = kept
