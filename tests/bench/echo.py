"""The operating-point endpoint beside an echo handler with the same bytes, under the same server, on loopback.

    python tests/bench/echo.py

The echo decodes the same request struct and sends back the same answer's bytes, without physics. Closed loop,
keep-alive, a few connections in threads of this process: both share the machine's two cores with the client, so only
the ratio says anything.
"""

import json
import socket
import statistics
import subprocess
import sys
import time
from pathlib import Path

from closed_loop import answers

ROOT = Path(__file__).resolve().parents[2]
SECONDS, CONNECTIONS = 4.0, 2


def started(module: str) -> tuple[subprocess.Popen, int]:
    """Start a server that prints its address; return process and port."""
    process = subprocess.Popen([sys.executable, *module.split(), "--port", "0"], stdout=subprocess.PIPE,
                               stderr=subprocess.DEVNULL, text=True)  # fmt: skip
    line = process.stdout.readline()
    port = int(line.split("127.0.0.1:")[1].split()[0])
    for _ in range(100):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.1)
    return process, port


def load(port: int, path: str, body: bytes) -> tuple[float, float]:
    """Return requests a second and the median time of one, s."""
    times = answers(port, path, body, CONNECTIONS, SECONDS)
    return len(times) / SECONDS, statistics.median(times)


def main() -> None:
    """Print both figures and their ratio."""
    body = json.dumps(json.loads((ROOT / "deploy" / "shop.json").read_text())).encode()
    figures = {}
    for label, module, path in (
        ("operating point", "-m airbough_service", "/v1/trees/operating-point"),
        ("echo", str(Path(__file__).with_name("echo_server.py")), "/echo"),
    ):
        process, port = started(module)
        try:
            load(port, path, body)
            figures[label] = load(port, path, body)
        finally:
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
        print(f"{label:>16}: {figures[label][0]:7.0f} requests a second, median {figures[label][1] * 1e3:.2f} ms")
    print(f"the physics and its findings cost {figures['operating point'][1] / figures['echo'][1]:.2f} times an echo")


if __name__ == "__main__":
    main()
