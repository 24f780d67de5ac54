"""Whose request it is, where rates are limited by address."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from airbough_service.api.settings import SettingError

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

_MOST_KNOWN: Final = 1024  # addresses that are remembered as read
_ONE_SITE: Final = 64
"""A single household is given this many bits of an IPv6 address at least, and may take any address below."""


class Callers:
    """Tells callers apart; `X-Forwarded-For` is heeded where a trusted proxy wrote it, and never otherwise."""

    def __init__(self, trusted: str) -> None:
        self.trusted = tuple(_network(text.strip()) for text in trusted.split(",") if text.strip())

    def of(self, peer: str, forwarded: Iterable[str] = ()) -> str:
        """Return the caller's name among the buckets.

        Args:
            peer: the address that the connection comes from.
            forwarded: the headers `X-Forwarded-For`, in order.
        """
        address = _address(peer)
        if address is None:
            return peer
        if self._trusts(address):
            address = self._behind(address, [part for line in forwarded for part in line.split(",")])
        if address.version == 6:
            return str(ipaddress.ip_network((address, _ONE_SITE), strict=False))
        return str(address)

    def _behind(self, proxy: Address, told: list[str]) -> Address:
        """Return the nearest address that no trusted proxy has: what stands before it anyone may have written."""
        nearest = proxy
        for text in reversed(told):
            address = _address(_without_port(text.strip()))
            if address is None:
                return nearest
            nearest = address
            if not self._trusts(address):
                return nearest
        return nearest

    def _trusts(self, address: Address) -> bool:
        return any(address in network for network in self.trusted)


def _network(text: str) -> Network:
    try:
        return ipaddress.ip_network(text)
    except ValueError:
        raise SettingError(f"AIRBOUGH_TRUSTED_PROXIES: `{text}` is neither an address nor a network") from None


@lru_cache(_MOST_KNOWN)
def _address(text: str) -> Address | None:
    try:
        address = ipaddress.ip_address(text.partition("%")[0])
    except ValueError:
        return None
    return getattr(address, "ipv4_mapped", None) or address


def _without_port(text: str) -> str:
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0] if text.count(":") == 1 else text
