"""`python tests/long/hostile.py --count 100000`: many hostile bodies, and a count of what they were told.

In this process; with `--over-http` sent to a server process by callers side by side, while its health is asked. The
status is 1 where a body was answered wrongly, or where memory still grows at the end.
"""

import argparse
import collections
import http.client
import os
import statistics
import sys
import threading
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
import hostile  # after its folder is known
from airbough_service.core.warm import warm  # after its folder is known
from serving import Served, held  # after its folder is known

CALLERS = 3
PATIENCE = 300.0
"""Seconds that a server on a busy machine may take for one body; how long it computes is judged in this process."""


LOOKS = 200
"""At the memory, spread over the bodies."""

GROWTH = 16.0
"""MiB that the memory may grow by over the last quarter; a heavy body in it may take so much more than those before."""

ENOUGH = 20_000
"""Bodies before whose last quarter memory may still grow: what is kept of questions fills up."""


def say(line):
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


class Told:
    """What came of the bodies so far."""

    def __init__(self, chosen, memory):
        self._lock = threading.Lock()
        self._most, self._count, self._memory = chosen.faults, chosen.count, memory
        self._looked = []
        self.statuses, self.faults, self.start = collections.Counter(), {}, time.monotonic()
        self.slowest = (0.0, "", 0)

    @property
    def enough(self):
        return len(self.faults) >= self._most

    def ask(self, call, body, ask):
        """Ask with `ask`, which returns the status and the seconds it took."""
        try:
            status, spent = ask(call, body)
        except Exception as error:
            frame = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{call.name}: {type(error).__name__} at {Path(frame.filename).name}:{frame.lineno}"
            with self._lock:
                if place not in self.faults:
                    self.faults[place] = body
                    say(f"{place}: {str(error)[:300]}\n  {body[:3000]!r}")
            return
        with self._lock:
            self.statuses[call.name, status] += 1
            self.slowest = max(self.slowest, (spent, call.name, len(body)))
            number = sum(self.statuses.values())
            if number * LOOKS // self._count > len(self._looked):
                self._looked.append(self._memory())
            if number % 1_000 == 0:
                seconds = time.monotonic() - self.start
                say(f"{number} bodies, {seconds:.0f} s, {len(self.faults)} faults, {self._looked[-1]:.0f} MiB")

    @property
    def grows(self):
        """Whether the memory still grows: the last twentieth beside the one before the last quarter."""
        looked = self._looked
        if len(looked) < LOOKS or self._count < ENOUGH:
            say(f"whether memory still grows is judged of {ENOUGH} bodies and more that are all answered")
            return False
        tenths = [f"{statistics.median(looked[at : at + LOOKS // 10]):.0f}" for at in range(0, LOOKS, LOOKS // 10)]
        some, quarter = LOOKS // 20, 3 * LOOKS // 4
        more = statistics.median(looked[-some:]) - statistics.median(looked[quarter - some : quarter])
        say(f"memory, MiB, medians of tenths: {', '.join(tenths)}")
        say(f"over the last quarter {more:+.1f} MiB; at most {GROWTH:g} may be")
        return more > GROWTH

    def whole(self, unit):
        """Say it all."""
        for (name, status), count in sorted(self.statuses.items()):
            say(f"{name:24} {status} {count}")
        say("slowest: {:.2f} s {}, {}, {} bytes".format(self.slowest[0], unit, *self.slowest[1:]))
        for status in sorted({status for _, status in self.statuses}):
            say(f"{status}: {sum(count for (_, one), count in self.statuses.items() if one == status)}")
        seconds, load = time.monotonic() - self.start, os.getloadavg()[0]
        say(f"{sum(self.statuses.values())} bodies in {seconds:.0f} s, {len(self.faults)} faults, load {load:.0f}")


def in_process(told, bodies):
    """Ask here."""

    def ask(call, body):
        before = time.thread_time()
        return hostile.check(call, body), time.thread_time() - before

    warm()
    for call, body in bodies:
        told.ask(call, body, ask)
        if told.enough:
            return


def sent(connection, call, body):
    """Return what a body is told."""
    connection.request("POST", call.path, body, {"Content-Type": "application/json"})
    answer = connection.getresponse()
    return answer.status, answer.read()


def over_http(told, served, bodies):
    """Let callers side by side send the bodies, each over a connection that is kept."""
    taking = threading.Lock()

    def call_on():
        connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=PATIENCE)

        def ask(call, body):
            before = time.monotonic()
            try:
                status, text = sent(connection, call, body)
                while status == 503 and time.monotonic() - told.start < PATIENCE:  # a first start still compiles
                    time.sleep(1.0)
                    status, text = sent(connection, call, body)
            except (OSError, http.client.HTTPException):
                connection.close()
                raise
            hostile.judge(call, status, text)
            return status, time.monotonic() - before

        while not told.enough:
            with taking:
                given = next(bodies, None)
            if given is None:
                return
            told.ask(*given, ask)

    callers = [threading.Thread(target=call_on) for _ in range(CALLERS)]
    health = threading.Thread(target=watch, args=(served.port, ended := threading.Event()))
    for thread in (*callers, health):
        thread.start()
    for thread in callers:
        thread.join()
    ended.set()
    health.join()


def watch(port, ended):
    """Ask for health again and again, and say how long it took."""
    taken = []
    while not ended.wait(0.1):
        start = time.monotonic()
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
        connection.request("GET", "/health/ready")
        assert connection.getresponse().status == 200
        connection.close()
        taken.append(time.monotonic() - start)
    taken.sort()
    at = ", ".join(f"{share} % {1e3 * taken[len(taken) * share // 100]:.0f} ms" for share in (50, 95, 99))
    say(f"health meanwhile, {len(taken)} times: {at}, worst {1e3 * taken[-1]:.0f} ms")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--faults", type=int, default=20, help="stop after so many different faults")
    parser.add_argument("--over-http", action="store_true")
    chosen = parser.parse_args()
    bodies = iter(hostile.bodies(chosen.count, chosen.seed))
    if chosen.over_http:
        with Served(compute_timeout=PATIENCE, read_timeout=60.0) as served:
            told = Told(chosen, served.memory)
            over_http(told, served, bodies)
            say(f"the server holds {served.memory():.0f} MiB")
        told.whole("until told")
    else:
        told = Told(chosen, lambda: held(os.getpid()) / 1024)
        in_process(told, bodies)
        told.whole("of the processor")
    return 1 if told.grows or told.faults or not told.statuses else 0


if __name__ == "__main__":
    sys.exit(main())
