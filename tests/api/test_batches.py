import asyncio
import gc
import json
import tracemalloc

import pytest
from litestar.testing import TestClient

from airbough_service.api.app import create_app
from airbough_service.api.compute import batches
from airbough_service.api.compute.workers import Workers
from airbough_service.api.document import examples
from airbough_service.api.settings import Settings
from airbough_service.combined import registry

PATH = "/v1/batches"
BALANCE = examples.request("balance")


def line(name, question="balance", request=BALANCE):
    return json.dumps({"id": name, "question": question, "request": request}).encode() + b"\n"


def send(client, body, content_type="application/x-ndjson"):
    return client.post(PATH, content=body, headers={"content-type": content_type})


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


def test_more_batches_at_once_than_allowed_are_told_to_wait():
    with TestClient(create_app(Settings(batches=0))) as full:
        answer = send(full, line("a"))
        assert answer.status_code == 503
        assert int(answer.headers["retry-after"]) > 0


def test_memory_stays_flat_however_long_the_batch():
    async def peak(lines):
        batch, workers = batches.Batch(Settings(), "x"), Workers(Settings())
        for _ in range(lines):
            batch._body.write(b'{"id": "a", "question": "balance", "request": {}}\n')
        batch._body.seek(0)
        gc.collect()
        size = 0
        tracemalloc.start()
        async for block in batch.answers(workers):
            size += len(block)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        workers.close()
        return most, size

    asyncio.run(peak(1_000))  # fills the caches
    most, size = asyncio.run(peak(12_000))
    assert size > 3_500_000
    assert most < 800_000


def test_other_questions_are_answered_while_a_batch_runs():
    async def play():
        workers = Workers(Settings(heavy_requests=1))
        batch = batches.Batch(Settings(), "x")
        for _ in range(3_000):
            batch._body.write(b'{"id": "a", "question": "balance", "request": {}}\n')
        batch._body.seek(0)
        order = []

        async def whole():
            async for _ in batch.answers(workers):
                pass
            order.append("batch")

        async def other():
            await workers.run(lambda: None)
            order.append("other")

        await asyncio.gather(whole(), other())
        workers.close()
        return order

    assert asyncio.run(play()) == ["other", "batch"]
