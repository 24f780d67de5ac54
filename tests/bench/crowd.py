"""Many callers at once, and a light question beside heavy ones: python tests/bench/crowd.py

One worker of a real server, the client in threads of this process, on the same two cores. First 64 callers ask the
demonstration's operating point as fast as they are answered: the 99th percentile of the time of an answer beside the
median. Then one caller asks a thousand light questions, first alone, then while another caller asks heavy ones.
"""

from __future__ import annotations

import argparse
import datetime
import http.client
import json
import os
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from closed_loop import answers, asked

from heavy import BASE, comb
from serving import Served

SHOP = (Path(__file__).resolve().parents[2] / "deploy" / "shop.json").read_bytes()
OPERATING_POINT = "/v1/trees/operating-point"
LIGHT = "/v1/velocity-check?units=us&flow=600&diameter=6&dust=shavings"
HEAVY = json.dumps(BASE | {"runs": comb(700)}).encode()


@contextmanager
def heavy(port: int):
    """Have another caller ask heavy questions meanwhile; yield the seconds that each took."""
    ended, took = threading.Event(), []

    def call() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        while not ended.is_set():
            took.append(asked(connection, OPERATING_POINT, HEAVY))
        connection.close()

    thread = threading.Thread(target=call)
    thread.start()
    try:
        yield took
    finally:
        ended.set()
        thread.join()


def light(port: int, times: int) -> list[float]:
    """Return the seconds of so many light questions, one after the other."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    return [asked(connection, LIGHT, None) for _ in range(times)]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--callers", type=int, default=64)
    parser.add_argument("--seconds", type=float, default=10.0)
    given = parser.parse_args()
    with Served() as served:
        print(f"{datetime.date.today()} load {os.getloadavg()[0]:.1f}")
        answers(served.port, OPERATING_POINT, SHOP, 4, 1.0)
        middle, late = np.percentile(
            answers(served.port, OPERATING_POINT, SHOP, given.callers, given.seconds), [50, 99]
        )
        told = f"median {1e3 * middle:.0f} ms, 99 % within {1e3 * late:.0f} ms, {late / middle:.1f} times"
        print(f"{given.callers} callers: {told}")
        light(served.port, 50)
        alone = np.percentile(light(served.port, 1000), [50, 99])
        with heavy(served.port) as took:
            beside = np.percentile(light(served.port, 1000), [50, 99])
        print(
            f"light, alone: median {1e3 * alone[0]:.1f} ms, 99 % within {1e3 * alone[1]:.1f} ms; beside {len(took)} "
            f"heavy questions of {1e3 * np.median(took):.0f} ms: {1e3 * beside[0]:.1f} and {1e3 * beside[1]:.1f} ms"
        )


if __name__ == "__main__":
    main()
