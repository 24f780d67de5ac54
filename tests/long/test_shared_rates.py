"""Two services share one budget in a real store (redis-server); when it dies they go on, and share again afterwards."""

import asyncio
import contextlib
import http.client
import signal
import socket
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from airbough_service.api.admission.shared_rates import (
    PATIENCE,
    PAUSE,
    RedisStore,
)
from programs import needed
from serving import Served, free_port

pytestmark = pytest.mark.long
BURST = 40
THREADS = 4


class Store:
    """A store of its own on loopback, in memory alone."""

    def __init__(self):
        self.port = free_port()
        self.address = f"redis://127.0.0.1:{self.port}/0"
        self._process = None

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.stop()

    def start(self):
        """Start it and wait until it listens."""
        called = [needed("redis-server"), "--bind", "127.0.0.1", "--port", str(self.port)]
        called += ["--save", "", "--appendonly", "no", "--daemonize", "no"]
        self._process = subprocess.Popen(called, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/")
        until = time.monotonic() + 10
        while True:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return
            assert time.monotonic() < until, "redis-server did not start"
            time.sleep(0.05)

    def send(self, number):
        """Send it a signal."""
        self._process.send_signal(number)

    def stop(self):
        """End it, if it runs."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(20)
            self._process = None


def ask(port, times):
    """Return the statuses and the seconds of the slowest answer."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    codes, slowest = [], 0.0
    for _ in range(times):
        start = time.monotonic()
        connection.request("GET", "/v1/air?units=us&value=air.density")
        told = connection.getresponse()
        told.read()
        codes.append(told.status)
        slowest = max(slowest, time.monotonic() - start)
    connection.close()
    return codes, slowest


def ask_both(ports, times):
    """Ask both services at once, with several connections each; return all statuses."""
    with ThreadPoolExecutor(THREADS * len(ports)) as threads:
        told = threads.map(ask, [*ports] * THREADS, [times] * THREADS * len(ports))
        return [code for codes, _ in told for code in codes]


def test_two_services_share_a_budget_and_outlive_the_store():
    with Store() as store:
        limited = {"rate": 0.001, "burst": BURST, "rate_store": store.address}
        with Served(**limited) as one, Served(**limited) as two:
            codes = ask(one.port, 1)[0] + ask(two.port, 1)[0]  # the first answer reads the catalogue
            codes += ask_both((one.port, two.port), 15)
            assert sorted(codes) == [200] * BURST + [429] * (2 + 15 * THREADS * 2 - BURST)

            store.stop()
            codes, slowest = ask(one.port, BURST + 5)
            assert codes == [200] * BURST + [429] * 5, "without the store a service counts by itself"
            assert slowest < 2.0
            assert ask(two.port, BURST + 5)[0] == [200] * BURST + [429] * 5

            store.start()  # it remembers nothing: the budget is whole again
            time.sleep(PAUSE + 0.5)
            codes = ask_both((one.port, two.port), 15)
            assert sorted(codes) == [200] * BURST + [429] * (15 * THREADS * 2 - BURST)


def test_a_store_that_hangs_delays_one_answer_and_no_more():
    with Store() as store, Served(rate=0.001, burst=100, rate_store=store.address) as served:
        assert ask(served.port, 1)[0] == [200]
        store.send(signal.SIGSTOP)
        try:
            first = ask(served.port, 1)
            rest = ask(served.port, 50)
        finally:
            store.send(signal.SIGCONT)
    assert first[0] == [200]
    assert 0.5 * PATIENCE < first[1] < PATIENCE + 1.0
    assert rest[0] == [200] * 50
    assert rest[1] < 0.5 * PATIENCE


def test_a_token_comes_back_at_the_rate_and_a_full_bucket_is_forgotten():
    async def play(address):
        taker = RedisStore(address)
        try:
            first = [await taker.take("a", 20.0, 3) for _ in range(4)]
            await asyncio.sleep(0.06)
            after = await taker.take("a", 20.0, 3)
            keys = [key async for key in taker._redis.scan_iter()]
            await asyncio.sleep(1.4)
            left = [key async for key in taker._redis.scan_iter()]
            return first, after, keys, left
        finally:
            await taker.close()

    with Store() as store:
        first, after, keys, left = asyncio.run(play(store.address))
    assert [allowed for allowed, _ in first] == [True, True, True, False]
    assert after[0]
    assert len(keys) == 1
    assert keys[0].startswith(b"airbough:rate:")
    assert left == [], "it expires once it would be full"


def test_hundreds_at_once_take_no_more_than_there_is():
    async def play(address):
        takers = [RedisStore(address) for _ in range(3)]
        try:
            return await asyncio.gather(*(taker.take("a", 0.001, 50) for taker in takers for _ in range(16)))
        finally:
            for taker in takers:
                await taker.close()

    with Store() as store:
        told = [*asyncio.run(play(store.address)), *asyncio.run(play(store.address))]
    assert sum(allowed for allowed, _ in told) == 50
    assert len(told) == 96


def test_a_store_that_answers_otherwise_is_lost_and_no_fault():
    """The bucket's name holds something else: the store refuses the script."""
    with Store() as store, Served(rate=0.001, burst=5, rate_store=store.address) as served:
        assert ask(served.port, 1)[0] == [200]

        async def spoil():
            taker = RedisStore(store.address)
            async for key in taker._redis.scan_iter():
                await taker._redis.delete(key)
                await taker._redis.set(key, "strange")
            await taker.close()

        asyncio.run(spoil())
        assert ask(served.port, 6)[0] == [200] * 5 + [429]
