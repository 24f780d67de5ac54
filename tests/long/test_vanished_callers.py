"""Callers who stall, vanish at any moment, flood without a key, or fill the disk: others notice nothing of it.

Latency beside stalled and heavy work: test_admission.py. One of each kind, quickly: tests/api/test_connections.py.
"""

import http.client
import json
import os
import random
import resource
import socket
import struct
import threading
import time

import pytest

from airbough_service.api.admission.keys import digest
from airbough_service.api.document import examples
from heavy import hoods_along_a_main
from serving import Served, family

pytestmark = pytest.mark.long
KEY = "the-only-key"
LIGHT = json.dumps(examples.request("operating-point")).encode()
HEAVY = json.dumps(hoods_along_a_main(33)).encode()
LINE = f'{{"id": "%d", "question": "drawing", "request": {json.dumps(examples.request("drawing"))}}}\n'
BATCH = "".join(LINE % number for number in range(400)).encode()
VANISHING = 400
ROOM = 2_000_000


@pytest.fixture(scope="module", params=[1, 2], ids=["one worker", "two workers"])
def served(request, tmp_path_factory):
    keys = tmp_path_factory.mktemp("keys") / "keys"
    keys.write_text(f"mine {digest(KEY)}\n")
    settings = {"read_timeout": 3.0, "write_timeout": 3.0, "rate": 50, "burst": 100_000, "batches": 8}
    with Served(workers=request.param, keys_file=keys, **settings) as running:
        yield running


def head(path, length, kind="application/json", key=KEY):
    allowed = f"Authorization: Bearer {key}\r\n" if key else ""
    return (
        f"POST {path} HTTP/1.1\r\nHost: x\r\n{allowed}Content-Type: {kind}\r\nContent-Length: {length}\r\n\r\n"
    ).encode()


def ask(served, method, path, body=None, key=KEY, kind="application/json", source="127.0.0.1"):
    """Return status, problem or answer as text, and seconds."""
    start = time.monotonic()
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60, source_address=(source, 0))
    try:
        allowed = {"Authorization": f"Bearer {key}"} if key else {}
        connection.request(method, path, body, {"Content-Type": kind} | allowed)
        answer = connection.getresponse()
        return answer.status, answer.read(), time.monotonic() - start
    finally:
        connection.close()


class Other:
    """A caller of light questions meanwhile; `with` ends him."""

    def __init__(self, served):
        self._served, self._ended = served, threading.Event()
        self._thread = threading.Thread(target=self._call)
        self.statuses, self.seconds = [], []

    def _call(self):
        while not self._ended.wait(0.02):
            status, _, seconds = ask(self._served, "POST", "/v1/trees/operating-point", LIGHT)
            self.statuses.append(status)
            self.seconds.append(seconds)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._ended.set()
        self._thread.join(60)

    def told(self, of):
        taken = sorted(self.seconds)
        at = ", ".join(f"{share} % {1e3 * taken[len(taken) * share // 100]:.0f} ms" for share in (50, 95, 99))
        print(f"{of}; another caller asked {len(taken)} times: {at}, worst {1e3 * taken[-1]:.0f} ms; "
              f"load {os.getloadavg()[0]:.0f}")  # fmt: skip


def files(served):
    return sum(len(os.listdir(f"/proc/{number}/fd")) for number in family(served.process.pid))


def gone(connection, *, abruptly):
    """Close a connection; abruptly: by a reset, as of a machine that fell."""
    if abruptly:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    connection.close()


def stages():
    """Return what a caller may have sent before he vanishes, and whether he waits a little first."""
    whole, heavy = head("/v1/trees/operating-point", len(LIGHT)) + LIGHT, head("/v1/trees/gate-states", len(HEAVY))
    batch = head("/v1/batches", len(BATCH), "application/x-ndjson") + BATCH
    return {
        "nothing": b"", "half a head": whole[:40], "a head": whole[: -len(LIGHT)], "half a body": whole[:-100],
        "a question": whole, "a heavy question": heavy + HEAVY, "half a heavy one": heavy + HEAVY[:9_000],
        "half a batch": batch[: len(batch) // 2], "a batch": batch,
    }  # fmt: skip


def test_callers_who_vanish_at_any_moment_leave_nothing_behind(served, record_property):
    dice, sent = random.Random(14), list(stages().values())
    ask(served, "POST", "/v1/batches", BATCH, kind="application/x-ndjson")
    held, memory = files(served), served.memory()
    with Other(served) as other:
        for _ in range(VANISHING):
            connection = socket.create_connection(("127.0.0.1", served.port), timeout=20)
            connection.sendall(dice.choice(sent))
            time.sleep(dice.choice((0.0, 0.0, 0.01, 0.05)))
            gone(connection, abruptly=dice.random() < 0.5)
        until = time.monotonic() + 60
        while files(served) > held + 8 and time.monotonic() < until:
            time.sleep(0.5)
    told = f"{VANISHING} vanished, {served.memory() - memory:+.0f} MiB, {files(served) - held:+d} files"
    record_property("figures", told)
    other.told(told)
    assert set(other.statuses) == {200}
    assert files(served) <= held + 8
    assert served.memory() - memory < 100
    assert ask(served, "POST", "/v1/trees/operating-point", LIGHT)[0] == 200


def test_callers_who_stall_are_let_go_and_hold_up_nobody(served):
    """Forty of each kind at once: a head that never ends, a body that never ends, an answer that is never read."""
    batch = head("/v1/batches", len(BATCH), "application/x-ndjson") + BATCH
    never = [head("/v1/trees/operating-point", 1000)[:-4], head("/v1/trees/operating-point", 1000) + b"{", batch]
    held = files(served)
    with Other(served) as other:
        stalled = []
        for sent in never * 40:
            connection = socket.socket()
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            connection.settimeout(30)
            connection.connect(("127.0.0.1", served.port))
            connection.sendall(sent)
            stalled.append(connection)
        until = time.monotonic() + 120  # the last to go are those of unread answers
        while files(served) > held + 8 and time.monotonic() < until:
            time.sleep(0.5)
        left = files(served) - held
        for connection in stalled:
            connection.close()
    other.told(f"{len(stalled)} stalled, {left:+d} files while they still hold their ends")
    assert set(other.statuses) == {200}
    assert left <= 8
    status, answers, _ = ask(served, "POST", "/v1/batches", BATCH, kind="application/x-ndjson")
    assert (status, json.loads(answers.splitlines()[-1])["answered"]) == (200, 400)


def test_a_flood_without_a_key_is_limited_and_takes_nothing_from_who_has_one(tmp_path):
    keys = tmp_path / "keys"
    keys.write_text(f"mine {digest(KEY)}\n")
    with Served(keys_file=keys, rate=100, burst=200) as limited, Other(limited) as other:
        until, told = time.monotonic() + 8, []

        def flood(number):
            paths = ("/v1/air?units=us", "/docs", "/openapi.json", "/v1/batches", "/nowhere")
            while time.monotonic() < until:
                for path in paths:
                    told.append((path, ask(limited, "GET", path, key=f"guess {number}", source="127.0.0.77")[0]))

        threads = [threading.Thread(target=flood, args=(number,)) for number in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        other.told(f"{len(told)} of the flood, {sum(status == 429 for _, status in told)} told 429")
    assert {status for _, status in told} <= {200, 401, 404, 405, 429}
    assert 200 not in {status for path, status in told if path == "/v1/air?units=us"}
    assert 429 in {status for _, status in told}
    assert set(other.statuses) == {200}


def test_a_full_disk_refuses_batches_alone(served):
    """The room of the disk is a limit to the size of a file; below a megabyte a batch needs none."""
    large = BATCH * (1 + ROOM // len(BATCH)) + b"\n"
    workers = family(served.process.pid)
    before = [resource.prlimit(worker, resource.RLIMIT_FSIZE, (ROOM, resource.RLIM_INFINITY)) for worker in workers]
    try:
        with Other(served) as other:
            told = [ask(served, "POST", "/v1/batches", large, kind="application/x-ndjson") for _ in range(20)]
            small = ask(served, "POST", "/v1/batches", BATCH[: BATCH.index(b"\n") + 1], kind="application/x-ndjson")
    finally:
        for worker, limits in zip(workers, before, strict=True):
            resource.prlimit(worker, resource.RLIMIT_FSIZE, limits)
    other.told("20 batches for which there is no room")
    assert {(status, json.loads(text)["type"]) for status, text, _ in told} == {(503, "/problems/busy")}
    assert small[0] == 200
    assert set(other.statuses) == {200}
