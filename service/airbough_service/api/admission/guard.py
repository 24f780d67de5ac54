"""Who may ask, and how often: checked before a body is read."""

from __future__ import annotations

import asyncio
import ipaddress
from pathlib import Path
from typing import Any

from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from airbough_service.api.admission.callers import Callers
from airbough_service.api.admission.keys import Keys
from airbough_service.api.admission.rates import Rates, Standing
from airbough_service.api.admission.shared_rates import (
    RedisStore,
    SharedRates,
)
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import (
    SettingError,
    Settings,
)

Connection = ASGIConnection[Any, Any, Any, Any]


class Gate:
    """The guard before every question."""

    def __init__(self, settings: Settings) -> None:
        self._keys = Keys(Path(settings.keys_file)) if settings.keys_file else None
        self._callers = Callers(settings.trusted_proxies)
        self._rates = Rates(settings) if settings.rate > 0 else None
        self._shared = over_replicas(settings, self._rates)

    async def guard(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Let a question pass.

        Raises:
            HttpRefusal: `key-needed` or `too-many-requests`.
        """
        state = connection.scope["state"]
        name = self._name(connection) if self._keys is not None else None
        state["caller"] = name or self._address(connection)
        if name is not None:
            state["key_name"] = name
        await self._take(state)
        if self._keys is not None and name is None:
            headers = {"WWW-Authenticate": 'Bearer realm="airbough"'}
            raise HttpRefusal("key-needed", "send `Authorization: Bearer` and a key of this server", headers=headers)

    async def guard_open(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Let a request pass that needs no key.

        Raises:
            HttpRefusal: `too-many-requests`.
        """
        state = connection.scope["state"]
        state["caller"] = self._address(connection)
        await self._take(state)

    async def _take(self, state: dict[str, Any]) -> None:
        """Take one request from the caller's budget; without a valid key that is its address's."""
        standing = await self._standing(state["caller"], 1)
        if standing is None:
            return
        if not standing.allowed:
            raise HttpRefusal("too-many-requests", "the rate limit is reached", headers=standing.headers)
        state["more_headers"] += [(name.lower().encode(), value.encode()) for name, value in standing.headers.items()]

    async def spend(self, caller: str, questions: int) -> None:
        """Take so many questions from a caller's budget, when it has come to hold one; the rest is owed."""
        while (standing := await self._standing(caller, questions)) is not None and not standing.allowed:
            await asyncio.sleep(min(1.0, float(standing.headers["Retry-After"])))

    async def _standing(self, caller: str, questions: int) -> Standing | None:
        if self._shared is not None:
            return await self._shared.take(caller, questions)
        return None if self._rates is None else self._rates.take(caller, questions)

    async def close(self) -> None:
        """Close the connections to a store of rates."""
        if self._shared is not None:
            await self._shared.close()

    def _address(self, connection: Connection) -> str:
        client = connection.scope.get("client")
        return self._callers.of(client[0] if client else "unknown", connection.headers.getall("x-forwarded-for", []))

    def _name(self, connection: Connection) -> str | None:
        scheme, _, key = connection.headers.get("authorization", "").partition(" ")
        return self._keys.name_of(key.strip()) if self._keys and scheme.lower() == "bearer" else None


def over_replicas(settings: Settings, own: Rates | None) -> SharedRates | None:
    """Return what counts for several replicas together; None where each counts alone.

    Raises:
        SettingError: where the store cannot be used.
    """
    if not settings.rate_store:
        return None
    if own is None:
        raise SettingError("AIRBOUGH_RATE_STORE: counts nothing without AIRBOUGH_RATE")
    return SharedRates(settings, own, RedisStore(settings.rate_store))


def check_protection(settings: Settings) -> None:
    """Refuse to start without keys on an address that others can reach, unless told so.

    Raises:
        SettingError: with the three ways out.
    """
    if settings.keys_file or settings.public_unprotected or _loopback(settings.host):
        return
    raise SettingError(
        f"{settings.host} can be reached from other machines and no keys are asked for. Listen on 127.0.0.1, name a "
        "file of keys in AIRBOUGH_KEYS_FILE, or set AIRBOUGH_PUBLIC_UNPROTECTED=yes where a proxy protects the service."
    )


def _loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
