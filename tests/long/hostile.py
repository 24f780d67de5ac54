"""`python tests/long/hostile.py --count 100000`: many hostile bodies, and a count of what they were told."""

import argparse
import collections
import resource
import sys
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
import hostile  # after its folder is known
from airbough_service.core.warm import warm  # after its folder is known


def say(line):
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--faults", type=int, default=20, help="stop after so many different faults")
    chosen = parser.parse_args()
    warm()
    told, faults, start, slowest = collections.Counter(), {}, time.monotonic(), (0.0, "", 0)
    for number, (call, body) in enumerate(hostile.bodies(chosen.count, chosen.seed), 1):
        try:
            before = time.thread_time()
            told[call.name, hostile.check(call, body)] += 1
            spent = time.thread_time() - before
            if spent > slowest[0]:
                slowest = (spent, call.name, len(body))
        except Exception as error:
            frame = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{call.name}: {type(error).__name__} at {Path(frame.filename).name}:{frame.lineno}"
            if place not in faults:
                faults[place] = body
                say(f"{place}: {str(error)[:300]}\n  {body[:3000]!r}")
            if len(faults) >= chosen.faults:
                break
        if number % 1_000 == 0:
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
            say(f"{number} bodies, {time.monotonic() - start:.0f} s, {len(faults)} faults, at most {memory} MB")
    for (name, status), count in sorted(told.items()):
        say(f"{name:24} {status} {count}")
    say("slowest: {:.2f} s of the processor, {}, {} bytes".format(*slowest))
    say(f"{sum(told.values())} bodies answered in {time.monotonic() - start:.0f} s, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
