"""Questions that take longer than the limit: told in time, and the thread is free again.

Both are judged by the time that this process computes: how long it waits for a processor is the machine's affair.
"""

import asyncio
import json
import sys
import time

import pytest
from litestar.testing import TestClient

import heavy
from airbough.calls import CALLS
from airbough_service.api.app import create_app
from airbough_service.api.compute.workers import Workers
from airbough_service.api.http import respond
from airbough_service.api.settings import Settings
from airbough_service.core.deadline import OutOfTimeError
from airbough_service.core.warm import warm

LIMIT = 0.3
SOON = 0.05  # a limit that each of the questions below passes on any machine
SECONDS = 6.0  # of computing after which caller and thread are free; some tenths ordinarily, at most 1.2
OPENED = {"open": ["h0", "h1"]}
READINGS = [{"quantity": "flow", "run": f"h{number}", "value": 90 + number} for number in range(15)]
SIZED = heavy.BASE | {"runs": heavy.comb(60), "stock": heavy.sizing_stock(4, 5, 6, 7, 8)}
COMBS = {size: heavy.comb(size) for size in (60, 4_000)}
SHUT = heavy.BASE | {"runs": heavy.comb(60, 0)}
ALL_STATES = [{"name": f"s{number}", "open": [f"h{number}"]} for number in range(20)]
MORE_STATES = [{"name": f"s{number}", "open": [f"h{number}"]} for number in range(100)]

LONGEST = SIZED | {"runs": heavy.comb(300), "flows": "fan", "states": ALL_STATES}
"""A sizing that takes nine times `LIMIT` on a machine with nothing else to do."""

QUESTIONS = {
    "operating-point": heavy.WAVY | {"runs": heavy.chain(9_000)},
    "balance by flow": heavy.BASE | {"runs": heavy.comb(4_500, flow=1), "by": "flow", "correction": "exact"},
    "gate-states": SHUT | {"up_to": 3},
    "gate-states searched": heavy.WAVY | {"runs": heavy.comb(30, 0), "up_to": 3},
    "gate-states fixed": heavy.WAVY | {"runs": heavy.comb(40, 0), "states": ALL_STATES},
    "uncertainty": heavy.WAVY | {"runs": heavy.comb(60), "uncertainty": {"samples": 700}},
    "uncertainty of balance": heavy.BASE
    | {"runs": heavy.comb(60, flow=20), "by": "flow", "uncertainty": {"samples": 800}},
    "explanation": heavy.BASE | {"runs": heavy.chain(9_000), "explain": True},
    "sizing": SIZED | {"flows": "fan", "states": ALL_STATES},
    "sizing without a choice": SIZED
    | {"rules": {"pressure_available": "must", "no_narrowing": "must"}, "limits": {"pressure_available": 0.1}},
    "diagnosis": heavy.WAVY | {"runs": heavy.comb(60), "readings": READINGS, "state": OPENED},
    "working-day": heavy.WAVY | {"runs": heavy.comb(60, 0)} | heavy.day(80, [f"h{number}" for number in range(60)]),
    "compare": {"units": "us"} | dict.fromkeys(("before", "after"), heavy.BASE | {"runs": heavy.chain(9_000)}),
    "strength": heavy.WAVY | {"runs": heavy.comb(900, 0), "states": MORE_STATES},
    "parts-list": heavy.BASE | {"runs": heavy.odd_lengths(COMBS[4_000]), "stock": heavy.pipes()},
    "drawing": heavy.WAVY | {"runs": heavy.comb(950), "of": "tree", "states": [{"name": "two", **OPENED}]},
}


def call(question):
    named = [one for one in CALLS if question.startswith(one.name)]
    return max(named, key=lambda one: len(one.name), default=BY_NAME["operating-point"])


BY_NAME = {one.name: one for one in CALLS}
OTHERWISE = {"uncertainty of balance": BY_NAME["balance"]}


@pytest.fixture(scope="module", autouse=True)
def _warm():
    warm()


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_long_question_is_given_up_and_its_thread_is_free_again(question):
    body, asked = json.dumps(QUESTIONS[question]).encode(), OTHERWISE.get(question) or call(question)
    settings = Settings(compute_timeout=SOON, heavy_requests=1)

    async def play(workers):
        start = time.process_time()
        with pytest.raises(OutOfTimeError):
            await workers.run(lambda: respond.answer_body(body, asked, settings))
        told = time.process_time() - start
        await workers.run_batch(lambda: None, "another", object())  # a batch begins on a free thread alone
        return told, time.process_time() - start

    workers = Workers(settings)
    try:
        told, free = asyncio.run(play(workers))
    finally:
        workers.close()
    sys.stdout.write(f"{question}: told after {told:.2f} s, thread free after {free:.2f} s\n")
    assert told <= free < SECONDS


def test_the_caller_is_told_503_and_when_to_come_back():
    with TestClient(create_app(Settings(compute_timeout=LIMIT, heavy_requests=1))) as client:
        answer = client.post("/v1/trees/sizing", json=LONGEST)
        assert (answer.status_code, answer.json()["type"]) == (503, "/problems/took-too-long")
        assert int(answer.headers["retry-after"]) > 0
        light = heavy.BASE | {"runs": heavy.chain(2)}
        until = time.monotonic() + 60  # on a busy machine a light one, too, may once take as long as that
        while client.post("/v1/trees/operating-point", json=light).status_code != 200:
            assert time.monotonic() < until


def test_a_long_line_of_a_batch_is_given_up_alone():
    lines = [
        {"id": "long", "question": "sizing", "request": LONGEST},
        {"id": "short", "question": "operating-point", "request": heavy.BASE | {"runs": heavy.chain(2)}},
    ]
    body = "\n".join(map(json.dumps, lines))
    with TestClient(create_app(Settings(compute_timeout=LIMIT))) as client:
        answer = client.post("/v1/batches", content=body, headers={"Content-Type": "application/x-ndjson"})
    told = [json.loads(line) for line in answer.text.splitlines()]
    assert [(line["id"], line["status"]) for line in told[:-1]] == [("long", 503), ("short", 200)]
    assert (told[-1]["lines"], told[-1]["answered"], told[-1]["refused"]) == (2, 1, 1)
