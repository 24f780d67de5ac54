"""One budget over all replicas, against a store that the test holds; a real one: tests/long/test_shared_rates.py."""

import asyncio
import json
import logging
import sys

import pytest
from litestar.testing import TestClient

from airbough_service.api.admission import shared_rates
from airbough_service.api.admission.rates import Rates
from airbough_service.api.admission.shared_rates import (
    PAUSE,
    RedisStore,
    SharedRates,
    StoreLostError,
)
from airbough_service.api.app import create_app
from airbough_service.api.observe import logs
from airbough_service.api.settings import (
    SettingError,
    Settings,
)
from serving import free_port

AIR = "/v1/air?units=us"


class Shelf:
    """A store without a clock: `burst` tokens for each caller, and none come back."""

    def __init__(self):
        self.left = {}
        self.asked = 0
        self.lost = None
        self.closed = False

    async def take(self, caller, rate, burst, tokens=1):
        self.asked += 1
        if self.lost is not None:
            await self.lost()
        left = self.left.get(caller, float(burst))
        self.left[caller] = left - tokens if left >= 1.0 else left
        return left >= 1.0, self.left[caller]

    async def close(self):
        self.closed = True


async def refuse():
    raise StoreLostError("ConnectionError")


async def hang():
    await asyncio.sleep(30)


@pytest.fixture
def told():
    """What the service logs about its own faults."""
    lines = []
    handler = logging.Handler()
    handler.emit = lambda record: lines.append(record.getMessage() + json.dumps(getattr(record, "said", {})))
    logs.FAULTS.addHandler(handler)
    yield lines
    logs.FAULTS.removeHandler(handler)


def replica(store, clock=lambda: 0.0, **settings):
    made = Settings(**({"rate": 1.0, "burst": 3} | settings))
    return SharedRates(made, Rates(made, clock), store, clock)


def test_two_replicas_share_a_budget_and_tell_it_as_one_would():
    store = Shelf()
    one, two = replica(store), replica(store)

    async def main():
        return [await rates.take("a") for rates in (one, two, one, two)]

    standings = asyncio.run(main())
    assert [standing.allowed for standing in standings] == [True, True, True, False]
    alone = Rates(Settings(rate=1.0, burst=3), lambda: 0.0)
    assert standings == [alone.take("a") for _ in range(4)]


@pytest.mark.parametrize("lost", [refuse, hang])
def test_without_an_answer_each_replica_counts_by_itself_and_says_so_once(lost, told, monkeypatch):
    monkeypatch.setattr(shared_rates, "PATIENCE", 0.02)
    store, now = Shelf(), [0.0]
    store.lost = lost
    rates = replica(store, lambda: now[0], rate=0.001)

    async def take(count):
        return [(await rates.take("a")).allowed for _ in range(count)]

    assert asyncio.run(take(4)) == [True, True, True, False]
    assert store.asked == 1, "a store that is lost is left alone for a while"
    now[0] = PAUSE + 0.1

    async def together():
        return await asyncio.gather(*(rates.take(str(number)) for number in range(5)))

    assert all(standing.allowed for standing in asyncio.run(together()))
    assert store.asked == 2, "one request asks again while the others do not wait for it"
    assert len(told) == 1
    assert "each process counts by itself" in told[0]
    store.lost = None
    now[0] = 2 * PAUSE + 0.2
    assert asyncio.run(take(4)) == [True, True, True, False]
    assert told[1:] == ["the store of rates answers again{}"]
    store.lost = lost
    asyncio.run(take(2))
    assert len(told) == 3


def test_a_store_that_nobody_reaches_is_no_fault_of_the_callers(told, monkeypatch):
    monkeypatch.setattr(shared_rates, "PATIENCE", 60.0)
    monkeypatch.setattr(shared_rates, "PAUSE", 600.0)
    address = f"redis://:some-secret@127.0.0.1:{free_port()}/0"
    with TestClient(create_app(Settings(rate=0.001, burst=2, rate_store=address))) as client:
        assert [client.get(AIR).status_code for _ in range(3)] == [200, 200, 429]
    (line,) = told
    assert "ConnectionError" in line
    assert "secret" not in line


def test_the_connections_are_closed_with_the_service(monkeypatch):
    store = Shelf()
    monkeypatch.setattr("airbough_service.api.admission.guard.RedisStore", lambda _: store)
    with TestClient(create_app(Settings(rate=1.0, burst=2, rate_store="redis://127.0.0.1"))) as client:
        assert [client.get(AIR).status_code for _ in range(3)] == [200, 200, 429]
        assert list(store.left) == ["testclient"]
    assert store.closed


@pytest.mark.parametrize("address", ["", "http://127.0.0.1", "127.0.0.1:6379", "redis://127.0.0.1:port"])
def test_what_is_no_address_of_a_store_stops_the_start(address):
    with pytest.raises(SettingError, match="AIRBOUGH_RATE_STORE"):
        RedisStore(address)


def test_a_store_without_a_rate_stops_the_start():
    with pytest.raises(SettingError, match="AIRBOUGH_RATE"):
        create_app(Settings(rate_store="redis://127.0.0.1"))


def test_without_the_extra_the_start_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "redis", None)
    with pytest.raises(SettingError, match=r"airbough-service\[shared-limits\]"):
        RedisStore("redis://127.0.0.1")
