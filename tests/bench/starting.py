"""How long a start takes: python tests/bench/starting.py [--cold]

Of the server: until its port answers, until it is ready for light questions and until it is complete; of a fresh
process: until airbough is imported, and until `airbough.local()` has answered once, both in processor time. With
`--cold` the server finds no compiled loops, in a folder of its own; else they are loaded. Other work on the machine
makes its wall time longer: beside it the processor time of the server and all that it started.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime
import http.client
import json
import os
import re
import resource
import signal
import subprocess
import sys
import tempfile
import time

from airbough_service.api.document import examples

IMPORTED = "import time; begun = time.process_time(); import airbough; print(time.process_time() - begun)"
ANSWERED = """
import json, sys, time
sys.modules["scipy"] = None  # numba loads it where it stands, as it does for the tests
asked = json.loads(sys.argv[1])
begun = time.process_time()
import airbough
airbough.local().operating_point(asked)
print(time.process_time() - begun)
"""


def started(environment: dict[str, str]) -> None:
    """Print what a start of the server takes."""
    command = [sys.executable, "-m", "airbough_service", "--port", "8765"]
    begun = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=os.environ | environment) as server:
        listening = _first_answer() - begun
        assert server.stdout is not None
        line = server.stdout.readline()
        ready = time.perf_counter() - begun
        assert re.match("Airbough is ready", line), line
        while not _asked("/health/ready")["complete"]:
            time.sleep(0.1)
        complete = time.perf_counter() - begun
        server.send_signal(signal.SIGTERM)
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = ((listening, "listens"), (ready, "ready"), (complete, "complete"))
    whens = ", ".join(f"{what} after {seconds:.1f} s" for seconds, what in told)
    print(f"server: {whens}, {spent.ru_utime:.1f} s of processors, load {os.getloadavg()[0]:.1f} then")


def _first_answer() -> float:
    """Return when the port first answers."""
    while True:
        with contextlib.suppress(OSError, http.client.HTTPException):
            _asked("/health/live")
            return time.perf_counter()
        time.sleep(0.02)


def _asked(path: str) -> dict[str, bool]:
    """Return what the server says of itself."""
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", 8765, timeout=2)) as connection:
        connection.request("GET", path)
        told: dict[str, bool] = json.loads(connection.getresponse().read())
        return told


def least(program: str, *given: str) -> float:
    """Return the least of what a program prints, run in fresh processes."""
    return min(float(subprocess.check_output([sys.executable, "-c", program, *given])) for _ in range(7))


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--cold", action="store_true")
    given = arguments.parse_args()
    print(datetime.date.today(), f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    with tempfile.TemporaryDirectory() as folder:
        started({"AIRBOUGH_LOG_LEVEL": "error", **({"NUMBA_CACHE_DIR": folder} if given.cold else {})})
    if not given.cold:
        asked = json.dumps(examples.request("operating-point"))
        print(f"import airbough {least(IMPORTED):.3f} s, until local() has answered {least(ANSWERED, asked):.2f} s")


if __name__ == "__main__":
    main()
