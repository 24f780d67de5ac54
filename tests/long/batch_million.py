"""A million small trees in one batch: `python tests/long/batch_million.py [how many]`. Last figures: README.md here.

The client writes and reads as a stream, checks the order, every answer and the last line, and once stops reading for
ten seconds; meanwhile the memory of the server is sampled and its health is asked.
"""

import argparse
import http.client
import json
import os
import statistics
import sys
import threading
import time
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from serving import Served

BORES = (4, 5, 6, 7, 8)
GROWTH = 32.0
"""MiB that the server may grow by between the first tenth of the answers and the end."""

PAUSE = 10.0
BAD = 1_000
"""Each so many lines one is no duct tree."""


class Told(msgspec.Struct):
    id: str
    status: int
    answer: msgspec.Raw = msgspec.Raw(b"")


def request(bore):
    return {
        "units": "us",
        "runs": [
            {
                "id": "a", "into": None, "diameter": bore, "length": 12, "duct": "spiral-galvanized",
                "hood": {"flow": 400, "entry": {"type": "plain-opening"}},
            }
        ],
        "collector": {
            "fan": {
                "curve": [{"flow": 0, "pressure": 10}, {"flow": 800, "pressure": 8}, {"flow": 1500, "pressure": 1}],
                "rated_as": "fan-static",
            }
        },
    }  # fmt: skip


def pieces(number, lines=500):
    """Yield the body, some lines at a time."""
    bodies = [json.dumps(request(bore), separators=(",", ":")) for bore in BORES]
    bad = json.dumps(request(6) | {"runs": []}, separators=(",", ":"))
    for start in range(0, number, lines):
        yield "".join(
            f'{{"id":"{index}","question":"operating-point","request":'
            f"{bad if index % BAD == BAD - 1 else bodies[index % len(BORES)]}}}\n"
            for index in range(start, min(start + lines, number))
        ).encode()


class Watch(threading.Thread):
    """Samples memory and asks for health until told to stop."""

    def __init__(self, served):
        super().__init__(daemon=True)
        self._served, self._over = served, threading.Event()
        self.samples, self.health = [], []

    def run(self):
        while not self._over.wait(0.5):
            self.samples.append((time.monotonic(), self._served.memory()))
            start = time.monotonic()
            connection = http.client.HTTPConnection("127.0.0.1", self._served.port, timeout=30)
            connection.request("GET", "/health/live")
            assert connection.getresponse().read()
            connection.close()
            self.health.append(time.monotonic() - start)

    def stop(self):
        self._over.set()
        self.join(40)


def read(stream, number):
    """Check every line of the answer; return when a tenth was read, and the bytes."""
    decoder, expected = msgspec.json.Decoder(Told), {}
    tenth, size = time.monotonic(), 0
    for index in range(number):
        line = stream.readline()
        size += len(line)
        told = decoder.decode(line)
        assert told.id == str(index), (told.id, index)
        if index % BAD == BAD - 1:
            assert told.status in (400, 422), line
        else:
            assert told.status == 200, line
            assert bytes(told.answer) == expected.setdefault(index % len(BORES), bytes(told.answer)), line
        if index == number // 10:
            tenth = time.monotonic()
        if index == number // 2:
            time.sleep(PAUSE)
        if index % 100_000 == 99_999:
            print(f"{index + 1} lines", flush=True)
    assert json.loads(stream.readline()) == {
        "lines": number,
        "answered": number - number // BAD,
        "refused": number // BAD,
    }
    assert stream.readline() == b""
    return tenth, size


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("lines", type=int, nargs="?", default=1_000_000)
    number = parser.parse_args().lines
    with Served(batch_lines_limit=number, batch_body_limit=10**10) as served:
        at_rest = served.memory()
        watch, start = Watch(served), time.monotonic()
        watch.start()
        connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=120)
        connection.request(
            "POST", "/v1/batches", pieces(number), {"Content-Type": "application/x-ndjson"}, encode_chunked=True
        )
        sent = time.monotonic()
        with connection.getresponse() as stream:
            assert stream.status == 200, stream.read()
            tenth, size = read(stream, number)
        over = time.monotonic()
        connection.close()
        watch.stop()
    early = max(memory for at, memory in watch.samples if at <= tenth)
    most = max(memory for _, memory in watch.samples)
    tenths = [watch.samples[len(watch.samples) * part // 10][1] for part in range(10)] + [watch.samples[-1][1]]
    told = sorted(watch.health)
    print(f"{number} lines sent in {sent - start:.0f} s, {size / 1e6:.0f} MB answered in {over - sent:.0f} s")
    print(f"memory: {at_rest:.0f} MiB at rest, {early:.0f} in the first tenth, {most:.0f} at most")
    print(f"memory by tenths of the time: {', '.join(f'{memory:.0f}' for memory in tenths)}")
    print(
        f"health asked {len(told)} times: median {statistics.median(told) * 1e3:.0f} ms, "
        f"95 % within {told[len(told) * 95 // 100] * 1e3:.0f} ms, worst {told[-1] * 1e3:.0f} ms"
    )
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    return most - early > GROWTH


if __name__ == "__main__":
    sys.exit(main())
