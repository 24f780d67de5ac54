"""A real scheduler and its worker processes on loopback, for tests of what is handed to a cluster."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time

from commanding import HOME

QUIET = {"DASK_DISTRIBUTED__ADMIN__TICK__LIMIT": "1h"}  # a busy test machine is no reason to warn
ESTABLISHED = "Starting established connection"


class Cluster:
    """A scheduler and so many workers of one thread each; `address` is what `--on` takes, once they have joined."""

    def __init__(self, folder, workers=2):
        self._folder, self._began = folder, []
        self._told = folder / "scheduler.json"
        self.workers = []
        self._workers_asked = workers

    def __enter__(self):
        self._start(
            "scheduler", "--host", "127.0.0.1", "--port", 0, "--no-dashboard", "--scheduler-file", self._told
        )  # fmt: skip
        for _ in range(self._workers_asked):
            self.add()
        self.wait(self._workers_asked)
        return self

    def __exit__(self, *_):
        for process in self._began:
            kill(process)

    def add(self):
        """Start one more worker."""
        self.workers.append(self._start(
            "worker", "--scheduler-file", self._told, "--host", "127.0.0.1", "--nthreads", 1, "--no-dashboard",
            "--no-nanny", "--local-directory", self._folder,
        ))  # fmt: skip

    @property
    def address(self):
        """Where the scheduler is."""
        return json.loads(self._told.read_text())["address"].replace("tcp://", "dask://")

    def wait(self, joined, seconds=300):
        """Wait until so many workers have joined since the start."""
        log, until = self._folder / "worker.log", time.monotonic() + seconds
        while log.read_text().count(ESTABLISHED) < joined:
            assert time.monotonic() < until, log.read_text()[-2000:]
            time.sleep(0.2)

    def _start(self, name, *words):
        program = (sys.executable, "-c", f"from distributed.cli.dask_{name} import main; main()")
        with (self._folder / f"{name}.log").open("ab") as log:
            self._began.append(subprocess.Popen(
                [*program, *map(str, words)], stdout=log, stderr=log, env=os.environ | HOME | QUIET, cwd=self._folder,
                start_new_session=True,
            ))  # fmt: skip
        return self._began[-1]


def kill(process):
    """Kill a process and its children at once."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(20)
