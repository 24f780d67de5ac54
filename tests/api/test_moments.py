"""Questions answered on the event loop: only alone, only those of a moment, and never for long."""

import asyncio
import threading
import time

import httpx
import pytest

from airbough.wire.balance import BalanceRequest
from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.api.app import create_app
from airbough_service.api.compute import moments
from airbough_service.api.document import examples
from airbough_service.api.http import body as decoding
from airbough_service.api.http import respond
from airbough_service.api.settings import Settings
from airbough_service.combined import registry
from airbough_service.core import deadline

PATH = "/v1/trees/balance"


def answered_in(monkeypatch, bodies, before=lambda: None):
    """Return the threads in which balances asked together are answered, and the codes told."""
    solve, threads = registry.answer, []

    def noted(name, question, **words):
        threads.append(threading.current_thread())
        before()
        return solve(name, question, **words)

    async def play():
        transport = httpx.ASGITransport(create_app(Settings()))
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
            replies = await asyncio.gather(*(http.post(PATH, json=body) for body in bodies))
        return [reply.status_code for reply in replies]

    monkeypatch.setattr(registry, "answer", noted)
    codes = asyncio.run(play())
    return [thread is threading.main_thread() for thread in threads], codes


def test_a_question_asked_alone_is_answered_on_the_loop_and_others_are_not(monkeypatch):
    plain = examples.request("balance")
    monkeypatch.setattr(moments, "SECONDS", 60.0)  # a first answer reads its tables
    assert answered_in(monkeypatch, [plain]) == ([True], [200])
    monkeypatch.undo()
    assert answered_in(monkeypatch, [plain | {"explain": True}]) == ([False], [200])


def test_what_takes_longer_than_a_moment_is_begun_again_in_a_thread(monkeypatch):
    def slow():
        if threading.current_thread() is threading.main_thread():
            for _ in range(1_000):
                time.sleep(0.001)
                deadline.check()

    assert answered_in(monkeypatch, [examples.request("balance")], slow) == ([True, False], [200])


def test_with_another_question_under_way_none_is_answered_on_the_loop():
    workers = type("Idle", (), {"idle": True, "seconds": 1.0})()
    own = moments.Moments(workers)
    with own.asked():
        assert own.at_leisure
        with own.asked():
            assert not own.at_leisure
        assert own.at_leisure
        workers.idle = False
        assert not own.at_leisure


def test_limits_of_the_server_hold_on_the_loop_too():
    async def play():
        transport = httpx.ASGITransport(create_app(Settings(runs_limit=2)))
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
            return (await http.post(PATH, json=examples.request("balance"))).status_code

    assert asyncio.run(play()) == 413


@pytest.mark.parametrize(
    ("name", "wanted", "more"),
    [
        ("balance", BalanceRequest, {"explain": True}),
        ("balance", BalanceRequest, {"resolved": True}),
        ("balance", BalanceRequest, {"uncertainty": {"samples": 50}}),
        ("operating-point", OperatingPointRequest, {"advice": True}),
    ],
)
def test_what_is_asked_beside_a_state_takes_longer_than_a_moment(name, wanted, more):
    plain = examples.request(name)
    assert moments.takes_a_moment(decoding.convert(plain, wanted))
    assert not moments.takes_a_moment(decoding.convert(plain | more, wanted))


def test_a_body_that_needs_a_closer_look_gets_it_in_a_thread():
    for body in (b"", b"{", b'{"units": "us", "units": "us", "runs": []}', b"\xff", b"[" * 5000):
        assert decoding.at_first_sight(body, BalanceRequest) is None


def test_no_look_up_is_answered_on_the_loop(monkeypatch):
    answer, threads = respond.answer_get, []

    def noted(*given):
        threads.append(threading.current_thread() is threading.main_thread())
        return answer(*given)

    async def play():
        transport = httpx.ASGITransport(create_app(Settings()))
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
            return [(await http.get(path)).status_code for path in ("/v1/air?units=us", "/v1/dusts?units=us")]

    monkeypatch.setattr(respond, "answer_get", noted)
    assert asyncio.run(play()) == [200, 200]
    assert threads == [False, False]
