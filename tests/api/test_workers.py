import asyncio
import threading
import time

import httpx
import pytest

from airbough_service.api.app import create_app
from airbough_service.api.compute.workers import Workers
from airbough_service.api.document import examples
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.combined import registry
from airbough_service.core import deadline
from airbough_service.core.deadline import OutOfTimeError


def run(settings, play):
    workers = Workers(settings)
    try:
        return asyncio.run(play(workers))
    finally:
        workers.close()


def test_work_is_done_off_the_loop_and_its_result_comes_back():
    async def play(workers):
        return await workers.run(lambda: threading.current_thread().name)

    assert run(Settings(), play).startswith("computing")


def test_an_error_of_the_work_comes_back():
    async def play(workers):
        with pytest.raises(ZeroDivisionError):
            await workers.run(lambda: 1 / 0)

    run(Settings(), play)


def test_beyond_the_queue_the_caller_is_told_to_come_back():
    gate = threading.Event()

    async def play(workers):
        tasks = [asyncio.ensure_future(workers.run(lambda: gate.wait(10))) for _ in range(3)]
        await asyncio.sleep(0)
        with pytest.raises(HttpRefusal) as caught:
            await workers.run(lambda: 1)
        gate.set()
        await asyncio.gather(*tasks)
        return caught.value.kind, await workers.run(lambda: 1)

    assert run(Settings(heavy_requests=1, heavy_waiting=2), play) == ("busy", 1)


def test_after_the_limit_of_time_the_caller_is_told_and_the_thread_stays_taken_until_it_is_done():
    """Work that never asks for the time (a compiled loop) keeps its thread; the caller is told all the same."""
    gate = threading.Event()

    async def play(workers):
        with pytest.raises(OutOfTimeError):
            await workers.run(lambda: gate.wait(10))
        for _ in range(3):  # the only thread is taken still, and nobody may wait for it
            with pytest.raises(HttpRefusal) as caught:
                await workers.run(lambda: 1)
            assert caught.value.kind == "busy"
        gate.set()
        return await once_free(workers, lambda: 1)

    assert run(Settings(heavy_requests=1, heavy_waiting=0, compute_timeout=0.05), play) == 1


def test_what_waited_in_vain_leaves_the_queue():
    """Two places: one for the thread that is taken, one for a question that waits; given up, it makes room."""
    gate = threading.Event()

    async def play(workers):
        for _ in range(3):
            with pytest.raises(OutOfTimeError):
                await workers.run(lambda: gate.wait(10))
            await asyncio.sleep(0.01)
        gate.set()
        return await once_free(workers, lambda: 1)

    assert run(Settings(heavy_requests=1, heavy_waiting=1, compute_timeout=0.05), play) == 1


async def once_free(workers, work):
    """Return what `work` returns, asked again until there is a place."""
    until = time.monotonic() + 5
    while True:
        try:
            return await workers.run(work)
        except (HttpRefusal, OutOfTimeError):
            assert time.monotonic() < until
            await asyncio.sleep(0.01)


def test_work_that_asks_for_the_time_gives_its_thread_back():
    """Past the limit the loop itself gives up, so the one thread is free for the next question."""

    def endless():
        while True:
            deadline.check()

    async def play(workers):
        with pytest.raises(OutOfTimeError):
            await workers.run(endless)
        return await workers.run(lambda: 1)

    assert run(Settings(heavy_requests=1, heavy_waiting=5, compute_timeout=0.2), play) == 1


def test_health_answers_while_every_thread_computes(monkeypatch):
    """The figure for a real server under load: tests/long/test_health.py."""
    gate, solve, begun = threading.Event(), registry.answer, threading.Semaphore(0)

    def slow(name, question, **words):
        begun.release()
        assert gate.wait(20)
        return solve(name, question, **words)

    async def play():
        app = create_app(Settings(heavy_requests=2))
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
            body = examples.request("balance")
            heavy = [asyncio.ensure_future(http.post("/v1/trees/balance", json=body)) for _ in range(5)]
            try:
                await asyncio.to_thread(lambda: [begun.acquire(timeout=20) for _ in range(2)])
                taken = []
                for _ in range(10):
                    start = time.perf_counter()
                    assert (await http.get("/health/live")).status_code == 200
                    taken.append(time.perf_counter() - start)
                waiting = sum(not task.done() for task in heavy)
            finally:
                gate.set()
            return sorted(taken), waiting, {(await task).status_code for task in heavy}

    monkeypatch.setattr(registry, "answer", slow)
    taken, waiting, codes = asyncio.run(play())
    assert waiting == 5
    assert taken[5] < 0.05
    assert codes == {200}
