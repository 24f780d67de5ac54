"""What a check of many designs takes with the engine here: python tests/bench/designs.py --designs 10000 --processes 2

Invented shops of sixteen runs as lines of NDJSON, checked by the command `airbough check`; start and verdicts included.
"""

from __future__ import annotations

import argparse
import datetime
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import sixteen_runs


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--designs", type=int, default=10_000)
    arguments.add_argument("--processes", type=int, default=2)
    given = arguments.parse_args()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "designs.ndjson"
        path.write_bytes(b"".join(msgspec.json.encode(sixteen_runs.shop(k)) + b"\n" for k in range(given.designs)))
        words = ["check", str(path), "--processes", str(given.processes), "--print", "json"]
        code = "from airbough.command import run; run()"
        begun = time.monotonic()
        told = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, check=False)
        wall = time.monotonic() - begun
    rows = msgspec.json.decode(told.stdout)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = used.ru_utime + used.ru_stime
    verdicts = {verdict: sum(row["verdict"] == verdict for row in rows) for verdict in ("holds", "fails", "refused")}
    print(
        f"{datetime.date.today()}  {given.designs} designs, {given.processes} cores, load {os.getloadavg()[0]:.0f}: "
        f"{wall:.1f} s, {spent:.1f} s of the processors, {1e3 * spent / given.designs:.2f} ms a design; {verdicts}"
    )


if __name__ == "__main__":
    main()
