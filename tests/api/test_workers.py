import asyncio
import gc
import threading
import time
import weakref

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
        tasks = [asyncio.ensure_future(workers.run(lambda: gate.wait(60))) for _ in range(3)]
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
        for _ in range(2):  # the ordinary thread, then the one for callers who have nothing under way
            with pytest.raises(OutOfTimeError):
                await workers.run(lambda: gate.wait(60))
        for _ in range(3):  # both are taken still, and nobody may wait for them
            with pytest.raises(HttpRefusal) as caught:
                await workers.run(lambda: 1)
            assert caught.value.kind == "busy"
        gate.set()
        return await once_free(workers, lambda: 1)

    assert run(Settings(heavy_requests=1, heavy_waiting=0, compute_timeout=0.05), play) == 1


def test_what_waited_in_vain_leaves_the_queue_and_was_busy_not_too_long():
    """One place to wait in; a question whose turn does not come is told to come back, and makes room for the next."""
    gate = threading.Event()

    async def play(workers):
        for _ in range(2):
            with pytest.raises(OutOfTimeError):
                await workers.run(lambda: gate.wait(60))
        for _ in range(3):
            with pytest.raises(HttpRefusal) as caught:
                await workers.run(lambda: 1)
            assert caught.value.kind == "busy"
            assert "did not come" in caught.value.detail
        gate.set()
        return await once_free(workers, lambda: 1)

    assert run(Settings(heavy_requests=1, heavy_waiting=1, compute_timeout=0.05), play) == 1


def test_what_nobody_waits_for_is_neither_begun_nor_finished():
    """A caller leaves in the queue: not computed. A caller leaves while it is computed: its loops give up."""
    begun, ended, done = threading.Event(), threading.Event(), []

    def endless():
        begun.set()
        try:
            while True:
                deadline.check()
        finally:
            ended.set()

    async def play(workers):
        at_work = asyncio.ensure_future(workers.run(endless))
        waiting = [asyncio.ensure_future(workers.run(lambda: done.append(1))) for _ in range(5)]
        assert await asyncio.to_thread(begun.wait, 60)
        for task in waiting:
            task.cancel()
        await asyncio.wait(waiting)
        at_work.cancel()
        assert await asyncio.to_thread(ended.wait, 60)
        return await once_free(workers, lambda: "next")

    assert run(Settings(heavy_requests=1, compute_timeout=60.0), play) == "next"
    assert done == []


@pytest.mark.parametrize("leaves", [True, False], ids=["a caller who leaves", "a question that fails"])
def test_what_was_computed_until_then_is_let_go_at_once(leaves):
    """Large arrays are few objects: a collector of circles, which counts objects, comes after gigabytes of them."""
    begun, kept = threading.Event(), []

    class Large:
        """What a question computes with."""

    def heavy():
        large = Large()
        kept.append(weakref.ref(large))
        begun.set()
        while leaves:
            deadline.check()
        try:
            raise ValueError
        except ValueError:
            raise ZeroDivisionError from None

    async def play(workers):
        asked = asyncio.ensure_future(workers.run(heavy))
        assert await asyncio.to_thread(begun.wait, 60)
        if leaves:
            asked.cancel()
        with pytest.raises(asyncio.CancelledError if leaves else ZeroDivisionError):
            await asked
        del asked
        await once_free(workers, lambda: None)
        until = time.monotonic() + 60
        while kept[0]() is not None and time.monotonic() < until:
            await asyncio.sleep(0.02)
        return kept[0]()

    gc.collect()
    gc.disable()
    try:
        assert run(Settings(heavy_requests=1), play) is None
    finally:
        gc.enable()


def test_somebody_with_nothing_under_way_does_not_wait_for_others():
    """One ordinary thread, held by a batch and wanted by nine of another caller: a light question passes them all."""
    gate, begun = threading.Event(), threading.Event()

    def hold():
        begun.set()
        return gate.wait(60)

    async def play(workers):
        batches = [asyncio.ensure_future(workers.run_batch(hold, "a", object())) for _ in range(4)]
        assert await asyncio.to_thread(begun.wait, 60)
        assert await workers.run(lambda: "light", "a") == "light"
        heavy = [asyncio.ensure_future(workers.run(hold, "b")) for _ in range(9)]
        gate.set()
        await asyncio.gather(*batches, *heavy)

    run(Settings(heavy_requests=1), play)


def test_callers_take_turns_however_many_questions_one_of_them_has():
    """One thread and no other: ten of one caller wait, then one each of two others; those come next."""
    order, gate = [], threading.Event()

    async def play(workers):
        start = workers._turns._start

        def noted(work):  # here, and not in the threads, of which one may be held up
            order.append(work.turn.caller)
            return start(work)

        workers._turns._start = noted
        first = asyncio.ensure_future(workers.run(lambda: gate.wait(60), "a"))
        also = asyncio.ensure_future(workers.run(lambda: gate.wait(60), "z"))  # takes the thread kept for newcomers
        many = [asyncio.ensure_future(workers.run(lambda: 1, "a")) for _ in range(10)]
        others = [asyncio.ensure_future(workers.run(lambda: 1, name)) for name in "bc"]
        await asyncio.sleep(0)
        gate.set()
        await asyncio.gather(first, also, *many, *others)

    run(Settings(heavy_requests=1), play)
    assert order == [*"azbc", *10 * "a"]


def test_where_the_queue_is_full_the_caller_with_most_in_it_makes_room():
    gate = threading.Event()

    async def play(workers):
        held = [asyncio.ensure_future(workers.run(lambda: gate.wait(60), name)) for name in ("x", "y")]
        flood = [asyncio.ensure_future(workers.run(lambda: "flood", "a")) for _ in range(4)]
        await asyncio.sleep(0)
        with pytest.raises(HttpRefusal):  # a fifth of the same is turned away
            await workers.run(lambda: 1, "a")
        other = asyncio.ensure_future(workers.run(lambda: "other", "b"))
        await asyncio.sleep(0)
        gate.set()
        await asyncio.gather(*held)
        return [getattr(one, "kind", one) for one in await asyncio.gather(other, *flood, return_exceptions=True)]

    assert run(Settings(heavy_requests=1, heavy_waiting=4), play) == ["other", "flood", "flood", "flood", "busy"]


async def once_free(workers, work):
    """Return what `work` returns, asked again until there is a place."""
    until = time.monotonic() + 60
    while True:
        try:
            return await workers.run(work)
        except (HttpRefusal, OutOfTimeError):
            assert time.monotonic() < until
            await asyncio.sleep(0.01)


def test_work_that_asks_for_the_time_gives_its_thread_back():
    """Past the limit the loop itself gives up, so the one thread is free for the next, a batch: it has no other."""

    def endless():
        while True:
            deadline.check()

    async def play(workers):
        with pytest.raises(OutOfTimeError):
            await workers.run(endless)
        return await asyncio.wait_for(workers.run_batch(lambda: 1, "another", object()), 60)

    assert run(Settings(heavy_requests=1, heavy_waiting=5, compute_timeout=0.2), play) == 1


def test_health_answers_while_every_thread_computes(monkeypatch):
    """The figure for a real server under load: tests/long/test_health.py."""
    gate, solve, begun = threading.Event(), registry.answer, threading.Semaphore(0)

    def slow(name, question, **words):
        begun.release()
        assert gate.wait(60)
        return solve(name, question, **words)

    async def play():
        app = create_app(Settings(heavy_requests=2))
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
            body = examples.request("balance") | {"explain": True}  # without, it would be answered on the loop
            heavy = [asyncio.ensure_future(http.post("/v1/trees/balance", json=body)) for _ in range(5)]
            try:
                await asyncio.to_thread(lambda: [begun.acquire(timeout=60) for _ in range(2)])
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
    assert taken[0] < 0.05
    assert codes == {200}
