"""A server that can keep nothing of what it compiles: it serves all the same, and says so once."""

import json
import os
import resource
import subprocess
import sys
import time

import httpx
import pytest

from serving import free_port


@pytest.mark.long
def test_where_no_file_can_grow_it_compiles_for_itself_and_serves(tmp_path):
    """No file takes more than 100 bytes, as one of a full disk takes none; the log goes to a pipe."""
    port = free_port()
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path), "AIRBOUGH_LOG_LEVEL": "warning"}
    with subprocess.Popen(
        [sys.executable, "-m", "airbough_service", "--port", str(port)], env=environment, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100)),
    ) as process:  # fmt: skip
        assert process.stdout.readline().startswith("Airbough is ready on ")
        until = time.monotonic() + 60
        while not (told := httpx.get(f"http://127.0.0.1:{port}/health/ready").json())["complete"]:
            assert time.monotonic() < until
            time.sleep(0.1)
        assert told == {"ready": True, "complete": True}
        assert httpx.get(f"http://127.0.0.1:{port}/v1/air?units=us").status_code == 200
        process.terminate()
        _, complaint = process.communicate(timeout=60)
    assert process.returncode == 0
    (line,) = map(json.loads, complaint.splitlines())
    assert "cannot be kept" in line["message"]
    assert line["why"] == "File too large"
