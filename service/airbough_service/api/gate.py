"""Who may ask, and how often: checked before a body is read."""

from __future__ import annotations

import ipaddress
from pathlib import Path
from typing import Any

from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from airbough_service.api.keys import Keys
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.rates import Rates
from airbough_service.api.settings import SettingError, Settings

Connection = ASGIConnection[Any, Any, Any, Any]


class Gate:
    """The guard before every question."""

    def __init__(self, settings: Settings) -> None:
        self._keys = Keys(Path(settings.keys_file)) if settings.keys_file else None
        self._rates = Rates(settings) if settings.rate > 0 else None

    def guard(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Let a request pass.

        Raises:
            HttpRefusal: `key-needed` or `too-many-requests`.
        """
        state = connection.scope["state"]
        client = connection.scope.get("client")
        caller = client[0] if client else "unknown"
        if self._keys is not None:
            caller = state["key_name"] = self._name(connection)
        if self._rates is None:
            return
        standing = self._rates.take(caller)
        if not standing.allowed:
            raise HttpRefusal("too-many-requests", "the rate limit is reached", headers=standing.headers)
        state["more_headers"] += [(name.lower().encode(), value.encode()) for name, value in standing.headers.items()]

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
