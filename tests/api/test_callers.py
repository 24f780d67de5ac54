"""Behind a proxy: `X-Forwarded-For` counts where a trusted proxy wrote it, and nowhere else."""

import asyncio

import httpx
import pytest

from airbough_service.api.admission.callers import Callers
from airbough_service.api.app import create_app
from airbough_service.api.settings import (
    SettingError,
    Settings,
)

INSIDE = "127.0.0.1, 10.0.0.0/8, fd00::/8"


@pytest.mark.parametrize(("peer", "forwarded", "caller"), [
    ("203.0.113.7", [], "203.0.113.7"),
    ("203.0.113.7", ["198.51.100.1"], "203.0.113.7"),  # no proxy of ours: anyone can write the header
    ("127.0.0.1", [], "127.0.0.1"),
    ("127.0.0.1", ["198.51.100.1"], "198.51.100.1"),
    ("10.1.2.3", ["198.51.100.1"], "198.51.100.1"),
    ("127.0.0.1", ["192.0.2.66, 198.51.100.1"], "198.51.100.1"),  # what stands before it, the caller wrote
    ("127.0.0.1", ["192.0.2.66", "198.51.100.1"], "198.51.100.1"),
    ("127.0.0.1", ["192.0.2.66, 198.51.100.1, 10.0.0.9"], "198.51.100.1"),
    ("127.0.0.1", ["10.0.0.8, 10.0.0.9"], "10.0.0.8"),
    ("127.0.0.1", ["198.51.100.1:4711"], "198.51.100.1"),
    ("127.0.0.1", ["unknown"], "127.0.0.1"),
    ("127.0.0.1", [""], "127.0.0.1"),
    ("127.0.0.1", ["198.51.100.1, <script>"], "127.0.0.1"),
    ("127.0.0.1", ["198.51.100.1, unknown, 10.0.0.9"], "10.0.0.9"),
    ("::ffff:127.0.0.1", ["198.51.100.1"], "198.51.100.1"),
    ("127.0.0.1", ["::ffff:198.51.100.1"], "198.51.100.1"),
    ("fd00::1", ["[2001:db8:1:2:3:4:5:6]:4711"], "2001:db8:1:2::/64"),
    ("2001:db8:1:2::5", [], "2001:db8:1:2::/64"),  # one household has 2**64 addresses
    ("fe80::1%eth0", [], "fe80::/64"),
    ("testclient", ["198.51.100.1"], "testclient"),
])  # fmt: skip
def test_the_caller_is_the_nearest_address_that_is_no_proxy_of_ours(peer, forwarded, caller):
    assert Callers(INSIDE).of(peer, forwarded) == caller


def test_without_trusted_proxies_the_header_is_never_heeded():
    assert Callers("").of("127.0.0.1", ["198.51.100.1"]) == "127.0.0.1"


@pytest.mark.parametrize("text", ["proxy.example", "10.0.0.1/8", "127.0.0.1;10.0.0.1", "127.0.0.1:80"])
def test_what_is_no_address_stops_the_start(text):
    with pytest.raises(SettingError, match="AIRBOUGH_TRUSTED_PROXIES"):
        create_app(Settings(trusted_proxies=text))


def asked(settings, peers):
    """Ask once for each (peer, X-Forwarded-For) and return the statuses."""

    async def main():
        app, codes = create_app(settings), []
        for peer, forwarded in peers:
            transport = httpx.ASGITransport(app, client=(peer, 1))
            async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
                told = await http.get("/v1/air?units=us", headers={"x-forwarded-for": forwarded})
                codes.append(told.status_code)
        return codes

    return asyncio.run(main())


def test_each_caller_behind_a_trusted_proxy_has_a_bucket_and_none_elsewhere():
    limited = {"rate": 0.001, "burst": 1}
    peers = [("10.0.0.1", "198.51.100.1"), ("10.0.0.1", "198.51.100.2"), ("10.0.0.1", "192.0.2.66, 198.51.100.1")]
    assert asked(Settings(**limited, trusted_proxies="10.0.0.1"), peers) == [200, 200, 429]
    assert asked(Settings(**limited), peers) == [200, 429, 429]
    assert asked(Settings(**limited, trusted_proxies="10.0.0.2"), peers) == [200, 429, 429]
