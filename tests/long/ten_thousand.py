"""`python tests/long/ten_thousand.py`: every question about trees of 10,000 runs in a chain; times and no fault."""

import argparse
import json
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
import heavy  # after its folder is known
import hostile  # after its folder is known
from airbough.calls import CALLS
from airbough_service.api.settings import Settings
from airbough_service.core import deadline
from airbough_service.core.warm import warm

BY_NAME = {call.name: call for call in CALLS}


def questions(size):
    """Yield a title, the question and its body."""
    tree = heavy.BASE | {"runs": heavy.chain(size)}
    last = f"r{size - 1}"
    yield "operating-point", "operating-point", tree
    yield "operating-point, waved fan curve", "operating-point", heavy.WAVY | {"runs": tree["runs"]}
    yield "explanation", "operating-point", tree | {"explain": True}
    yield "resolved", "operating-point", tree | {"resolved": True}
    yield "uncertainty, 50 samples", "operating-point", tree | {"uncertainty": {"samples": 50}}
    yield "balance by gates", "balance", tree | {"by": "gates"}
    yield "balance by flow, exact", "balance", tree | {"by": "flow", "correction": "exact"}
    yield "balance, uncertainty, 50 samples", "balance", tree | {"uncertainty": {"samples": 50}}
    yield "gate-states, one named", "gate-states", tree | {"states": [{"name": "open", "open": [last]}]}
    yield "drawing", "drawing", tree | {"of": "tree"}
    yield "parts-list", "parts-list", tree
    yield "parts list from stock", "parts-list", tree | {"stock": heavy.pipes()}
    yield "strength", "strength", tree
    yield "sizing, one bore", "sizing", tree | {"stock": heavy.sizing_stock(8)}
    yield "sizing, one bore, by fan", "sizing", tree | {"stock": heavy.sizing_stock(8), "flows": "fan"}
    yield "sizing, two bores", "sizing", tree | {"stock": heavy.sizing_stock(6, 8)}
    yield "compare", "compare", {"units": "us", "before": tree, "after": tree}
    yield "working-day", "working-day", tree | heavy.day(3, [last])
    yield "diagnosis, one suspect", "diagnosis", tree | {
        "readings": [{"quantity": "flow", "run": "r0", "value": 300}], "suspects": ["r0"], "state": {"open": [last]},
    }  # fmt: skip


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=10_000)
    chosen = parser.parse_args()
    warm()
    settings, faults = Settings(), 0
    for title, name, question in questions(chosen.runs):
        body = json.dumps(question).encode()
        start = time.thread_time()
        try:
            with deadline.limited(deadline.within(settings.compute_timeout)):
                status, text = hostile.ask(BY_NAME[name], body, settings)
        except Exception as error:
            status, text, faults = 500, repr(error).encode(), faults + 1
        told = f"{len(text):,} bytes" if status == 200 else text.decode()[:200]
        faults += status == 503
        print(f"{title:34} {status} {time.thread_time() - start:6.2f} s  {told}", flush=True)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
