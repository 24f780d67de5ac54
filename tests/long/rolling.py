"""Four instances behind each proxy of deploy/, under load: killed, hung, restarted, replaced; no request may be lost.

`python tests/long/rolling.py --requests 100000`: one is killed, one hangs, one is restarted, then all are replaced by a
next version, one after the other. A lost request is one without an answer of status 200; a wrong one has other bytes
than the same question has from an instance asked by itself (the engine's version apart, which the next version names).
Requests are sent once, by each client as fast as a proxy allows a caller: what goes to another instance, the proxy
sends there. The load goes on until all that is done, so many requests are answered, and a fifth of them by the next
version. Last figures: README.md.
"""

import argparse
import http.client
import itertools
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import airbough
from airbough_service.api.document import examples
from long.test_proxies import JSON, answer, door, status
from serving import Served, free_port

ROOT = Path(__file__).resolve().parents[2]
CLIENTS, INSTANCES, NEXT = 12, 4, f"{airbough.__version__}.post1"
PATIENCE = 60.0
EACH = 1.0 / 80.0  # s between two requests of one client: the proxies answer a caller 100 a second, with a burst
SHARE_OF_NEXT = 0.2
SETTINGS = {"nginx.conf": {"listen_when_ready": "yes"}, "haproxy.cfg": {}}
"""As deploy/README.md says of each proxy."""

VERSION = re.compile(rb'("version":")[^"]+(")')
QUESTIONS = [
    *[
        ("GET", f"/v1/velocity-check?units=us&flow={flow}&diameter=6&dust=shavings", None)
        for flow in range(500, 900, 40)
    ],
    ("POST", "/v1/trees/operating-point", json.dumps(examples.request("operating-point")).encode()),
    ("POST", "/v1/trees/balance", json.dumps(examples.request("balance")).encode()),
]


class Replica(Served):
    """An instance, of this version or of the next one, whose code is a copy of this one's with another number."""

    START = 900  # the next version compiles under load

    def __init__(self, port, name, code=None):
        super().__init__(port, **SETTINGS[name])
        if code is not None:
            self._environment["PYTHONPATH"] = os.pathsep.join([str(code / "service"), str(code / "sdk")])


def next_version(folder):
    """Copy the code, with the next version's number."""
    for part, file in (("service", "airbough_service/__init__.py"), ("sdk", "airbough/version.py")):
        shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
        path = folder / part / file
        text, count = re.subn(r'(__version__[^"]*")[^"]+"', rf'\g<1>{NEXT}"', path.read_text("utf-8"))
        assert count == 1, path
        path.write_text(text, "utf-8")
    return folder


def comparable(told):
    """Return an answer's bytes with no version and no id of its request in them."""
    return VERSION.sub(rb"\1\2", told)


class Load:
    """Closed-loop clients, each with an address of its own, until told to end."""

    def __init__(self, port, expected):
        self._port, self._expected = port, expected
        self._number, self._lock = itertools.count(), threading.Lock()
        self.answered, self.lost, self.wrong, self.new, self.slowest = 0, [], [], 0, 0.0
        self._threads = [threading.Thread(target=self._client, args=(index,)) for index in range(CLIENTS)]
        self.ending = False

    def start(self):
        for thread in self._threads:
            thread.start()

    def join(self):
        for thread in self._threads:
            thread.join()

    def _client(self, index):
        connection, due = self._open(index), time.monotonic()
        while not self.ending:
            time.sleep(max(0.0, due - time.monotonic()))
            number, due = next(self._number), max(due, time.monotonic()) + EACH
            method, path, body = QUESTIONS[number % len(QUESTIONS)]
            start, lost, wrong, new = time.monotonic(), None, None, False
            try:
                connection.request(method, path, body=body, headers=JSON if body else {})
                told = connection.getresponse()
                text = told.read()
                new = f'"version":"{NEXT}"'.encode() in text
                if told.status != 200:
                    lost = f"{told.status} {text[:200]!r}"
                elif comparable(text) != self._expected[path]:
                    wrong = f"{path}: {text[:200]!r}"
            except (OSError, http.client.HTTPException) as error:
                lost = repr(error)
                connection.close()
                connection = self._open(index)
            with self._lock:
                self.answered += 1
                self.new += new
                self.slowest = max(self.slowest, time.monotonic() - start)
                self.lost += [lost] if lost else []
                self.wrong += [wrong] if wrong else []
        connection.close()

    def _open(self, index):
        return http.client.HTTPConnection(
            "127.0.0.1", self._port, timeout=PATIENCE, source_address=(f"127.0.0.{index + 11}", 0)
        )


def until(load, most, new=0):
    """Wait until so many requests are answered, so many of them by the next version."""
    while load.answered < most or load.new < new:
        time.sleep(0.2)


def trial(name, replicas, code, requests, folder):
    """Run the whole sequence behind one proxy; return whether nothing was lost or wrong."""
    expected = {}
    for method, path, body in QUESTIONS:
        code_told, _, text = answer(replicas[0].port, method, path, body, JSON if body else {})
        assert code_told == 200, text
        expected[path] = comparable(text)
    ports = [replica.port for replica in replicas]
    with door(name, folder, (*ports[:2], free_port()), more=ports[2:]) as port:
        load = Load(port, expected)
        began = time.monotonic()
        load.start()
        events = []

        def event(share, what, act):
            until(load, share * requests)
            at, start = load.answered, time.monotonic()
            act()
            events.append(f"{what} at {at} in {time.monotonic() - start:.0f} s")

        try:
            event(0.10, "one killed", lambda: replicas[0].send(signal.SIGKILL))
            event(0.20, "started again", replicas[0].start)
            event(0.30, "one hung", lambda: os.killpg(replicas[1].process.pid, signal.SIGSTOP))
            event(0.45, "ended and started again", lambda: (replicas[1].send(signal.SIGKILL), replicas[1].start()))
            event(0.55, "one restarted", lambda: (replicas[2].stop(), replicas[2].start()))
            for index, share in zip(range(INSTANCES), (0.65, 0.72, 0.79, 0.86), strict=True):
                newer = Replica(replicas[index].port, name, code)
                event(
                    share,
                    f"{index + 1} replaced",
                    lambda index=index, newer=newer: (replicas[index].stop(), newer.start()),
                )
                replicas[index] = newer
            until(load, requests, SHARE_OF_NEXT * requests)
        finally:
            load.ending = True
            load.join()
    seconds = time.monotonic() - began
    print(f"{name}: {load.answered} asked in {seconds:.0f} s, {len(load.lost)} lost, {len(load.wrong)} wrong, "
          f"{load.new} by the next version, slowest {load.slowest:.2f} s, load {os.getloadavg()[0]:.1f}; "
          f"{', '.join(events)}", flush=True)  # fmt: skip
    print(*load.lost[:5], *load.wrong[:5], sep="\n")
    return not load.lost and not load.wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--requests", type=int, default=100_000)
    parser.add_argument("--proxies", nargs="+", default=["nginx.conf", "haproxy.cfg"])
    chosen = parser.parse_args()
    well = True
    for name in chosen.proxies:
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            code = next_version(folder / "next")
            replicas = [Replica(free_port(), name) for _ in range(INSTANCES)]
            try:
                for replica in replicas:
                    replica.start()
                    assert status(replica.port, "/health/ready") == 200
                well &= trial(name, replicas, code, chosen.requests, folder)
            finally:
                for replica in replicas:
                    replica.stop()
    sys.exit(not well)


if __name__ == "__main__":
    main()
