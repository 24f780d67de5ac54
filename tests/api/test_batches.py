import asyncio
import gc
import json
import threading
import tracemalloc

import httpx
import pytest
from litestar.testing import TestClient

from airbough_service.api.admission.batch_places import BatchPlaces
from airbough_service.api.app import create_app
from airbough_service.api.compute import answering, batches
from airbough_service.api.compute import spool as spooling
from airbough_service.api.compute.answering import Answering, Given
from airbough_service.api.compute.spool import Spool
from airbough_service.api.compute.workers import Workers
from airbough_service.api.document import examples
from airbough_service.api.problems import HttpRefusal
from airbough_service.api.settings import Settings
from airbough_service.combined import registry

PATH = "/v1/batches"
BALANCE = examples.request("balance")


def line(name, question="balance", request=BALANCE):
    return json.dumps({"id": name, "question": question, "request": request}).encode() + b"\n"


def send(client, body, content_type="application/x-ndjson"):
    return client.post(PATH, content=body, headers={"content-type": content_type})


async def post(http, body):
    return await http.post(PATH, content=body, headers={"content-type": "application/x-ndjson"})


def asked(settings, play):
    """Return what `play` returns, given a client of a service of its own that may ask several things at once."""

    async def within():
        transport = httpx.ASGITransport(create_app(settings))
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as http:
            return await play(http)

    return asyncio.run(within())


def told(answer):
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    assert answer.content.endswith(b"\n")
    *lines, counts = map(json.loads, answer.content.splitlines())
    assert counts == {
        "lines": len(lines),
        "answered": sum(result["status"] == 200 for result in lines),
        "refused": sum(result["status"] != 200 for result in lines),
    }
    return lines


def test_each_line_is_answered_as_the_question_alone_would_be(client):
    results = told(send(client, line("a") + line("b", "operating-point", examples.request("operating-point"))))
    assert [(result["id"], result["status"]) for result in results] == [("a", 200), ("b", 200)]
    assert results[0]["answer"] == client.post("/v1/trees/balance", json=BALANCE).json()


def test_answers_come_in_order_over_many_blocks(client, monkeypatch):
    monkeypatch.setattr(batches, "BLOCK_LINES", 7)
    names = [str(index) for index in range(100)]
    assert [result["id"] for result in told(send(client, b"".join(map(line, names))))] == names


def test_a_bad_line_is_answered_in_its_place(client):
    bad = [
        b"{\n",
        b"\xff\n",
        b"[]\n",
        line("unknown", "guess"),
        line("get", "air"),
        line("schema", request={"units": "us"}),
        line("range", request=BALANCE | {"air": {"temperature": 9999}}),
        line("twice").replace(b'"units": "us"', b'"units": "us", "units": "us"'),
        b'{"id": 7, "question": "balance", "request": {}}\n',
        b'{"id": "more", "question": "balance", "request": {}, "colour": "red"}\n',
    ]
    results = told(send(client, line("first") + b"".join(bad) + line("last")))
    assert [result["status"] for result in results] == [200, 400, 400, 400, 422, 422, 400, 400, 400, 400, 400, 200]
    assert [result["id"] for result in results] == [
        "first", None, None, None, "unknown", "get", "schema", "range", "twice", None, "more", "last",
    ]  # fmt: skip
    assert [result["line"] for result in results if result["id"] is None] == [2, 3, 4, 10]
    assert all("answer" not in result for result in results[1:-1])
    assert results[6]["problem"]["errors"][0]["path"] == "runs"


def test_blank_lines_and_a_missing_last_newline_do_no_harm(client):
    results = told(send(client, b"\n\n" + line("a") + b"  \n" * 500 + line("b").strip()))
    assert [result["id"] for result in results] == ["a", "b"]
    assert told(send(client, b"")) == []


def test_a_fault_of_the_service_spoils_one_line_only(client, monkeypatch):
    answer = registry.answer

    def fail(name, request, **words):
        if request.name == "bad":
            raise ZeroDivisionError("secret")
        return answer(name, request, **words)

    monkeypatch.setattr(registry, "answer", fail)
    results = told(send(client, line("a") + line("b", request=BALANCE | {"name": "bad"}) + line("c")))
    assert [result["status"] for result in results] == [200, 500, 200]
    assert "secret" not in json.dumps(results)


@pytest.mark.parametrize("content_type", ["application/json", "text/plain", ""])
def test_a_body_that_does_not_say_ndjson_is_refused(client, content_type):
    answer = send(client, line("a"), content_type)
    assert answer.status_code == 415
    assert answer.headers["accept"] == "application/x-ndjson"


def test_too_many_lines_and_too_long_a_line_are_refused():
    with TestClient(create_app(Settings(batch_lines_limit=3, body_limit=5_000, batch_body_limit=50_000))) as small:
        assert send(small, line("a") * 4).status_code == 413
        assert send(small, b" " * 60_000).status_code == 413
        long = line("long", request=BALANCE | {"name": "x" * 9_000})
        results = told(send(small, line("a") + long + line("c")))
        assert [result["status"] for result in results] == [200, 413, 200]


def test_more_batches_at_once_than_allowed_are_told_to_wait(monkeypatch):
    """The second comes while the first is being answered; after it there is a place again."""
    begun, gate, solve = threading.Event(), threading.Event(), registry.answer

    def slow(name, question, **words):
        begun.set()
        assert gate.wait(60)
        return solve(name, question, **words)

    async def play(http):
        first = asyncio.ensure_future(post(http, line("a")))
        try:
            assert await asyncio.to_thread(begun.wait, 60)
            second = await post(http, line("b"))
        finally:
            gate.set()
        return await first, second, await post(http, line("c"))

    monkeypatch.setattr(registry, "answer", slow)
    first, second, third = asked(Settings(batches=1), play)
    assert [result["status"] for result in told(first) + told(third)] == [200, 200]
    assert second.status_code == 503
    assert second.json()["type"] == "/problems/busy"
    assert int(second.headers["retry-after"]) > 0


def test_memory_stays_flat_however_long_the_batch():
    class Uploaded:
        def __init__(self, lines):
            self._lines = lines

        async def stream(self):
            for _ in range(self._lines):
                yield b'{"id": "a", "question": "balance", "request": {}}\n'

    async def peak(lines):
        settings = Settings()
        body = Spool(settings, BatchPlaces(settings))
        batch, workers = batches.Batch("x", body, Answering(settings)), Workers(settings)
        await body.receive(Uploaded(lines).stream())
        gc.collect()
        size = 0
        tracemalloc.start()
        async for block in batch.answers(workers, "a", free):
            size += len(block)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        body.close()
        workers.close()
        return most, size

    async def free(_):
        """Take nothing from any budget."""

    asyncio.run(peak(1_000))  # fills the caches
    most, size = asyncio.run(peak(12_000))
    assert size > 3_500_000
    assert most < 800_000


@pytest.mark.parametrize("pieces", [[b"x" * 300_000], [b"x"], [b"x" * 300_000, b"x"]], ids=["large", "small", "both"])
def test_a_disk_without_room_is_busy_whenever_it_says_so(monkeypatch, pieces):
    """A file of Linux that is always full tells so when its buffer is emptied: at a write, a turn back or its end."""

    async def stream():
        for piece in pieces:
            yield piece

    monkeypatch.setattr(spooling, "SpooledTemporaryFile", lambda max_size: open("/dev/full", "r+b"))  # noqa: SIM115
    settings = Settings()
    places = BatchPlaces(settings)
    body = Spool(settings, places)
    with pytest.raises(HttpRefusal) as caught:
        asyncio.run(body.receive(stream()))
    body.close()
    assert caught.value.kind == "busy"
    places.fill(settings.batches * settings.batch_body_limit)  # all the room is there again


def test_other_questions_are_answered_while_a_batch_of_slow_lines_runs(monkeypatch):
    """One thread: a question that comes while it computes a line waits neither for the rest nor for that line."""
    begun, gate, order, solve = threading.Event(), threading.Event(), [], registry.answer

    def slow(name, question, **words):
        order.append(name)
        if len(order) == 1:
            begun.set()
            assert gate.wait(60)
        return solve(name, question, **words)

    async def play(http):
        whole = asyncio.ensure_future(post(http, b"".join(line(str(number)) for number in range(12))))
        assert await asyncio.to_thread(begun.wait, 60)
        other = await http.post("/v1/trees/operating-point", json=examples.request("operating-point"))
        gate.set()
        return await whole, other

    monkeypatch.setattr(registry, "answer", slow)
    whole, other = asked(Settings(heavy_requests=1), play)
    assert len(told(whole)) == 12
    assert other.status_code == 200
    assert order == ["balance", "operating-point", *11 * ["balance"]]


@pytest.mark.parametrize(("seconds", "lines"), [(0.0, 1), (3600.0, 3)])
def test_lines_are_answered_in_one_turn_as_long_as_its_time_lasts_and_at_least_one(monkeypatch, seconds, lines):
    monkeypatch.setattr(answering, "SECONDS", seconds)
    given = [Given(number, line(f"line {number}").strip()) for number in (1, 2, 3)]
    assert Answering(Settings()).some(given, "an-id").lines == lines
