"""What a variant costs beside a question of its own: python tests/bench/variants.py

Shops of sixteen runs, unlike one another. Of each many variants are asked in one request, as bytes in and bytes out:
lengths and gates, bores, counts of fittings, speeds of the fan, airs, and all together; and single operating points of
some of the same documents, likewise bytes in and bytes out, by turns in one run. Least processor times count.
"""

from __future__ import annotations

import argparse
import copy
import datetime
import platform
import random
import time
from collections.abc import Callable
from typing import Any

import msgspec
import sixteen_runs

from airbough.calls import CALLS
from airbough_service.api.http import body
from airbough_service.combined import registry
from airbough_service.core.warm import warm

CALLS_BY_NAME = {call.name: call for call in CALLS}
Change = list[dict[str, Any]]


def ask(question: str, text: bytes) -> bytes:
    """Return the bytes of an answer."""
    return msgspec.json.encode(registry.answer(question, body.decode(text, CALLS_BY_NAME[question].request)))


def lengths_and_gates(dice: random.Random, shop: dict[str, Any]) -> Change:
    """Return another length of two runs, and another opening of an open gate."""
    out: Change = []
    for run in dice.sample(shop["runs"], 2):
        out.append({"path": f"runs[{run['id']}].length", "value": round(run["length"] + dice.uniform(0, 8), 2)})
    gate = dice.choice([run for run in shop["runs"] if run.get("gate", {}).get("opening")])
    return [*out, {"path": f"runs[{gate['id']}].gate.opening", "value": round(dice.uniform(0.5, 1.0), 3)}]


def bores(dice: random.Random, shop: dict[str, Any]) -> Change:
    """Return another bore of one run."""
    run = dice.choice(shop["runs"])
    return [{"path": f"runs[{run['id']}].diameter", "value": round(run["diameter"] + dice.uniform(0.0, 0.8), 3)}]


def fittings(dice: random.Random, shop: dict[str, Any]) -> Change:
    """Return another count of a run's elbows."""
    run = dice.choice([run for run in shop["runs"] if run.get("fittings")])
    return [{"path": f"runs[{run['id']}].fittings[0].count", "value": dice.randint(1, 4)}]


def speeds(dice: random.Random, shop: dict[str, Any]) -> Change:
    """Return another speed of the fan, one of twenty."""
    return [{"path": "collector.fan.speed_ratio", "value": round(0.8 + 0.01 * dice.randint(0, 19), 2)}]


def airs(dice: random.Random, shop: dict[str, Any]) -> Change:
    """Return another air, unlike all others."""
    return [{"path": "air", "value": {"temperature": round(dice.uniform(40, 90), 3), "humidity": 0.4}}]


def all_together(dice: random.Random, shop: dict[str, Any]) -> Change:
    """Return a length, a bore and a speed."""
    return [*lengths_and_gates(dice, shop), *bores(dice, shop), *speeds(dice, shop)]


WAYS: tuple[Callable[[random.Random, dict[str, Any]], Change], ...] = (
    lengths_and_gates, bores, fittings, speeds, airs, all_together,
)  # fmt: skip


def changed(shop: dict[str, Any], change: Change) -> dict[str, Any]:
    """Return a document with a change."""
    out = copy.deepcopy(shop)
    rows = {run["id"]: run for run in out["runs"]}
    for one in change:
        first, _, rest = one["path"].partition(".")
        here: Any = rows[first[5:-1]] if first.startswith("runs") else out
        steps = rest.split(".") if first.startswith("runs") else one["path"].split(".")
        for step in steps[:-1]:
            here = here[step.partition("[")[0]][0] if "[" in step else here[step]
        here[steps[-1]] = one["value"]
    return out


def least(turns: int, *works: Callable[[], object]) -> list[float]:
    """Return the least processor time of each piece of work, s, taken by turns."""
    out = [float("inf")] * len(works)
    for _ in range(turns):
        for place, work in enumerate(works):
            begun = time.thread_time()
            work()
            out[place] = min(out[place], time.thread_time() - begun)
    return out


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--shops", type=int, default=5)
    arguments.add_argument("--variants", type=int, default=2000)
    arguments.add_argument("--turns", type=int, default=5)
    given = arguments.parse_args()
    warm()
    print(f"{datetime.date.today()}  {platform.machine()}  one core; {given.shops} shops of sixteen runs")
    for way in WAYS:
        many, alone = 0.0, 0.0
        for seed in range(given.shops):
            dice, shop = random.Random(seed), sixteen_runs.shop(seed)
            changes = [way(dice, shop) for _ in range(given.variants)]
            request = {"units": "us", "tree": shop, "changes": [{"set": change} for change in changes]}
            text = msgspec.json.encode(request)
            singles = [msgspec.json.encode(changed(shop, change)) for change in changes[:50]]
            both = least(
                given.turns,
                lambda text=text: ask("variants", text),
                lambda singles=singles: [ask("operating-point", one) for one in singles],
            )
            many += both[0] / given.variants / given.shops
            alone += both[1] / len(singles) / given.shops
        name = way.__name__.replace("_", " ")
        print(f"{name:18} {1 / many:8.0f} variants/s, single {1 / alone:6.0f}/s, {alone / many:6.1f} times")


if __name__ == "__main__":
    main()
