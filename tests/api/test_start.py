"""The server as a person starts it: a process of its own, on the loopback address."""

import contextlib
import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time

import pytest
from joserfc.jwk import OKPKey

import airbough
from airbough_service.api.document import examples
from airbough_service.api.server import STOP_SECONDS
from airbough_service.core.warm_parts import PARTS
from heavy import hoods_along_a_main
from serving import children, free_port, has_ended, have_all_compiled

READY = re.compile(r"Airbough is ready on http://127\.0\.0\.1:(\d+) \(docs at /docs\)\n")


PATIENCE = 120
"""Seconds after which what should come soon is taken never to come: on a busy machine soon is not at once."""


def start(*arguments, **environment):
    """Start a server that says little: while it compiles for minutes nobody reads what it says of each look at it.

    It has nothing to compile, but in a folder for that of its own.
    """
    if "NUMBA_CACHE_DIR" not in environment:
        have_all_compiled()
    kept = {name: text for name, text in os.environ.items() if not name.startswith("AIRBOUGH_")}
    return subprocess.Popen(
        [sys.executable, "-m", "airbough_service", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=kept | {"AIRBOUGH_LOG_LEVEL": "warning"} | environment,
    )


@pytest.fixture(scope="module")
def server():
    yield from served(start("--host", "127.0.0.1", "--port", "0"))


@pytest.fixture(scope="module")
def impatient():
    """One that waits a second for a head, and then for a body."""
    yield from served(start("--host", "127.0.0.1", "--port", "0", AIRBOUGH_READ_TIMEOUT="1"))


def served(process):
    """Yield a server and its port, and see that it ends as it should."""
    line = process.stdout.readline()
    try:
        yield process, int(READY.fullmatch(line)[1])
    finally:
        process.send_signal(signal.SIGTERM)
        rest, _ = process.communicate(timeout=PATIENCE)
        assert rest == "", "more than one line on standard output"
        assert process.returncode == 0


def test_the_server_says_once_that_it_is_ready_and_then_answers(server):
    _, port = server
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    connection.request("GET", "/v1/air?units=us&value=air.density")
    answer = connection.getresponse()
    assert answer.status == 200
    # Standard air, 1.2 kg/m3 (ISO 5801, from memory), in lb/ft3; warm and moist air of a shop differs by some percent.
    assert float(answer.read()) == pytest.approx(0.0749, rel=0.03)
    connection.close()


def test_a_body_that_does_not_arrive_is_given_up(impatient):
    """After 1 s; ordinarily 15 s."""
    _, port = impatient
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as slow:
        start_time = time.monotonic()
        slow.sendall(
            b"POST /v1/trees/balance HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
            b"Content-Length: 100\r\n\r\n{"
        )
        answer = slow.recv(65536).decode()
    assert answer.startswith("HTTP/1.1 408")
    assert 0.9 < time.monotonic() - start_time < 14


def test_a_head_that_does_not_arrive_is_given_up(impatient):
    """Else it would hold up a stop for longer than the stop may take; the server below by itself waits for 30 s."""
    _, port = impatient
    with socket.create_connection(("127.0.0.1", port), timeout=25) as slow:
        slow.sendall(b"GET /v1/air?units=us HTTP/1.1\r\nHo")
        assert slow.recv(65536) in (b"", b"HTTP/1.1 408 Request Timeout\r\n")


def test_a_body_announced_too_large_is_refused_before_it_comes(server):
    _, port = server
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as large:
        large.sendall(
            b"POST /v1/trees/balance HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
            b"Content-Length: 1000000000\r\n\r\n"
        )
        assert large.recv(65536).startswith(b"HTTP/1.1 413")


@pytest.mark.parametrize("pieces", [1, 700])
def test_no_line_of_a_batch_is_lost_over_a_real_connection(server, pieces):
    _, port = server
    request = {"units": "us", "diameter": 6}
    lines = [json.dumps({"id": str(index), "question": "traverse", "request": request}) + "\n" for index in range(3000)]
    text = "".join(lines).encode()
    size = -(-len(text) // pieces)
    body = (text[start : start + size] for start in range(0, len(text), size))
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    connection.request(
        "POST", "/v1/batches", body=body, headers={"Content-Type": "application/x-ndjson"}, encode_chunked=True
    )
    *answers, counts = connection.getresponse().read().splitlines()
    connection.close()
    assert json.loads(counts) == {"lines": 3000, "answered": 3000, "refused": 0}
    assert [json.loads(answer)["id"] for answer in answers] == [str(index) for index in range(3000)]


def ended(process):
    """Ask a server to stop and return its status."""
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=PATIENCE)
    return process.returncode


def ready(process):
    return int(READY.fullmatch(process.stdout.readline())[1])


def refuses_to_start(*arguments, **environment):
    """Return status and complaint of a server that does not start."""
    process = start(*arguments, **environment)
    told, complaint = process.communicate(timeout=PATIENCE)
    assert told == ""
    assert "Traceback" not in complaint
    return process.returncode, complaint


def test_a_taken_port_stops_the_start_with_one_line(server):
    _, port = server
    status, complaint = refuses_to_start("--port", str(port))
    assert status == 1
    assert complaint == f"cannot listen on 127.0.0.1, port {port}: Address already in use\n"


def test_a_port_that_another_program_has_stops_the_start():
    with socket.create_server(("127.0.0.1", 0)) as other:
        status, complaint = refuses_to_start("--port", str(other.getsockname()[1]))
    assert (status, complaint.count("\n")) == (1, 1)


def test_a_worker_that_dies_is_replaced_while_the_other_serves():
    process = start("--port", "0", "--workers", "2")
    try:
        port = ready(process)
        workers = workers_of(process, 2)
        until = time.monotonic() + PATIENCE
        os.kill(workers[0], signal.SIGKILL)
        answered = 0
        while (now := children(process.pid)) == workers or len(now) < 2 or answered < 50:
            assert json.loads(get(port, "/v1/air?units=us"))["units"]
            answered += 1
            assert time.monotonic() < until
        assert workers[1] in now
        assert workers[0] not in now
    finally:
        assert ended(process) == 0


def workers_of(process, count):
    """Return a server's workers once there are so many: it is ready with the first."""
    until = time.monotonic() + PATIENCE
    while len(workers := children(process.pid)) < count:
        assert time.monotonic() < until
        time.sleep(0.1)
    return workers


@pytest.mark.parametrize("first", ["no", "yes"], ids=["at once", "when ready"])
@pytest.mark.parametrize("count", ["1", "2"])
def test_told_to_stop_while_it_compiles_the_server_ends_and_need_not_be_killed(tmp_path, first, count):
    """It listens meanwhile, or not yet, as it is told."""
    environment = {"NUMBA_CACHE_DIR": str(tmp_path), "AIRBOUGH_LISTEN_WHEN_READY": first}
    process = start("--port", str(port := free_port()), "--workers", count, **environment)
    until = time.monotonic() + PATIENCE
    while not list(tmp_path.glob("kernel-*/*.lock")):
        assert time.monotonic() < until
        time.sleep(0.05)
    if first == "yes":
        with pytest.raises(ConnectionRefusedError):
            get(port, "/health/live")
    else:
        while True:
            assert time.monotonic() < until
            with contextlib.suppress(ConnectionRefusedError):  # compiling begins a moment before
                assert "busy" in get(port, "/v1/air?units=us")
                break
            time.sleep(0.02)
    process.send_signal(signal.SIGTERM)
    told_to_stop = time.monotonic()
    told, _ = process.communicate(timeout=PATIENCE)
    assert (told, process.returncode) == ("", 0)
    # Not by what is complained of: a worker in its last millisecond, its files closed, is told to have refused.
    assert time.monotonic() - told_to_stop < STOP_SECONDS
    noted = [part for part in PARTS if list(tmp_path.glob(f"kernel-*/{part}-*"))]
    assert len(noted) < len(PARTS), "it was told while it compiled"


@pytest.mark.parametrize("count", ["1", "2"])
def test_no_worker_outlives_the_process_that_watches(count):
    process = start("--port", "0", "--workers", count)
    port = ready(process)
    workers = workers_of(process, int(count))
    process.kill()
    process.wait(PATIENCE)
    until = time.monotonic() + PATIENCE
    while not all(map(has_ended, workers)):
        assert time.monotonic() < until
        time.sleep(0.1)
    with pytest.raises(ConnectionRefusedError):
        get(port, "/health/live")
    process.communicate()


def test_told_to_stop_the_server_answers_what_is_under_way():
    """Four heavy questions and a batch of some seconds are answered; a longer one: tests/long/test_stopping.py."""
    process = start("--port", "0", AIRBOUGH_COMPUTE_TIMEOUT="60")
    port = ready(process)
    heavy = json.dumps(hoods_along_a_main(14))
    batch = "\n".join(f'{{"id": "{number}", "question": "gate-states", "request": {heavy}}}' for number in range(5))
    with contextlib.ExitStack() as opened:
        whole = opened.enter_context(under_way(port, "/v1/batches", batch, "application/x-ndjson"))
        single = [
            opened.enter_context(under_way(port, "/v1/trees/gate-states", heavy, "application/json")) for _ in range(4)
        ]
        process.send_signal(signal.SIGTERM)
        for connection in single:
            assert all_of(connection).startswith(b"HTTP/1.1 200 ")
        answers = all_of(whole)
    assert answers.startswith(b"HTTP/1.1 200 ")
    assert b'{"lines":5,"answered":5,"refused":0}\n' in answers
    process.communicate(timeout=PATIENCE)
    assert process.returncode == 0


def under_way(port, path, body, kind):
    """Return a connection whose request is under way: the service has asked for its body."""
    connection = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE)
    connection.sendall(
        f"POST {path} HTTP/1.1\r\nHost: x\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n"
        "Connection: close\r\nExpect: 100-continue\r\n\r\n".encode()
    )
    assert connection.recv(65536) == b"HTTP/1.1 100 Continue\r\n\r\n"
    connection.sendall(body.encode())
    return connection


def all_of(connection):
    read = b""
    while piece := connection.recv(65536):
        read += piece
    return read


def test_all_settings_that_no_server_can_run_with_stop_the_start_at_once(tmp_path):
    (tmp_path / "keys").write_text("no line of keys\n")
    (tmp_path / "signing").write_text("{}")
    status, complaint = refuses_to_start(
        AIRBOUGH_KEYS_FILE=str(tmp_path / "keys"),
        AIRBOUGH_SIGNING_KEY_FILE=str(tmp_path / "signing"),
        AIRBOUGH_ALLOWED_ORIGINS="shop.example, https://shop.example/",
        AIRBOUGH_TRUSTED_PROXIES="proxy",
        AIRBOUGH_TRACE_ENDPOINT="collector",
        AIRBOUGH_RATE_STORE="redis://127.0.0.1",
    )
    assert status == 2
    named = [line.partition(":")[0] for line in complaint.splitlines()]
    assert sorted(named) == [
        "AIRBOUGH_ALLOWED_ORIGINS", "AIRBOUGH_ALLOWED_ORIGINS", "AIRBOUGH_KEYS_FILE", "AIRBOUGH_RATE_STORE",
        "AIRBOUGH_SIGNING_KEY_FILE", "AIRBOUGH_TRACE_ENDPOINT", "AIRBOUGH_TRUSTED_PROXIES",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["--port", "http"], "AIRBOUGH_PORT"),
        (["--workers", "0"], "AIRBOUGH_WORKERS"),
        (["--host", ""], "AIRBOUGH_KEYS_FILE"),
    ],
)
def test_the_command_line_is_checked_as_the_environment_is(arguments, named):
    status, complaint = refuses_to_start(*arguments)
    assert status in (1, 2)
    assert named in complaint


def test_a_setting_that_cannot_be_read_stops_the_start():
    process = start(AIRBOUGH_PORT="http")
    told, complaint = process.communicate(timeout=PATIENCE)
    assert process.returncode == 2
    assert told == ""
    assert "AIRBOUGH_PORT" in complaint


def test_two_workers_count_together():
    process = start("--port", "0", "--workers", "2")
    try:
        port = int(READY.fullmatch(process.stdout.readline())[1])
        for _ in range(20):
            get(port, "/v1/air?units=us")
        # A request is counted once its last byte has left: another worker may be asked before that.
        deadline = time.monotonic() + PATIENCE
        while (counted := counted_by(port, "/v1/air")) < 20 and time.monotonic() < deadline:
            time.sleep(0.05)
        assert counted == 20
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=PATIENCE)


def counted_by(port, route):
    """Sum all workers' counts of a route's requests."""
    found = re.findall(rf'request_seconds_count{{[^}}]*route="{route}"[^}}]*}} ([0-9.]+)', get(port, "/metrics"))
    return sum(map(float, found))


def test_an_address_that_others_reach_stops_the_start():
    process = start("--host", "0.0.0.0", "--port", "0")
    told, complaint = process.communicate(timeout=PATIENCE)
    assert process.returncode == 2
    assert told == ""
    assert "AIRBOUGH_PUBLIC_UNPROTECTED" in complaint


def get(port, path):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    try:
        connection.request("GET", path)
        return connection.getresponse().read().decode()
    finally:
        connection.close()


def test_over_a_real_connection_answers_are_signed_and_callers_behind_a_proxy_told_apart(tmp_path):
    (tmp_path / "key.json").write_text(json.dumps(OKPKey.generate_key("Ed25519").as_dict(private=True)))
    settings = {"AIRBOUGH_RATE": "0.001", "AIRBOUGH_BURST": "3", "AIRBOUGH_TRUSTED_PROXIES": "127.0.0.0/8"}
    process = start("--port", "0", **settings, AIRBOUGH_SIGNING_KEY_FILE=str(tmp_path / "key.json"))
    try:
        port = int(READY.fullmatch(process.stdout.readline())[1])
        keys = json.loads(get(port, "/.well-known/jwks.json"))
        shop = examples.request("balance")
        for caller in ("198.51.100.1", "198.51.100.2"):
            with airbough.Client(
                f"http://127.0.0.1:{port}", headers={"X-Forwarded-For": caller}, verify_with=keys, retries=0
            ) as client:
                assert client.air(units="us", temperature="70 degF").air
                assert client.fitting("elbow", units="us").fitting
                assert [result.status for result in client.batch([("a", "balance", shop)])] == [200]
                with pytest.raises(airbough.RateLimited):
                    client.balance(shop)
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=PATIENCE)
