"""One budget for a caller over all replicas: the buckets are in a store that each of them asks.

While the store does not answer, each process counts by itself: a caller may then have the budget once in every process,
and nobody is turned away for want of the store.
"""

from __future__ import annotations

import asyncio
import hashlib
import time
from collections.abc import Callable
from typing import Final, Protocol

from airbough_service.api.admission.rates import (
    Rates,
    Standing,
)
from airbough_service.api.observe import logs
from airbough_service.api.settings import (
    SettingError,
    Settings,
)

PATIENCE: Final = 1.0
"""Seconds that a request waits for the store."""

PAUSE: Final = 5.0
"""Seconds for which a store that did not answer is left alone; then one request asks it again, lest all wait."""

_PREFIX: Final = "airbough:rate:"
_CONNECTIONS: Final = 16

_TAKE: Final = """
local rate, burst, wanted = tonumber(ARGV[1]), tonumber(ARGV[2]), tonumber(ARGV[3])
local clock = redis.call('TIME')
local now = tonumber(clock[1]) + tonumber(clock[2]) / 1e6
local held = redis.call('HMGET', KEYS[1], 'tokens', 'at')
local tokens, at = tonumber(held[1]) or burst, tonumber(held[2]) or now
tokens = math.min(burst, tokens + math.max(0, now - at) * rate)
local allowed = 0
if tokens >= 1 then
  tokens, allowed = tokens - wanted, 1
end
local text = string.format('%.9f', tokens)
redis.call('HSET', KEYS[1], 'tokens', text, 'at', string.format('%.6f', math.max(now, at)))
redis.call('PEXPIRE', KEYS[1], math.ceil((burst - tokens) / rate * 1000) + 1000)
return {allowed, text}
"""
"""The bucket of `Rates`, in one step; by the store's own clock, so that the replicas' clocks may differ.

A full bucket is as good as none, and expires."""


class StoreLostError(Exception):
    """The store does not answer, or not in its way."""


class Store(Protocol):
    """What holds the buckets."""

    async def take(self, caller: str, rate: float, burst: int, tokens: int = 1) -> tuple[bool, float]:
        """Take tokens where there is one; return whether there was, and how many are left. Raises StoreLostError."""
        ...

    async def close(self) -> None:
        """Close the connections."""
        ...


class RedisStore:
    """A server that speaks the protocol of Redis and runs its scripts."""

    def __init__(self, address: str) -> None:
        try:
            from redis import exceptions
            from redis.asyncio import BlockingConnectionPool, Redis
            from redis.asyncio.retry import Retry
            from redis.backoff import NoBackoff
        except ImportError:
            raise SettingError("AIRBOUGH_RATE_STORE: install airbough-service[shared-limits]") from None
        try:
            pool = BlockingConnectionPool.from_url(
                address,
                max_connections=_CONNECTIONS,
                timeout=PATIENCE,
                socket_timeout=PATIENCE,
                socket_connect_timeout=PATIENCE,
                retry=Retry(NoBackoff(), 1),  # a connection that the store has closed meanwhile
            )
        except ValueError as error:  # the message names the schemes, not the address, which may hold a password
            raise SettingError(f"AIRBOUGH_RATE_STORE: no address of a store ({type(error).__name__})") from None
        self._redis = Redis.from_pool(pool)
        self._script = self._redis.register_script(_TAKE)
        self._lost = (exceptions.RedisError, OSError, ValueError, TypeError)

    async def take(self, caller: str, rate: float, burst: int, tokens: int = 1) -> tuple[bool, float]:
        """Take tokens, in one step whoever else takes some."""
        # Addresses are nobody's business in a store that others may read.
        key = _PREFIX + hashlib.blake2b(caller.encode(), digest_size=16).hexdigest()
        try:
            allowed, left = await self._script(keys=[key], args=[rate, burst, tokens])
            return bool(allowed), float(left)
        except self._lost as error:
            raise StoreLostError(type(error).__name__) from None

    async def close(self) -> None:
        """Close the connections."""
        await self._redis.aclose()


class SharedRates:
    """The buckets of all replicas; this process's own ones while the store does not answer."""

    def __init__(
        self, settings: Settings, own: Rates, store: Store, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._rate = settings.rate
        self._burst = settings.burst
        self._own = own
        self._store = store
        self._clock = clock
        self._lost = False
        self._again_at = float("-inf")

    async def take(self, caller: str, tokens: int = 1) -> Standing:
        """Take tokens from a caller's bucket, where there is one at least; what is then missing is owed."""
        if self._clock() < self._again_at:
            return self._own.take(caller, tokens)
        if self._lost:
            self._again_at = self._clock() + PAUSE
        try:
            async with asyncio.timeout(PATIENCE):
                allowed, left = await self._store.take(caller, self._rate, self._burst, tokens)
        except (StoreLostError, TimeoutError) as error:
            self._lose(str(error) or type(error).__name__)
            return self._own.take(caller, tokens)
        if self._lost:
            self._lost, self._again_at = False, float("-inf")
            logs.FAULTS.warning("the store of rates answers again")
        return self._own.standing(allowed, left)

    def _lose(self, kind: str) -> None:
        self._again_at = self._clock() + PAUSE
        if not self._lost:
            self._lost = True
            told = "the store of rates does not answer; each process counts by itself until it does"
            logs.FAULTS.warning(told, extra={"said": {"type": kind}})

    async def close(self) -> None:
        """Close the connections to the store."""
        await self._store.close()
