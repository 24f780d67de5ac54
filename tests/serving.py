"""The service as a process of its own on loopback, for tests that ask it from outside."""

import contextlib
import functools
import http.client
import http.server
import itertools
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time

READY = re.compile(r"Airbough is ready on http://127\.0\.0\.1:(\d+) ")
_PORTS = range(20_000, 32_000)  # below those that systems give to connections and to port 0
_NEXT = itertools.cycle([*_PORTS[61 * os.getpid() % len(_PORTS) :], *_PORTS[: 61 * os.getpid() % len(_PORTS)]])


def free_port():
    """Return a port of loopback that nobody listens on, nor takes by chance: where port 0 will do, that is surer."""
    for port in _NEXT:
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    raise AssertionError


@functools.cache
def have_all_compiled():
    """Have the loops compiled: a server that still has to says that it is ready before it takes every question."""
    from airbough_service.api.compilers import Compilers

    with Compilers() as beside:
        beside.wait()


class Served:
    """A running service; `with Served() as served` ends it.

    Keyword arguments are settings by their names in `Settings`; `log`: a file for what it says on standard error.
    """

    START = 150
    """Seconds that it may take to start."""

    def __init__(self, port=0, log=None, **settings):
        self._log = log
        kept = {name: text for name, text in os.environ.items() if not name.startswith("AIRBOUGH_")}
        self._environment = kept | {f"AIRBOUGH_{name.upper()}": str(value) for name, value in settings.items()}
        self.port = port
        self.process = None

    @property
    def address(self):
        """Where it is, once it has started."""
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.stop()

    def start(self):
        """Start the process and wait until it says that it is ready, for any question."""
        have_all_compiled()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "airbough_service", "--host", "127.0.0.1", "--port", str(self.port)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL if self._log is None else self._log,
            text=True,
            env=self._environment,
            start_new_session=True,
        )
        watchdog = threading.Timer(self.START, self.process.kill)
        watchdog.start()
        line = self.process.stdout.readline()
        watchdog.cancel()
        said = READY.match(line)
        if not said:
            self.stop()
            raise RuntimeError(f"the service did not become ready; it said {line!r}")
        self.port = int(said[1])
        until = time.monotonic() + self.START
        while not self._is_complete():
            assert time.monotonic() < until
            time.sleep(0.1)

    def _is_complete(self):
        """Return whether all is compiled: in a folder of its own, or none, that takes longer than to be ready."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        with contextlib.closing(connection):
            connection.request("GET", "/health/ready")
            return json.loads(connection.getresponse().read()).get("complete", False)

    def send(self, number):
        """Send a signal to the process and its workers, as losing a machine would; wait for the end."""
        os.killpg(self.process.pid, number)
        self.process.wait(30)
        self.process.stdout.close()

    def stop(self):
        """End the process, gently and then not."""
        if self.process is None:
            return
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                os.killpg(self.process.pid, signal.SIGKILL)
                self.process.wait(20)
        self.process.stdout.close()
        self.process = None

    def memory(self):
        """Return the memory that the process and its workers hold of their own, in MiB (Linux).

        Files mapped into memory are left out: what they count for depends on who else has them open.
        """
        return sum(held(number) for number in family(self.process.pid)) / 1024


def children(number):
    """Return the numbers of the processes that a process has started: of a server its workers."""
    with contextlib.suppress(OSError), open(f"/proc/{number}/task/{number}/children") as listed:
        return [int(child) for child in listed.read().split()]
    return []


def family(number):
    """Return a process's number and those of all below it."""
    return [number, *(below for child in children(number) for below in family(child))]


def has_ended(number):
    """Return whether a process is no more, or only waits for somebody to ask how it ended: no thread of it is left."""
    try:
        with open(f"/proc/{number}/stat") as told:
            return told.read().rpartition(")")[2].split()[0] in "ZX" and len(os.listdir(f"/proc/{number}/task")) == 1
    except OSError:
        return True


def held(number):
    """Return the memory that a process holds of its own, in KiB (Linux)."""
    try:
        with open(f"/proc/{number}/smaps_rollup") as told:
            return next(int(line.split()[1]) for line in told if line.startswith("Anonymous:"))
    except (OSError, StopIteration):
        return 0


class Echo(http.server.BaseHTTPRequestHandler):
    """Answers at once and does nothing else."""

    protocol_version = "HTTP/1.1"

    def do_GET(self):
        self.send_response(200)
        self.send_header("Content-Length", "2")
        self.end_headers()
        self.wfile.write(b"ok")

    def log_message(self, *_):
        """Say nothing."""
