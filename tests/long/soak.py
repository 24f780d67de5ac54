"""Some minutes of mixed questions: `python tests/long/soak.py --minutes 3`. Last figures: README.md here.

Closed-loop clients in a process of their own ask everything: the example of every call, refusals, batches, and heavy
questions (many states of the gates of an invented shop, a tree of a thousand runs). Meanwhile this process samples the
server's memory and asks for its health twenty times a second.
"""

import argparse
import http.client
import json
import multiprocessing
import os
import random
import re
import sys
import threading
import time
from pathlib import Path
from urllib.parse import urlencode

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from airbough.calls import CALLS
from airbough_service.api.document import examples
from serving import Served

GROWTH = 24.0
"""MiB that the server's memory may grow by in the second half."""

BOUND = 0.050
"""Seconds within which health should answer."""

JSON, LINES = "application/json", "application/x-ndjson"


def shop(hoods, **more):
    """Return an invented shop: hoods along one main."""
    runs = []
    for k in range(hoods):
        into = f"main-{k - 1}" if k else None
        join = {"join": {"type": "straight"}} if k else {}
        last = k == hoods - 1
        hood = {"hood": {"machine_id": f"m{k}", "flow": 350, "entry": {"type": "plain-opening"}}}
        hood |= {"gate": {"opening": 1}}
        runs.append(
            {"id": f"main-{k}", "into": into, "diameter": 10, "length": 6, "duct": "spiral-galvanized", **join}
            | (hood if last else {})
        )
        if not last:
            branch = {"type": "branch", "angle": 45}
            arm = {"id": f"arm-{k}", "into": f"main-{k}", "join": branch, "diameter": 4, "length": 8}
            runs.append(arm | {"duct": "spiral-galvanized", **hood})
    collector = examples.request("operating-point")["collector"]
    return {"units": "us", "dust": "shavings", "runs": runs, "collector": collector, **more}


def asked():
    """Return the questions, light and heavy: method, path, body, media type and the statuses that may come."""
    light, heavy = [], []
    lines = []
    for call in CALLS:
        given = examples.request(call.name)
        if call.method == "GET":
            given = dict(given or {"units": "us"})
            path = re.sub(r"{(\w+)}", lambda match, given=given: str(given.pop(match[1], "elbow")), call.path)
            light.append(("GET", f"{path}?{urlencode(given)}", None, JSON, {200}))
            light.append(("GET", f"{path}?{urlencode(given)}&colour=red", None, JSON, {400}))
        else:
            light.append(("POST", call.path, json.dumps(given).encode(), JSON, {200}))
            light.append(("POST", call.path, json.dumps(given).encode()[:-9], JSON, {400}))
            lines.append(json.dumps({"id": str(len(lines)), "question": call.name, "request": given}))
    light.append(("POST", "/v1/batches", "\n".join(lines * 5).encode(), LINES, {200}))
    light.append(("GET", "/docs", None, JSON, {200}))
    light.append(("GET", "/metrics", None, JSON, {200}))
    light.append(("GET", "/nowhere", None, JSON, {404}))
    states = json.dumps(shop(14, up_to=4)).encode()
    heavy.append(("POST", "/v1/trees/gate-states", states, JSON, {200, 503}))
    heavy.append(("POST", "/v1/trees/operating-point", json.dumps(shop(500)).encode(), JSON, {200, 503}))
    return light, heavy


def client(port, seed, until, told):
    """Ask until the time is over; put statuses that may not come, and the counts, into a queue."""
    dice, (light, heavy) = random.Random(seed), asked()
    counts, wrong = {}, []
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    while time.time() < until:
        weighty = (seed % 2 == 0 and dice.random() < 0.5) or dice.random() < 0.02
        method, path, body, media, allowed = dice.choice(heavy if weighty else light)
        start = time.monotonic()
        try:
            connection.request(method, path, body, {"Content-Type": media} if body else {})
            answer = connection.getresponse()
            text, status = answer.read(), answer.status
        except (OSError, http.client.HTTPException) as error:
            text, status = repr(error).encode(), 0
            connection.close()
        kind = "heavy" if weighty else "light"
        count, most = counts.get((kind, status), (0, 0.0))
        counts[kind, status] = count + 1, max(most, time.monotonic() - start)
        if status not in allowed:
            wrong.append((method, path, status, text[:200].decode(errors="replace")))
    told.put((counts, wrong[:5]))


def load(port, until, told):
    """Run the clients in one process."""
    threads = [threading.Thread(target=client, args=(port, seed, until, told)) for seed in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def watch(served, until):
    """Return samples of memory, and the seconds that each health answer took."""
    memory, health = [], []
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60)
    while time.time() < until:
        start = time.monotonic()
        connection.request("GET", "/health/live")
        assert connection.getresponse().read()
        health.append(time.monotonic() - start)
        if len(health) % 20 == 1:
            memory.append(served.memory())
        time.sleep(0.05)
    return memory, sorted(health)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--minutes", type=float, default=3.0)
    chosen = parser.parse_args()
    context = multiprocessing.get_context("spawn")
    told = context.Queue()
    with Served() as served:
        until = time.time() + 60 * chosen.minutes
        loading = context.Process(target=load, args=(served.port, until, told))
        loading.start()
        memory, health = watch(served, until)
        parts = [told.get(timeout=90) for _ in range(4)]
        loading.join(90)
    counts, wrong = {}, [fault for part in parts for fault in part[1]]
    for part in parts:
        for key, (count, most) in part[0].items():
            had = counts.get(key, (0, 0.0))
            counts[key] = had[0] + count, max(had[1], most)
    for (kind, status), (count, most) in sorted(counts.items()):
        print(f"{kind} {status}: {count}, slowest {most:.2f} s")
    print(f"statuses that may not come: {wrong or 'none'}")
    half = memory[len(memory) // 2 :]
    growth = max(half[-len(half) // 4 :]) - max(half[: len(half) // 4])
    print(
        f"memory, MiB: {memory[0]:.0f} first, {half[0]:.0f} half-way, {memory[-1]:.0f} last, {max(memory):.0f} at most"
    )
    within = sum(seconds <= BOUND for seconds in health) / len(health)
    shares = {f"{share:g} %": f"{health[int(len(health) * share / 100)] * 1e3:.0f} ms" for share in (50, 95, 99)}
    print(f"health asked {len(health)} times: {shares}, worst {health[-1] * 1e3:.0f} ms; {within:.2%} within 50 ms")
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    return bool(wrong) or growth > GROWTH or within < 0.95


if __name__ == "__main__":
    sys.exit(main())
