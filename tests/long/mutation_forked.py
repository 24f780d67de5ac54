"""Tests run in a fork of a process that has already imported what does not change."""

import contextlib
import importlib
import os
import pickle
import resource
import signal
import sys
import tempfile
import time
import traceback
from pathlib import Path

import pytest

OUTSIDE = ("numba", "numpy", "scipy.optimize", "msgspec", "httpx", "cosmic_ray.mutating")
BELOW = (
    "airbough",
    "airbough_service.catalogue.families",
    "airbough_service.terms.finding",
    "airbough_service.core.warm",
)
"""What stands below every module but those of core that is mutated; it is imported once these are done."""

WALL = 20.0
"""Times its limit of the processor that a run may take on a busy machine."""

FLAGS = ("-q", "-x", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:schemathesis", "-p", "no:randomly")


def prepare(copy):
    """Let this process and its forks import the copy."""
    paths = [str(copy / name) for name in ("sdk", "service")]
    sys.path[:0] = paths
    os.environ["PYTHONPATH"] = os.pathsep.join(paths)
    for name in OUTSIDE:
        importlib.import_module(name)


def import_below():
    """Import what lies below the modules that are mutated next, and load or make its machine code."""
    for name in BELOW:
        importlib.import_module(name)
    sys.modules["airbough_service.core.warm"].warm()


class Chosen:
    """A pytest plugin: only the tests chosen, in their order; keeps which one failed."""

    def __init__(self, tests):
        self.rank = {test: number for number, test in enumerate(tests)}
        self.failed = ""

    def pytest_collection_modifyitems(self, items):
        items[:] = sorted((item for item in items if item.nodeid in self.rank), key=lambda item: self.rank[item.nodeid])

    def pytest_runtest_logreport(self, report):
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report):
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def told(self):
        return self.failed


def run(copy, files, make_plugin, uncompiled, limit, flags=FLAGS):
    """Run pytest in a fork; return its status (None: out of time), the plugin's `told()`, and what was printed."""
    with tempfile.TemporaryDirectory() as folder:
        told, said = Path(folder) / "told", Path(folder) / "said"
        child = os.fork()
        if not child:
            status = 99
            try:
                os.setsid()
                resource.setrlimit(resource.RLIMIT_CPU, (int(limit), int(limit) + 5))
                status = _child(copy, files, make_plugin, uncompiled, flags, told, said)
            except BaseException:
                said.write_text(traceback.format_exc())
            finally:
                os._exit(int(status))
        status = wait(child, WALL * limit)
        answer = pickle.loads(told.read_bytes()) if told.exists() else None
        return status, answer, said.read_text() if said.exists() else ""


def _child(copy, files, make_plugin, uncompiled, flags, told, said):
    out = os.open(said, os.O_WRONLY | os.O_CREAT)
    os.dup2(out, 1)
    os.dup2(out, 2)
    os.chdir(copy)
    sys.dont_write_bytecode = True
    chosen = options(uncompiled, flags)
    plugin = make_plugin()
    status = pytest.main([*chosen, "--rootdir", str(copy), *files], plugins=[plugin])
    told.write_bytes(pickle.dumps(plugin.told()))
    sys.stdout.flush()
    return status


def options(uncompiled, flags=FLAGS):
    """Return pytest's options; uncompiled, numba is told so too."""
    if not uncompiled:
        return list(flags)
    os.environ["NUMBA_DISABLE_JIT"] = "1"
    sys.modules["numba"].config.DISABLE_JIT = True
    return [*flags, "-W", "ignore::RuntimeWarning"]  # numpy warns of what machine code does silently


def wait(child, limit):
    """Return the exit status of a child, None where it runs out of time."""
    end = time.monotonic() + limit
    try:
        while time.monotonic() < end:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                status = os.waitstatus_to_exitcode(status)
                return None if status == -signal.SIGXCPU else status
            time.sleep(0.02)
    except BaseException:  # broken off by hand: leave nothing behind
        _end(child)
        raise
    _end(child)
    return None


def _end(child):
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
