"""Who may ask, and how often: checked before a body is read."""

from __future__ import annotations

import asyncio
import ipaddress
from dataclasses import replace
from pathlib import Path
from typing import Any

from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler

from airbough_service.api.admission.callers import Callers
from airbough_service.api.admission.keys import Key, Keys, Page
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
        self._settings = settings
        self._of_pages: dict[tuple[float, int], Rates | SharedRates] = {}

    async def guard(self, connection: Connection, handler: BaseRouteHandler) -> None:
        """Let a question pass.

        Raises:
            HttpRefusal: `key-needed`, `key-not-for-this` or `too-many-requests`.
        """
        state = connection.scope["state"]
        key = self._key(connection)
        page = None if key is None else key.page
        state["caller"] = self._address(connection) if key is None else key.name
        if key is not None:
            state["key_name"] = key.name
        if page is not None and key is not None:  # each address on its own, whatever else it asks
            state["caller"] = f"{key.name} {self._address(connection)}"
        await self._take(state, page)
        if self._keys is not None and key is None:
            headers = {"WWW-Authenticate": 'Bearer realm="airbough"'}
            raise HttpRefusal("key-needed", "send `Authorization: Bearer` and a key of this server", headers=headers)
        if page is not None:
            _refuse_elsewhere(page, connection.headers.get("origin"), handler.name)

    async def guard_open(self, connection: Connection, _: BaseRouteHandler) -> None:
        """Let a request pass that needs no key.

        Raises:
            HttpRefusal: `too-many-requests`.
        """
        state = connection.scope["state"]
        state["caller"] = self._address(connection)
        await self._take(state)

    async def _take(self, state: dict[str, Any], page: Page | None = None) -> None:
        """Take one request from the caller's budget; without a valid key that is its address's."""
        if page is None:
            standing = await self._standing(state["caller"], 1)
        else:
            standing = await _taken(self._of_page(page), state["caller"], 1)
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

    def _of_page(self, page: Page) -> Rates | SharedRates:
        """Return the budgets of a publishable key's addresses."""
        limits = (page.rate, page.burst)
        if limits not in self._of_pages:
            settings = replace(self._settings, rate=page.rate, burst=page.burst)
            own = Rates(settings)
            self._of_pages[limits] = over_replicas(settings, own) or own
        return self._of_pages[limits]

    async def close(self) -> None:
        """Close the connections to a store of rates."""
        for rates in (self._shared, *self._of_pages.values()):
            if isinstance(rates, SharedRates):
                await rates.close()

    def _address(self, connection: Connection) -> str:
        client = connection.scope.get("client")
        told = connection.headers.getall("x-forwarded-for", []) if self._callers.trusted else ()
        return self._callers.of(client[0] if client else "unknown", told)

    def _key(self, connection: Connection) -> Key | None:
        if self._keys is None:
            return None
        scheme, _, key = connection.headers.get("authorization", "").partition(" ")
        return self._keys.of(key.strip()) if scheme.lower() == "bearer" else None


async def _taken(rates: Rates | SharedRates, caller: str, questions: int) -> Standing:
    return await rates.take(caller, questions) if isinstance(rates, SharedRates) else rates.take(caller, questions)


def _refuse_elsewhere(page: Page, origin: str | None, question: str | None) -> None:
    """Refuse what a publishable key does not open.

    Raises:
        HttpRefusal: `key-not-for-this`.
    """
    if origin not in page.origins:
        told = "a request without `Origin`" if origin is None else f"pages of {origin}"
        raise HttpRefusal("key-not-for-this", f"this key is for pages of its own origins, not for {told}")
    if question not in page.questions:
        opens = ", ".join(sorted(page.questions))
        raise HttpRefusal("key-not-for-this", f"this key opens {opens}; ask through a server with a key of its own")


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
