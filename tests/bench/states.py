"""How long gate states take: `python tests/bench/states.py [states]`. One core; the shop is invented.

Prints the compiled solve alone, the same shop under a fan whose curve has a hump, and the whole question (judging,
worst states, fix sets, answer).
"""

from __future__ import annotations

import argparse
import datetime
import itertools
import math
import platform
import time

import msgspec
import numpy as np

from airbough.wire.gate_states import GateStatesRequest
from airbough_service.combined import registry
from airbough_service.core.network.solver import solve_states
from airbough_service.core.network.states import solve
from airbough_service.shop import collector as fans
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.terms import units

BLOCK = 500  # states timed together; the least of several runs of each is summed, so that other work counts little
REPEATS = 12


def shop_request(hoods, **more):
    """Return an invented shop: hoods along one main, which grows towards the collector."""
    bores = [4, 5, 4, 6, 4, 5]
    law = more.get("model", {}).get("junctions", "flow-ratio")
    straight = {"type": "straight"} | ({"taper_length": 8} if law.startswith("flow-ratio") else {})
    runs, area = [], 0.0
    for k in range(hoods):
        bore = bores[k % len(bores)]
        area += bore**2 * (0.6 if k else 1.0)
        hood = {"machine_id": f"machine-{k}", "flow": 20 * bore**2, "entry": {"type": "flanged-opening"}}
        gate = {"opening": 1.0}
        branch = {"diameter": bore, "length": 4 + k % 5, "duct": "spiral-galvanized", "hood": hood, "gate": gate}
        if k == 0:
            runs.append({"id": "main-0", "into": "main-1" if hoods > 1 else None, **branch})
            runs[-1].update({"join": straight} if hoods > 1 else {})
            continue
        main = {"id": f"main-{k}", "into": f"main-{k + 1}" if k + 1 < hoods else None, "length": 3 + k % 4}
        main |= {"diameter": math.ceil(math.sqrt(area)), "duct": "spiral-galvanized"}
        if k + 1 < hoods:
            main["join"] = straight
        runs.append({"id": f"branch-{k}", "into": f"main-{k}", "join": {"type": "branch", "angle": 45}, **branch})
        runs.append(main)
    widest = math.sqrt(area)
    top, pressure = 30.0 * area, 14.0
    shares = ((0.0, 1.0), (0.25, 0.97), (0.5, 0.85), (0.75, 0.6), (1.0, 0.2), (1.15, 0.0))
    fan = {
        "curve": [{"flow": top * q, "pressure": pressure * p} for q, p in shares],
        "rated_as": "fan-static",
        "includes": [],
    }
    losses = [
        {"name": "cyclone", "flow": 20.0 * widest**2, "pressure": 2.0, "exponent": 2},
        {"name": "filter", "flow": 20.0 * widest**2, "pressure": 1.0, "exponent": 1},
    ]
    collector = {"fan": fan, "losses": losses}
    return {"units": "us", "name": "invented", "dust": "shavings", "runs": runs, "collector": collector, **more}


def solved_in(shop: Shop, gates: np.ndarray) -> tuple[float, float, float]:
    """Return seconds for all states of gates[states, rows], Newton steps and live rows of one state on average."""
    fan, tree = fans.build(shop), shop.tree
    flows = np.zeros(gates.shape)
    status, steps = np.zeros(len(gates), np.int64), np.zeros(len(gates), np.int64)
    spent = 0.0
    for start in range(0, len(gates), BLOCK):
        part = slice(start, start + BLOCK)
        least = math.inf
        for _ in range(REPEATS):
            begun = time.perf_counter()
            solve_states(
                tree.table, tree.links, gates[part], fan.pieces, fan.terms, fan.net_quadratic, 0.0,
                flows[part], status[part], steps[part], np.empty((0, gates.shape[1])),
            )  # fmt: skip
            least = min(least, time.perf_counter() - begun)
        spent += least
    return spent, float(steps.mean()), float((flows > 0).sum(axis=1).mean())


def states_of(shop: Shop, kind: str, count: int) -> np.ndarray:
    """Return gate coefficients of `count` different states: hoods open at random, or sets of so many of them."""
    random = np.random.default_rng(1)
    rows = np.array([shop.hood_row(run.index) for run in shop.runs if run.run.gate is not None])
    if kind == "half":
        is_open = random.random((count, len(rows))) < 0.5
    else:
        chosen = list(itertools.combinations(range(len(rows)), int(kind)))
        chosen = [chosen[k] for k in np.sort(random.permutation(len(chosen))[:count])]
        is_open = np.zeros((len(chosen), len(rows)), bool)
        np.put_along_axis(is_open, np.array(chosen), True, axis=1)
    gates = np.zeros((len(is_open), len(shop.tree.gate)))
    gates[:, rows] = np.where(is_open, 0.0, np.inf)
    return gates


def hump(request):
    """Return the request with a fan that gives most at a third of its flow."""
    curve = request["collector"]["fan"]["curve"]
    points = [point | {"pressure": point["pressure"] * (1.12 if 1 <= k <= 2 else 1.0)} for k, point in enumerate(curve)]
    fan = request["collector"]["fan"] | {"curve": points}
    return request | {"collector": request["collector"] | {"fan": fan}}


def humped_and_falling(hoods: int, count: int) -> None:
    """Print what a state costs under a falling curve and under one with a hump, search and all."""
    each = {}
    for name, change in (("falling", dict), ("humped", hump)):
        asked = change(shop_request(hoods, model={"junctions": "flow-ratio"}))
        shop = build(units.to_si(msgspec.convert(asked, GateStatesRequest)))
        gates, fan = states_of(shop, "half", min(count, 100)), fans.build(shop)
        solve(shop.tree, fan, gates[:2])
        least = math.inf
        for _ in range(5 * REPEATS):
            begun = time.perf_counter()
            solve(shop.tree, fan, gates)
            least = min(least, time.perf_counter() - begun)
        each[name] = least / len(gates) * 1.0e6
    more = each["humped"] / each["falling"]
    print(
        f"half of the hoods at random, search included: falling curve {each['falling']:.2f} us, "
        f"with a hump {each['humped']:.2f} us each, {more:.2f} times as long"
    )


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("states", type=int, nargs="?", default=10_000)
    arguments.add_argument("--hoods", type=int, default=20)
    count, hoods = (given := arguments.parse_args()).states, given.hoods
    print(f"{datetime.date.today()}  {platform.processor() or platform.machine()}  one core, one thread")
    for junctions in ("none", "entry-angle", "flow-ratio"):
        asked = msgspec.convert(shop_request(hoods, model={"junctions": junctions}), GateStatesRequest)
        shop = build(units.to_si(asked))
        for kind in ("3", "5", "half"):
            gates = states_of(shop, kind, count)
            solved_in(shop, gates[:BLOCK])
            seconds, steps, live = solved_in(shop, gates)
            what = "half of the hoods at random" if kind == "half" else f"sets of {kind} hoods"
            each = seconds / len(gates) * 1.0e6
            print(
                f"solve alone, {junctions:11} {what:27} {len(gates):6} states: {each:5.2f} us each "
                f"({steps:.1f} steps, {live:.1f} of {gates.shape[1]} rows live)"
            )
    humped_and_falling(hoods, count)
    most = 1
    while sum(math.comb(hoods, size) for size in range(1, most + 2)) <= 50_000 and most < hoods:
        most += 1
    for up_to in sorted({2, 3, most}):
        asked = msgspec.convert(shop_request(hoods, up_to=up_to), GateStatesRequest)
        registry.answer("gate-states", asked)
        begun = time.perf_counter()
        answer = registry.answer("gate-states", asked)
        seconds = time.perf_counter() - begun
        number = answer.system.states
        each = seconds / number * 1.0e6
        print(f"whole question, up to {up_to}: {number} states in {seconds * 1e3:.0f} ms, {each:.1f} us each")


if __name__ == "__main__":
    main()
