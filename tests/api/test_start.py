"""The server as a person starts it: a process of its own, on the loopback address."""

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import time

import pytest

READY = re.compile(r"Airbough is ready on http://127\.0\.0\.1:(\d+) \(docs at /docs\)\n")


def start(*arguments, **environment):
    kept = {name: text for name, text in os.environ.items() if not name.startswith("AIRBOUGH_")}
    return subprocess.Popen(
        [sys.executable, "-m", "airbough_service", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=kept | environment,
    )


@pytest.fixture(scope="module")
def server():
    process = start("--host", "127.0.0.1", "--port", "0", AIRBOUGH_READ_TIMEOUT="1")
    line = process.stdout.readline()
    try:
        yield process, int(READY.fullmatch(line)[1])
    finally:
        process.send_signal(signal.SIGTERM)
        rest, _ = process.communicate(timeout=20)
        assert rest == "", "more than one line on standard output"
        assert process.returncode == 0


def test_the_server_says_once_that_it_is_ready_and_then_answers(server):
    _, port = server
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("GET", "/v1/air?units=us&value=air.density")
    answer = connection.getresponse()
    assert answer.status == 200
    # Standard air, 1.2 kg/m3 (ISO 5801, from memory), in lb/ft3; warm and moist air of a shop differs by some percent.
    assert float(answer.read()) == pytest.approx(0.0749, rel=0.03)
    connection.close()


def test_a_body_that_does_not_arrive_is_given_up(server):
    _, port = server
    with socket.create_connection(("127.0.0.1", port), timeout=10) as slow:
        slow.sendall(
            b"POST /v1/trees/balance HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
            b"Content-Length: 100\r\n\r\n{"
        )
        start_time = time.monotonic()
        answer = slow.recv(65536).decode()
    assert answer.startswith("HTTP/1.1 408")
    assert 0.5 < time.monotonic() - start_time < 8


def test_a_body_announced_too_large_is_refused_before_it_comes(server):
    _, port = server
    with socket.create_connection(("127.0.0.1", port), timeout=10) as large:
        large.sendall(
            b"POST /v1/trees/balance HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
            b"Content-Length: 1000000000\r\n\r\n"
        )
        assert large.recv(65536).startswith(b"HTTP/1.1 413")


def test_a_setting_that_cannot_be_read_stops_the_start():
    process = start(AIRBOUGH_PORT="http")
    told, complaint = process.communicate(timeout=30)
    assert process.returncode == 2
    assert told == ""
    assert "AIRBOUGH_PORT" in complaint
