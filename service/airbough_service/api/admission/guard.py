"""Who may ask, and how often: checked before a body is read."""

from __future__ import annotations

import ipaddress
from pathlib import Path
from typing import Any

from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from airbough_service.api.admission.callers import Callers
from airbough_service.api.admission.keys import Keys
from airbough_service.api.admission.rates import Rates
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
        self._shared = self._over_replicas(settings)

    def _over_replicas(self, settings: Settings) -> SharedRates | None:
        if not settings.rate_store:
            return None
        if self._rates is None:
            raise SettingError("AIRBOUGH_RATE_STORE counts nothing without AIRBOUGH_RATE")
        return SharedRates(settings, self._rates, RedisStore(settings.rate_store))

    async def guard(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Let a request pass.

        Raises:
            HttpRefusal: `key-needed` or `too-many-requests`.
        """
        state = connection.scope["state"]
        if self._keys is not None:
            state["key_name"] = self._name(connection)
        if self._rates is None:
            return
        caller = state["key_name"] if self._keys is not None else self._address(connection)
        standing = await self._shared.take(caller) if self._shared is not None else self._rates.take(caller)
        if not standing.allowed:
            raise HttpRefusal("too-many-requests", "the rate limit is reached", headers=standing.headers)
        state["more_headers"] += [(name.lower().encode(), value.encode()) for name, value in standing.headers.items()]

    async def close(self) -> None:
        """Close the connections to a store of rates."""
        if self._shared is not None:
            await self._shared.close()

    def _address(self, connection: Connection) -> str:
        client = connection.scope.get("client")
        return self._callers.of(client[0] if client else "unknown", connection.headers.getall("x-forwarded-for", []))

    def _name(self, connection: Connection) -> str:
        scheme, _, key = connection.headers.get("authorization", "").partition(" ")
        name = self._keys.name_of(key.strip()) if self._keys and scheme.lower() == "bearer" else None
        if name is None:
            headers = {"WWW-Authenticate": 'Bearer realm="airbough"'}
            raise HttpRefusal("key-needed", "send `Authorization: Bearer` and a key of this server", headers=headers)
        return name


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
