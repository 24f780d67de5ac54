"""What callers do to connections, against a server process on loopback: cut, garble, trickle, stall, leave."""

import contextlib
import http.client
import json
import re
import resource
import socket
import struct
import time

import pytest

from airbough_service.api.document import examples
from heavy import hoods_along_a_main
from serving import Served, family

BALANCE = examples.request("balance")
OPERATING_POINT = json.dumps(examples.request("operating-point")).encode()
BATCHES, NDJSON = "/v1/batches", "application/x-ndjson"
STALL = 1.0
PATIENCE = 120
"""Seconds after which what should come soon is taken never to come: on a busy machine soon is not at once."""


@pytest.fixture(scope="module")
def served():
    """One whose patience is the usual one, so that a caller held up by a busy machine is not taken for a slow one."""
    with Served(batch_lines_limit=3_000, batch_body_limit=20_000_000) as running:
        yield running


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log"


@pytest.fixture
def impatient(log):
    """One that soon gives up who sends nothing, or reads nothing."""
    with (
        log.open("wb") as kept,
        Served(log=kept, read_timeout=STALL, write_timeout=STALL, batches=2, batch_lines_limit=3_000) as running,
    ):
        yield running


@contextlib.contextmanager
def connected(served, buffer=None):
    with socket.socket() as made:
        if buffer:
            made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer)
        made.settimeout(PATIENCE)
        made.connect(("127.0.0.1", served.port))
        yield made


def head(path, length, kind="application/json", method="POST"):
    sized = "Transfer-Encoding: chunked" if length is None else f"Content-Length: {length}"
    return f"{method} {path} HTTP/1.1\r\nHost: x\r\nContent-Type: {kind}\r\n{sized}\r\n\r\n".encode()


def all_of(connection):
    read = b""
    with contextlib.suppress(ConnectionError):  # what came before a reset is there
        while piece := connection.recv(65536):
            read += piece
    return read


def told(raw):
    """Return status and problem of an answer as it came over the wire."""
    start, _, body = raw.partition(b"\r\n\r\n")
    return int(start.split()[1]), json.loads(body)


def exchange(served, sent, half_closed=False):
    with connected(served) as connection:
        connection.sendall(sent)
        if half_closed:
            connection.shutdown(socket.SHUT_WR)
        return told(all_of(connection))


def get(served, path):
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=PATIENCE)
    connection.request("GET", path)
    answer = connection.getresponse()
    read = answer.read().decode()
    connection.close()
    return read


def refused(served, kind):
    found = re.search(rf'airbough_refusals_total{{kind="{kind}"}} ([0-9.]+)', get(served, "/metrics"))
    return float(found[1]) if found else 0.0


def batch(question, request, count):
    rest = f', "question": "{question}", "request": {json.dumps(request)}}}'
    return "".join(f'{{"id": "{number}"{rest}\n' for number in range(count)).encode()


def post(served, path, body, kind="application/json"):
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=PATIENCE)
    connection.request("POST", path, body, {"Content-Type": kind})
    answer = connection.getresponse()
    read = answer.read()
    connection.close()
    return answer.status, read


@pytest.mark.parametrize("garbled", [b"zz\r\n{}\r\n", b"-1\r\n", b"5;x\r\n{}", b"ffffffffffffffffff\r\n"])
def test_garbled_chunks_are_told_as_a_body_that_is_not_whole(served, garbled):
    """RFC 9112, 7.1: chunk sizes are hexadecimal; RFC 9110, 15.5.1: 400 for what the client got wrong."""
    status, problem = exchange(served, head("/v1/trees/balance", None) + garbled, half_closed=True)
    assert (status, problem["type"]) == (400, "/problems/incomplete-body")


@pytest.mark.parametrize(("path", "kind"), [("/v1/trees/balance", "application/json"), (BATCHES, NDJSON)])
def test_a_body_cut_short_is_told_as_a_body_that_is_not_whole(served, path, kind):
    status, problem = exchange(served, head(path, 100, kind) + b"{", half_closed=True)
    assert (status, problem["type"], problem["status"]) == (400, "/problems/incomplete-body", 400)


@pytest.mark.parametrize("hosts", [b"", b"Host: a\r\nHost: b\r\n"])
def test_a_request_that_names_no_host_or_two_is_refused(served, hosts):
    """RFC 9112, 3.2: a server must answer 400."""
    status, problem = exchange(served, b"GET /v1/air?units=us HTTP/1.1\r\nConnection: close\r\n" + hosts + b"\r\n")
    assert (status, problem["type"]) == (400, "/problems/malformed-request")


@pytest.mark.parametrize("codings", [b"chunked, chunked", b"gzip, chunked", b"identity\r\nTransfer-Encoding: chunked"])
def test_a_body_with_further_codings_is_refused_and_what_follows_it_is_not_read_as_a_request(served, codings):
    """RFC 9112, 6.1: another reader may see the body's end elsewhere."""
    sent = head("/v1/trees/balance", None).replace(b"chunked", codings) + b"2\r\n{}\r\n0\r\n\r\n"
    status, problem = exchange(served, sent + b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
    assert (status, problem["type"]) == (400, "/problems/malformed-request")


def test_an_old_request_need_not_name_its_host(served):
    with connected(served) as connection:
        connection.sendall(b"GET /health/live HTTP/1.0\r\n\r\n")
        assert all_of(connection).startswith(b"HTTP/1.0 200")


def test_one_protocol_is_spoken(served):
    with connected(served) as connection:
        connection.sendall(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + struct.pack(">I", 0)[1:] + b"\x04\0\0\0\0\0")
        assert not all_of(connection).startswith(b"\0")


@pytest.mark.parametrize(
    ("method", "path", "kind", "body", "status"),
    [
        ("POST", "/v1/trees/balance", "application/json", b" " * 4_100_000, 413),
        ("POST", "/v1/trees/balance", "text/plain", b" " * 3_000_000, 415),
        ("POST", "/v1/trees/nowhere", "application/json", b" " * 3_000_000, 404),
        ("PUT", "/v1/trees/balance", "application/json", b" " * 15_000_000, 405),
        ("GET", "/v1/air", "application/json", b" " * 3_000_000, 400),
        ("POST", BATCHES, NDJSON, b"{}\n" * 3_000_000, 413),
        ("POST", BATCHES, NDJSON, b" " * 22_000_000, 413),
    ],
)
def test_who_is_refused_while_sending_reads_the_refusal(served, method, path, kind, body, status):
    """The sender reads nothing before all is sent, as plain clients do."""
    with connected(served) as connection:
        connection.sendall(head(path, len(body), kind, method) + body)
        raw = connection.recv(65536)
    assert int(raw.split()[1]) == status


def test_trickling_batches_hold_no_place(served):
    with contextlib.ExitStack() as open_ones:
        slow = [open_ones.enter_context(connected(served)) for _ in range(8)]
        for connection in slow:
            connection.sendall(head(BATCHES, 1_000, NDJSON) + b" ")
        for _ in range(4):  # so many places there are; a batch later those bodies have begun to arrive
            status, answers = post(served, BATCHES, batch("balance", BALANCE, 2), NDJSON)
            assert (status, len(answers.splitlines())) == (200, 3)
            for connection in slow:
                connection.sendall(b" ")


def test_trickling_batches_are_cut_off(impatient):
    with contextlib.ExitStack() as open_ones:
        slow = [open_ones.enter_context(connected(impatient)) for _ in range(4)]
        for connection in slow:
            connection.sendall(head(BATCHES, 1_000, NDJSON))
        start = time.monotonic()
        while time.monotonic() - start < 2 * STALL:  # never silent for as long as a body may take
            for connection in slow:
                with contextlib.suppress(OSError):
                    connection.sendall(b" ")
            time.sleep(0.3 * STALL)
        for connection in slow:
            assert told(all_of(connection))[1]["type"] == "/problems/too-slow"


def test_answers_that_nobody_reads_are_given_up_and_their_places_are_free(impatient, log):
    body = batch("drawing", examples.request("drawing"), 1_500)
    with connected(impatient, 4096) as one, connected(impatient, 4096) as two:
        for connection in (one, two):
            connection.sendall(head(BATCHES, len(body), NDJSON) + body)
        until = time.monotonic() + PATIENCE
        while refused(impatient, "reader-stalled") < 2 and time.monotonic() < until:
            time.sleep(0.2)
        assert refused(impatient, "reader-stalled") == 2
        assert post(impatient, BATCHES, batch("balance", BALANCE, 1), NDJSON)[0] == 200
        assert b'"lines":' not in all_of(one), "who reads at last sees that the counts are missing"
    while b'"kind":"reader-stalled"' not in log.read_bytes():  # it is counted, and then told
        assert time.monotonic() < until
        time.sleep(0.2)


def test_callers_who_left_are_not_computed_for(served):
    """Sixteen heavy questions of callers who leave at once: threads and queue are free again in a moment."""
    body = json.dumps(hoods_along_a_main(33)).encode()
    before = refused(served, "caller-left")
    for _ in range(16):
        with connected(served) as connection:
            connection.sendall(head("/v1/trees/gate-states", len(body)) + body)
            time.sleep(0.02)
    until = time.monotonic() + PATIENCE
    while refused(served, "caller-left") < before + 16 and time.monotonic() < until:
        time.sleep(0.1)
    assert refused(served, "caller-left") == before + 16
    assert post(served, "/v1/trees/operating-point", OPERATING_POINT)[0] == 200


@pytest.mark.parametrize("over", [1, 5_000, 70_000, 900_000])
def test_a_batch_for_which_the_disk_has_no_room_is_told_to_come_again(served, over):
    """The room is a limit to the size of a file; whatever is left over, a byte or much, is told the same."""
    room = 1_200_000
    body = batch("balance", BALANCE, 1) + b" " * room
    body = body[: room + over]
    workers = family(served.process.pid)
    before = [resource.prlimit(worker, resource.RLIMIT_FSIZE, (room, resource.RLIM_INFINITY)) for worker in workers]
    try:
        status, text = post(served, BATCHES, body, NDJSON)
    finally:
        for worker, limits in zip(workers, before, strict=True):
            resource.prlimit(worker, resource.RLIMIT_FSIZE, limits)
    assert (status, json.loads(text)["type"]) == (503, "/problems/busy")
    status, answers = post(served, BATCHES, body, NDJSON)
    assert (status, json.loads(answers.splitlines()[-1])["answered"]) == (200, 1)
