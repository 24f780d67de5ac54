"""Which test reaches which line, and how long each takes: a pytest plugin around coverage's contexts."""

import functools
import gc
import signal
import sys
import time
from pathlib import Path

import coverage
import pytest

LIMIT = 3.0
"""Seconds of the processor: a test that takes longer, watched, is not chosen for mutants."""

KEPT = ("airbough_service.core", "airbough_service.catalogue", "airbough.")
"""What these remember between tests does not hide a mutant: they are not mutated where they remember."""


class Reach:
    """Keeps, of every test that passes, its seconds and the lines of the watched modules that it reaches."""

    def __init__(self, copy: Path, modules: list[str]):
        self.copy, self.modules = copy, modules
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        self.known = 0
        self.caches: list = []
        self.coverage = coverage.Coverage(
            data_file=None, config_file=False, include=[str(copy / name) for name in modules]
        )
        signal.signal(signal.SIGPROF, out_of_time)
        self.coverage.start()
        self.coverage.switch_context("import")

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector):
        """Count what a file computes while it is imported for all of its tests."""
        self.coverage.switch_context(f"setup {collector.nodeid}" if collector.nodeid.endswith(".py") else "import")
        return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_setup(self, item):
        self.forget()
        self.coverage.switch_context(f"setup {item.nodeid.split('::')[0]}")
        signal.setitimer(signal.ITIMER_PROF, LIMIT)
        self.started = time.process_time()
        return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_call(self, item):
        self.coverage.switch_context(f"test {item.nodeid}")
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            self.seconds[item.nodeid] = time.process_time() - self.started
            self.coverage.switch_context("between")

    def pytest_runtest_logreport(self, report):
        if report.when == "teardown":
            signal.setitimer(signal.ITIMER_PROF, 0.0)
        if not report.passed:
            self.failed.add(report.nodeid)

    def forget(self):
        """Empty the caches of what is mutated and of the tests, so that a test reaches what it would reach alone."""
        if len(sys.modules) != self.known:
            self.known = len(sys.modules)
            self.caches = caches(self.copy)
        for cache in self.caches:
            cache.cache_clear()

    def told(self):
        """Return seconds by test, and by context the lines by module as one number, a bit a line."""
        self.coverage.stop()
        data = self.coverage.get_data()
        lines: dict[str, dict[str, int]] = {}
        for name in self.modules:
            for line, contexts in data.contexts_by_lineno(str(self.copy / name)).items():
                for context in contexts:
                    of = lines.setdefault(context, {})
                    of[name] = of.get(name, 0) | 1 << line
        return {test: one for test, one in self.seconds.items() if test not in self.failed}, lines


def caches(copy):
    """Return the caches of what is mutated and of the tests."""
    found = [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)]
    return [one for one in found if _forgotten(copy, one.__module__ or "")]


def _forgotten(copy, name):
    file = getattr(sys.modules.get(name), "__file__", None) or ""
    return file.startswith(str(copy)) and not name.startswith(KEPT)


def out_of_time(*_):
    raise TimeoutError(f"longer than {LIMIT} s")
