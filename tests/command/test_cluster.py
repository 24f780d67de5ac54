"""Designs checked by a cluster: a real scheduler and worker processes on loopback, one of them killed on the way."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import time

import pytest

from commanding import COMMAND, HOME, run, small
from random_documents import document
from serving import free_port

QUIET = {"DASK_DISTRIBUTED__ADMIN__TICK__LIMIT": "1h"}  # a busy test machine is no reason to warn


@contextlib.contextmanager
def cluster(folder, workers=2):
    """Yield the address of a scheduler with so many worker processes, and those."""
    port, began = free_port(), []

    def start(name, *words):
        program = (sys.executable, "-c", f"from distributed.cli.dask_{name} import main; main()")
        with (folder / f"{name}.log").open("ab") as log:
            began.append(subprocess.Popen(
                [*program, *map(str, words)], stdout=log, stderr=log, env=os.environ | HOME | QUIET, cwd=folder,
                start_new_session=True,
            ))  # fmt: skip
        return began[-1]

    try:
        start("scheduler", "--host", "127.0.0.1", "--port", port, "--no-dashboard")
        told = [
            start("worker", f"tcp://127.0.0.1:{port}", "--host", "127.0.0.1", "--nthreads", 1, "--no-dashboard",
                  "--no-nanny", "--local-directory", folder)
            for _ in range(workers)
        ]  # fmt: skip
        until = time.monotonic() + 60
        while (folder / "worker.log").read_text().count("Starting established connection") < workers:
            assert time.monotonic() < until, (folder / "worker.log").read_text()[-2000:]
            time.sleep(0.2)
        yield f"dask://127.0.0.1:{port}", told
    finally:
        for process in began:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait(20)


def lines(path):
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_a_cluster_answers_as_this_machine_does_though_a_worker_is_killed(tmp_path):
    """Every design once, in order, the same bytes."""
    designs = tmp_path / "designs.ndjson"
    designs.write_text("".join(json.dumps(document(seed)) + "\n" for seed in range(400)))
    here, there = tmp_path / "here.ndjson", tmp_path / "there.ndjson"
    run("check", designs, "--processes", 1, "-o", here, "--print", "json")
    with cluster(tmp_path) as (address, workers):
        asked = subprocess.Popen(
            [*COMMAND, "check", str(designs), "--on", address, "-o", str(there), "--print", "json"],
            env=HOME, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        until = time.monotonic() + 120
        while not there.exists() or there.read_bytes().count(b"\n") < 80:
            assert asked.poll() is None, asked.stderr.read()
            assert time.monotonic() < until
            time.sleep(0.05)
        os.killpg(workers[0].pid, signal.SIGKILL)
        _, said = asked.communicate(timeout=300)
    assert asked.returncode in (0, 1, 2), said
    assert len(lines(there)) == 400
    assert there.read_bytes() == here.read_bytes()


@pytest.mark.parametrize(
    ("address", "said"),
    [("tcp://127.0.0.1:1", "dask://host:port"), ("dask://127.0.0.1:1", "127.0.0.1:1")],
)
def test_a_cluster_that_is_none_is_told_in_a_line(tmp_path, address, said):
    (tmp_path / "shop.json").write_text(json.dumps(small(700)))
    told = run("check", tmp_path / "shop.json", "--on", address)
    assert told.returncode == 2
    assert said in told.stderr
    assert "Traceback" not in told.stderr
