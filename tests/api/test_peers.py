"""One batch by all workers of a server: in order, each id once, and whole though a worker goes."""

import asyncio
import contextlib
import http.client
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from airbough_service.api.admission.batch_places import BatchPlaces
from airbough_service.api.compute import batches, peers
from airbough_service.api.compute.answering import Answering, Answers
from airbough_service.api.compute.batches import Batch, HandLostError
from airbough_service.api.compute.peers import Peers
from airbough_service.api.compute.spool import Spool
from airbough_service.api.compute.workers import Workers
from airbough_service.api.document import examples
from airbough_service.api.settings import Settings
from serving import children, have_all_compiled

TRAVERSE = {"units": "us", "diameter": 6}


def line(name, question="traverse", request=TRAVERSE):
    return json.dumps({"id": name, "question": question, "request": request}).encode() + b"\n"


async def spend(_):
    """Take nothing from any budget."""


async def whole(body, others_of):
    """Return the lines that answer a batch; `others_of` gives the other hands from answering and workers."""
    settings = Settings()
    spool, workers, answering = Spool(settings, BatchPlaces(settings)), Workers(settings), Answering(settings)

    async def stream():
        yield body

    await spool.receive(stream())
    batch = Batch("an-id", spool, answering)
    try:
        async with others_of(answering, workers) as others:
            pieces = [piece async for piece in batch.answers(workers, "caller", spend, others)]
    finally:
        spool.close()
        workers.close()
    return list(map(json.loads, b"".join(pieces).splitlines()))


class Given:
    """Other hands that are functions."""

    def __init__(self, *hands):
        self.hands = hands

    def __call__(self, answering, workers):
        self.answering = answering
        return self

    async def __aenter__(self):
        return [lambda lines, hand=hand: hand(self.answering, lines) for hand in self.hands]

    async def __aexit__(self, *_):
        """Leave nothing behind."""


def test_answers_of_a_slow_and_a_fast_hand_leave_in_order(monkeypatch):
    monkeypatch.setattr(batches, "BLOCK_LINES", 3)
    asked_of = []

    async def slow(answering, lines):
        await asyncio.sleep(0.02)
        asked_of.append(len(lines))
        return answering.some(lines[:2], "an-id")  # a part of them; it is asked again for the rest

    names = [str(number) for number in range(100)]
    *told, counts = asyncio.run(whole(b"".join(map(line, names)), Given(slow)))
    assert [result["id"] for result in told] == names
    assert counts == {"lines": 100, "answered": 100, "refused": 0}
    assert {3, 1} <= set(asked_of)


def test_what_a_lost_hand_had_not_answered_is_answered_here(monkeypatch):
    monkeypatch.setattr(batches, "BLOCK_LINES", 4)
    calls = []

    async def dies(answering, lines):
        calls.append([given.number for given in lines])
        if len(calls) == 2:
            raise HandLostError
        return answering.some(lines[:1], "an-id")

    names = [str(number) for number in range(40)]
    *told, counts = asyncio.run(whole(b"".join(map(line, names)), Given(dies)))
    assert [result["id"] for result in told] == names
    assert counts["answered"] == 40
    assert len(calls) == 2
    assert calls[1] == calls[0][1:]


def test_a_fault_in_another_hand_ends_the_batch_and_hangs_nobody():
    async def broken(answering, lines):
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        asyncio.run(asyncio.wait_for(whole(b"".join(line(str(number)) for number in range(200)), Given(broken)), 60))


def test_two_workers_over_their_sockets(tmp_path):
    """The lines with a repeated id and without JSON are told in their places, whichever worker has them.

    This one waits until the other has answered a third; that may go ahead so far.
    """

    class Over:
        def __call__(self, answering, workers):
            self.here = Peers(tmp_path, answering, workers, lambda: True)
            self.there = Peers(tmp_path, answering, Workers(Settings()), lambda: True)
            self.enough, run_batch = asyncio.Event(), workers.run_batch

            async def held(*given):
                await asyncio.wait_for(self.enough.wait(), 60)
                return await run_batch(*given)

            workers.run_batch = held
            return self

        async def __aenter__(self):
            await self.here.listen()
            self.there._own = "other.socket"
            self.there._server = await asyncio.start_unix_server(self.there._serve, tmp_path / "other.socket")
            others = self.here.others("an-id", "caller")
            self.peer, self.by_other = others[0], 0
            assert len(others) == 2
            return [self.counted]

        async def counted(self, lines):
            some = await self.peer(lines)
            self.by_other += some.lines
            if self.by_other >= 40:
                self.enough.set()
            return some

        async def __aexit__(self, *_):
            assert self.by_other >= 40
            self.peer.close()
            await self.here.close()
            await self.there.close()
            self.there.workers.close()
            assert list(tmp_path.iterdir()) == []

    names = [str(number) for number in range(120)]
    body = [line(name) for name in names]
    body[70], body[71] = line("3"), b"{\n"
    *told, counts = asyncio.run(whole(b"".join(body), Over()))
    assert [result["id"] for result in told] == [*names[:70], "3", None, *names[72:]]
    assert (told[70]["status"], told[71]["status"], told[71]["line"]) == (400, 400, 72)
    assert counts == {"lines": 120, "answered": 118, "refused": 2}


def test_a_worker_that_hangs_is_left_and_one_that_takes_long_is_not(tmp_path, monkeypatch):
    """The first takes what is sent and says nothing; the second computes for longer than a silence may last."""
    monkeypatch.setattr(peers, "_SILENCE", 2.0)
    monkeypatch.setattr(peers, "_SIGN", 0.1)

    async def hangs(reader, writer):
        with contextlib.suppress(asyncio.IncompleteReadError), contextlib.closing(writer):
            while True:
                await reader.readexactly(1)

    class Slow:
        def some(self, lines, instance):
            time.sleep(3.0)
            return Answers(b"late\n", 1, 0)

    async def both():
        workers = Workers(Settings())
        slow = Peers(tmp_path, Slow(), workers, lambda: True)
        async with (
            await asyncio.start_unix_server(hangs, tmp_path / "hangs.socket"),
            await asyncio.start_unix_server(slow._serve, tmp_path / "slow.socket"),
        ):
            silent = peers.Peer(tmp_path / "hangs.socket", "an-id", "caller")
            with pytest.raises(HandLostError):
                await asyncio.wait_for(silent([]), 60)
            alive = peers.Peer(tmp_path / "slow.socket", "an-id", "caller")
            assert (await alive([])).text == b"late\n"
            silent.close()
            alive.close()
            async with asyncio.timeout(60):
                while len(asyncio.all_tasks()) > 1:  # until both sides have closed
                    await asyncio.sleep(0.01)
        workers.close()

    asyncio.run(both())


@pytest.fixture
def short():
    """A folder whose name is short: a socket's address has about a hundred letters at most."""
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)


def test_a_server_of_two_workers_spends_both_on_one_batch(short):
    """Of several batches one: how much each has of it is the machine's to say too, whatever else it does."""
    program = [sys.executable, "-m", "airbough_service", "--port", "0", "--workers", "2"]
    kept = {name: text for name, text in os.environ.items() if not name.startswith("AIRBOUGH_")}
    environment = kept | {"TMPDIR": str(short), "PATH": "", "AIRBOUGH_LOG_LEVEL": "error"}
    have_all_compiled()
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True, env=environment) as server:
        try:
            port = int(server.stdout.readline().split(":")[2].split()[0])
            until = time.monotonic() + 120
            while len(list(short.glob("airbough-workers-*/*.socket"))) < 2:
                assert time.monotonic() < until
                time.sleep(0.1)
            workers = children(server.pid)
            assert len(workers) == 2
            assert any(shared(port, workers) > 0.25 for _ in range(5))
        finally:
            server.send_signal(signal.SIGTERM)
    assert list(short.iterdir()) == []


def shared(port, workers):
    """Ask a batch; return how much of the busiest worker's time the least busy one has spent on it."""
    before = [spent(pid) for pid in workers]
    names = [str(number) for number in range(400)]
    asked = examples.request("operating-point")
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    headers = {"Content-Type": "application/x-ndjson"}
    body = b"".join(line(name, "operating-point", asked) for name in names)
    connection.request("POST", "/v1/batches", body=body, headers=headers)
    *told, counts = connection.getresponse().read().splitlines()
    connection.close()
    assert [json.loads(result)["id"] for result in told] == names
    assert json.loads(counts) == {"lines": 400, "answered": 400, "refused": 0}
    each = [spent(pid) - had for pid, had in zip(workers, before, strict=True)]
    return min(each) / max(each)


def spent(pid):
    """Return a process's processor time so far, s."""
    with open(f"/proc/{pid}/stat") as told:
        fields = told.read().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / 100.0
