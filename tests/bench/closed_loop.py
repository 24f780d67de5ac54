"""Callers in threads of this process, each asking as fast as it is answered."""

from __future__ import annotations

import http.client
import threading
import time

JSON = {"Content-Type": "application/json"}


def asked(connection: http.client.HTTPConnection, path: str, body: bytes | None) -> float:
    """Return the seconds that an answer took; raise where there is none."""
    began = time.perf_counter()
    connection.request("GET" if body is None else "POST", path, body, JSON if body else {})
    reply = connection.getresponse()
    told = reply.read()
    if reply.status != 200:
        raise RuntimeError(f"{reply.status}: {told[:200]!r}")
    return time.perf_counter() - began


def answers(port: int, path: str, body: bytes, callers: int, seconds: float) -> list[float]:
    """Return the seconds of every answer to so many callers."""
    out: list[float] = []
    end = time.perf_counter() + seconds

    def call() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        while time.perf_counter() < end:
            out.append(asked(connection, path, body))
        connection.close()

    threads = [threading.Thread(target=call) for _ in range(callers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return out
