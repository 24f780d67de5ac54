"""How an answer's time grows with the shop: python tests/bench/growth.py

Operating point and balance of shops of about 15, 150 and 1,500 runs through `airbough.local()`, all findings and tried
gains in, asked by turns; the least processor time of several turns, and the exponent between neighbours (1: linear).
"""

from __future__ import annotations

import argparse
import datetime
import math
import os
import time
from typing import Any

import msgspec
import sixteen_runs

import airbough
from airbough.calls import CALLS

SIZES = (1, 10, 100)  # of the bench's shops side by side, at one collector
ASKED = {"operating-point": {}, "balance": {"by": "gates"}}


def shop(copies: int) -> dict[str, Any]:
    """Return several of the bench's shops along one main, a run of it for each."""
    whole = sixteen_runs.shop(1)
    runs: list[dict[str, Any]] = []
    for number in range(copies):
        line = {"id": f"line-{number}", "diameter": 100, "length": 5, "duct": "spiral-galvanized", "into": None}
        runs.append(line | ({"into": f"line-{number - 1}", "join": {"type": "straight"}} if number else {}))
        runs += [_named(run, number) for run in whole["runs"]]
    del runs[-len(whole["runs"])]["join"]  # the last one meets no other
    return whole | {"runs": runs}


def _named(run: dict[str, Any], number: int) -> dict[str, Any]:
    own = run | {"id": f"{run['id']}-{number}", "into": f"{run['into']}-{number}" if run["into"] else f"line-{number}"}
    if run["into"] is None:
        own["join"] = {"type": "branch", "angle": 45}
    if "hood" in run:
        own["hood"] = run["hood"] | {"machine_id": f"{run['hood']['machine_id']}-{number}"}
    return own


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--turns", type=int, default=7)
    given = arguments.parse_args()
    print(datetime.date.today(), f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    client, by_name = airbough.local(), {call.name: call for call in CALLS}
    for question, more in ASKED.items():
        ask = getattr(client, question.replace("-", "_"))
        requests = [msgspec.convert(shop(copies) | more, by_name[question].request) for copies in SIZES]
        least = [math.inf] * len(SIZES)
        for _ in range(given.turns):
            for place, request in enumerate(requests):
                begun = time.thread_time()
                ask(request)
                least[place] = min(least[place], time.thread_time() - begun)
        runs = [len(request.runs) for request in requests]
        for place, seconds in enumerate(least):
            grown = ""
            if place:
                power = math.log(seconds / least[place - 1]) / math.log(runs[place] / runs[place - 1])
                grown = f", grown with the {power:.2f}th power of the runs"
            each = 1.0e6 * seconds / runs[place]
            print(f"{question}: {runs[place]} runs in {1e3 * seconds:.2f} ms, {each:.0f} us a run{grown}")


if __name__ == "__main__":
    main()
