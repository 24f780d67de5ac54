"""Minutes of mixed and hostile questions: `python tests/long/soak.py --minutes 30`. Last figures: README.md here.

First clients in a process of their own ask as fast as they are answered: so much is saturation. Then they ask 70 % as
often: the example of every call, refusals, batches, heavy questions (many states of the gates of an invented shop, a
tree of five hundred runs), one in five a hostile body; beside them one who opens connections and leaves them, half a
head, half a body or a whole question in them. Meanwhile this process samples the server's memory, asks for its health
twenty times a second, and asks a bare server that only echoes, which tells what the machine's other work adds.

Status 1: a status that may not come, memory that grows in the second half, or light questions that take longer in the
last third than in the first, by more than the echo does.
"""

import argparse
import http.client
import http.server
import json
import multiprocessing
import os
import random
import re
import socket
import statistics
import sys
import threading
import time
from pathlib import Path
from urllib.parse import urlencode

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import hostile
from airbough.calls import CALLS
from airbough_service.api.document import examples
from serving import Echo, Served

GROWTH = 24.0
"""MiB that the server's memory may grow by in the second half."""

BOUND = 0.050
"""Seconds within which health should answer."""

CLIENTS, HOSTILE, LONGER = 4, 0.2, 2.0
TOLD = {200, 400, 413, 422, 503}
"""What a hostile body may be told; 503 where its turn or its answer does not come in time."""

LEFT = (
    b"",
    b"GET /v1/air?units=us HTTP/1.1\r\nHo",
    b"POST /v1/trees/balance HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{",
    b"POST /v1/batches HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nContent-Length: 100\r\n\r\n{",
)

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


def client(port, seed, until, apart, told):
    """Ask until the time is over, so many seconds apart; put into a queue what was told, when and how long it took."""
    dice, (light, heavy), bodies = random.Random(seed), asked(), hostile.bodies(10**9, seed)
    taken, wrong, due = [], [], time.time() + apart * dice.random()
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    while (now := time.time()) < until:
        if now < due:
            time.sleep(min(due, until) - now)
        due = max(due + apart, time.time() - apart)  # what was missed is not caught up with
        kind = "heavy" if dice.random() < (0.3 if seed % 2 == 0 else 0.02) else "light"
        method, path, body, media, allowed = dice.choice(heavy if kind == "heavy" else light)
        if dice.random() < HOSTILE:
            call, body = next(bodies)
            kind, method, path, media, allowed = "hostile", "POST", call.path, JSON, TOLD
        start = time.time()
        try:
            connection.request(method, path, body, {"Content-Type": media} if body else {})
            answer = connection.getresponse()
            text, status = answer.read(), answer.status
        except (OSError, http.client.HTTPException) as error:
            text, status = repr(error).encode(), 0
            connection.close()
        taken.append((kind, status, start, time.time() - start))
        if status not in allowed:
            wrong.append((method, path, status, text[:200].decode(errors="replace")))
    told.put((taken, wrong[:5]))


def leaver(port, until):
    """Open connections and leave them, something begun in them."""
    dice, held = random.Random(0), []
    whole = json.dumps(shop(14, up_to=4)).encode()
    head = f"POST /v1/trees/gate-states HTTP/1.1\r\nHost: x\r\nContent-Type: {JSON}\r\n"
    head += f"Content-Length: {len(whole)}\r\n\r\n"
    while time.time() < until:
        connection = socket.create_connection(("127.0.0.1", port), timeout=10)
        connection.sendall(dice.choice([*LEFT, head.encode() + whole]))
        held.append(connection)
        if len(held) > 40:
            held.pop(dice.randrange(len(held))).close()
        time.sleep(0.5)
    for connection in held:
        connection.close()


def load(port, until, apart, told):
    """Run the clients in one process."""
    threads = [threading.Thread(target=client, args=(port, seed, until, apart, told)) for seed in range(CLIENTS)]
    threads.append(threading.Thread(target=leaver, args=(port, until)))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def loaded(port, seconds, apart, meanwhile):
    """Return what the clients were told in so many seconds, what they may not be told, and what was seen meanwhile."""
    context = multiprocessing.get_context("spawn")
    told, until = context.Queue(), time.time() + seconds
    loading = context.Process(target=load, args=(port, until, apart, told))
    loading.start()
    watched = meanwhile(until)
    parts = [told.get(timeout=120) for _ in range(CLIENTS)]
    loading.join(120)
    return [one for part in parts for one in part[0]], [fault for part in parts for fault in part[1]], watched


def seconds(connection, path):
    start = time.monotonic()
    connection.request("GET", path)
    assert connection.getresponse().read()
    return time.monotonic() - start


def watch(served, echo, until):
    """Return samples of memory, and when health and the echo were asked and how long they took."""
    memory, health, echoed, loads = [], [], [], []
    own = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60)
    other = http.client.HTTPConnection("127.0.0.1", echo, timeout=60)
    while time.time() < until:
        health.append(seconds(own, "/health/live"))
        echoed.append((time.time(), seconds(other, "/")))
        if len(health) % 20 == 1:
            memory.append(served.memory())
            loads.append(os.getloadavg()[0])
        time.sleep(0.05)
    return memory, sorted(health), echoed, loads


def thirds(timed):
    """Return the median seconds of each third of the time, of pairs of a moment and what it took."""
    first, last = min(at for at, _ in timed), max(at for at, _ in timed)
    parts = [[], [], []]
    for at, taken in timed:
        parts[min(2, int(3 * (at - first) / (last - first)))].append(taken)
    return [statistics.median(part) for part in parts]


def tell(taken, wrong):
    """Print counts and the slowest of each kind and status."""
    counts = {}
    for kind, status, _, lasted in taken:
        count, most = counts.get((kind, status), (0, 0.0))
        counts[kind, status] = count + 1, max(most, lasted)
    for (kind, status), (count, most) in sorted(counts.items()):
        print(f"{kind} {status}: {count}, slowest {most:.2f} s")
    print(f"statuses that may not come: {wrong or 'none'}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--share", type=float, default=0.7, help="of saturation")
    parser.add_argument("--saturated", type=float, default=30.0, help="seconds in which saturation is measured")
    chosen = parser.parse_args()
    bare = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Echo)
    threading.Thread(target=bare.serve_forever, daemon=True).start()
    with Served(log_level="error") as served:
        most, wrong, _ = loaded(served.port, chosen.saturated, 0.0, lambda _: None)
        took = max(start + lasted for *_, start, lasted in most) - min(one[2] for one in most)
        rate = chosen.share * len(most) / took
        print(f"saturation: {len(most) / took:.1f} questions a second; asked from now on: {rate:.1f}", flush=True)
        taken, more, watched = loaded(
            served.port, 60 * chosen.minutes, CLIENTS / rate, lambda until: watch(served, bare.server_port, until)
        )
    memory, health, echoed, loads = watched
    wrong += more
    tell(taken, wrong)
    half = memory[len(memory) // 2 :]
    growth = max(half[-len(half) // 4 :]) - max(half[: len(half) // 4])
    print(
        f"memory, MiB: {memory[0]:.0f} first, {half[0]:.0f} half-way, {memory[-1]:.0f} last, {max(memory):.0f} at most"
    )
    shares = {f"{share:g} %": f"{health[int(len(health) * share / 100)] * 1e3:.0f} ms" for share in (50, 95, 99)}
    within = sum(lasted <= BOUND for lasted in health) / len(health)
    print(f"health asked {len(health)} times: {shares}, worst {health[-1] * 1e3:.0f} ms; {within:.2%} within 50 ms")
    light, noise = thirds([one[2:] for one in taken if one[0] == "light"]), thirds(echoed)
    for name, medians in (("light questions", light), ("echo", noise)):
        print(f"{name}, median of each third: {', '.join(f'{median * 1e3:.1f} ms' for median in medians)}")
    machine = f"load of the machine {min(loads):.1f} to {max(loads):.1f} on {os.cpu_count()} cores"
    print(f"asked {len(taken) / chosen.minutes / 60:.1f} a second; {machine}")
    longer = light[2] / light[0] > LONGER * max(1.0, noise[2] / noise[0])
    return bool(wrong) or growth > GROWTH or longer


if __name__ == "__main__":
    sys.exit(main())
