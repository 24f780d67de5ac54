"""One batch by one worker and by two, and from several chunks under way: python tests/bench/batches.py

Operating points of the bench's shops, all findings in. Each server is asked by turns with the others, and the least
time of several counts. Two workers need two free processors: other work on the machine makes the ratio smaller.
"""

from __future__ import annotations

import argparse
import datetime
import os
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import msgspec
import sixteen_runs

import airbough
from serving import Served


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--lines", type=int, default=2000)
    arguments.add_argument("--turns", type=int, default=5)
    given = arguments.parse_args()
    some = [msgspec.to_builtins(sixteen_runs.shop(seed)) for seed in range(200)]
    lines = [(str(number), "operating-point", some[number % len(some)]) for number in range(given.lines)]
    quiet = {"log_level": "error"}
    with Served(workers=1, **quiet) as one, Served(workers=2, **quiet) as two:
        time.sleep(2.0)  # until the second worker listens too
        ways = {
            "one worker": (one, {"lines_at_once": given.lines}),
            "two workers, one batch": (two, {"lines_at_once": given.lines}),
            "two workers, at_once=2": (two, {"lines_at_once": 100, "at_once": 2}),
        }
        least = dict.fromkeys(ways, float("inf"))
        for _ in range(given.turns):
            for name, (server, how) in ways.items():
                with airbough.Client(server.address) as client:
                    begun = time.perf_counter()
                    answered = sum(result.error is None for result in client.batch(lines, **how))
                    least[name] = min(least[name], time.perf_counter() - begun)
                    assert answered == given.lines
    print(datetime.date.today(), f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    first = least["one worker"]
    for name, seconds in least.items():
        speed = f"{given.lines / seconds:6.0f} designs/s  {first / seconds:.2f} times as fast"
        print(f"{name:24} {seconds:6.2f} s  {speed}")


if __name__ == "__main__":
    main()
