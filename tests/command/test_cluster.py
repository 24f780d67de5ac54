"""Designs checked by a cluster: a real scheduler and worker processes on loopback, one of them killed on the way."""

import json
import subprocess
import time

import pytest

from clustering import Cluster, kill
from commanding import COMMAND, HOME, run, small
from random_documents import document


def lines(path):
    return [json.loads(line) for line in path.read_text().splitlines()]


def test_a_cluster_answers_as_this_machine_does_though_a_worker_is_killed(tmp_path):
    """Every design once, in order, the same bytes."""
    designs = tmp_path / "designs.ndjson"
    designs.write_text("".join(json.dumps(document(seed)) + "\n" for seed in range(400)))
    here, there = tmp_path / "here.ndjson", tmp_path / "there.ndjson"
    run("check", designs, "--processes", 1, "-o", here, "--print", "json")
    with Cluster(tmp_path) as cluster:
        assert any(killed_midway(cluster, designs, there) for _ in range(10))
    assert len(lines(there)) == 400
    assert there.read_bytes() == here.read_bytes()


def killed_midway(cluster, designs, there):
    """Check designs to their end, a worker killed when a fifth is answered; return False where all were by then."""
    there.unlink(missing_ok=True)
    asked = subprocess.Popen(
        [*COMMAND, "check", str(designs), "--on", cluster.address, "-o", str(there), "--print", "json"],
        env=HOME, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    until = time.monotonic() + 300
    while asked.poll() is None and (not there.exists() or there.read_bytes().count(b"\n") < 80):
        assert time.monotonic() < until
        time.sleep(0.02)
    midway = asked.poll() is None and there.read_bytes().count(b"\n") < 300
    if midway:
        kill(cluster.workers[0])
    _, said = asked.communicate(timeout=300)
    assert asked.returncode in (0, 1, 2), said
    return midway


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
