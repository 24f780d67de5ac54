"""A real server on loopback that behaves badly; every call ends, and in bounded time."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator

import msgspec
import pytest

import airbough

Behaviour = Callable[[socket.socket, int], None]
PROBLEM = {"type": "/problems/not-a-duct-tree", "title": "t", "status": 422, "detail": "d"}
QUICK = airbough.Timeouts(connect=30.0, read=0.3, write=30.0, pool=30.0)
PATIENT = airbough.Timeouts(connect=30.0, read=30.0, write=30.0, pool=30.0)


class Server:
    """Reads each request, then does as it was told."""

    def __init__(self, behave: Behaviour) -> None:
        self.behave = behave
        self.requests = 0
        self.bodies: list[bytes] = []
        self.counting = threading.Lock()
        self.talks: list[threading.Thread] = []
        self.stopping = threading.Event()
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.listening.settimeout(0.1)
        self.url = f"http://127.0.0.1:{self.listening.getsockname()[1]}"
        self.thread = threading.Thread(target=self.serve, daemon=True)
        self.thread.start()

    def serve(self) -> None:
        while not self.stopping.is_set():
            try:
                connection, _ = self.listening.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            # A thread each: one that sends nothing, of whoever took this port for another's, holds nobody up.
            self.talks.append(threading.Thread(target=self.talk, args=(connection,), daemon=True))
            self.talks[-1].start()

    def talk(self, connection: socket.socket) -> None:
        with connection, contextlib.suppress(OSError):
            connection.settimeout(30)
            self.read_request(connection)
            with self.counting:
                self.requests += 1
                number = self.requests
            self.behave(connection, number)
            connection.shutdown(socket.SHUT_RDWR)  # at once, also where a process forked meanwhile holds a copy

    def read_request(self, connection: socket.socket) -> None:
        head = b""
        while b"\r\n\r\n" not in head:
            piece = connection.recv(65536)
            if not piece:
                raise OSError("no request")
            head += piece
        headers, _, body = head.partition(b"\r\n\r\n")
        length = next(
            (int(line[15:]) for line in headers.lower().splitlines() if line.startswith(b"content-length:")), 0
        )
        while len(body) < length:
            piece = connection.recv(65536)
            if not piece:
                raise OSError("half a request")
            body += piece
        self.bodies.append(body)

    def stop(self) -> None:
        self.stopping.set()
        self.listening.close()
        for thread in (self.thread, *self.talks):
            thread.join(60)


def reply(status: str, body: bytes, *headers: str, length: int | None = None) -> bytes:
    lines = [f"HTTP/1.1 {status}", f"Content-Length: {len(body) if length is None else length}", "Connection: close"]
    return "\r\n".join([*lines, *headers, "", ""]).encode() + body


@pytest.fixture
def serve() -> Iterator[Callable[[Behaviour], Server]]:
    servers: list[Server] = []

    def start(behave: Behaviour) -> Server:
        servers.append(Server(behave))
        return servers[-1]

    yield start
    for server in servers:
        server.stop()


def ask(url: str, timeouts: airbough.Timeouts = PATIENT, **options) -> list[object]:
    """Ask for the air with each client; return the outcomes."""

    async def awaited():
        async with airbough.AsyncClient(url, timeouts=timeouts, **options) as client:
            try:
                return await client.air(units="us")
            except airbough.AirboughError as error:
                return error

    with airbough.Client(url, timeouts=timeouts, **options) as client:
        try:
            first = client.air(units="us")
        except airbough.AirboughError as error:
            first = error
    return [first, asyncio.run(awaited())]


def silent(connection: socket.socket, _: int) -> None:
    assert connection.recv(1) == b"", "the caller hangs up first"


def hanging_up(connection: socket.socket, _: int) -> None:
    connection.shutdown(socket.SHUT_RDWR)


def cutting(connection: socket.socket, _: int) -> None:
    connection.sendall(reply("200 OK", b'{"units": {}', length=500))


def talking_nonsense(connection: socket.socket, _: int) -> None:
    connection.sendall(b"220 mail.example ready\r\n\r\n")


def answering_html(connection: socket.socket, _: int) -> None:
    connection.sendall(reply("200 OK", b"<html>welcome</html>", "Content-Type: text/html"))


def always_busy(connection: socket.socket, _: int) -> None:
    connection.sendall(reply("503 Service Unavailable", b"", "Retry-After: 0"))


def badly_packed(connection: socket.socket, _: int) -> None:
    connection.sendall(reply("200 OK", b"this is no gzip", "Content-Encoding: gzip"))


@pytest.mark.parametrize(
    ("behave", "expected", "requests"),
    [
        (silent, airbough.TimedOut, 1),
        (hanging_up, airbough.Unreachable, 2),
        (cutting, airbough.Unreachable, 2),
        (talking_nonsense, airbough.Unreachable, 2),
        (answering_html, airbough.NotUnderstood, 1),
        (always_busy, airbough.Busy, 2),
        (badly_packed, airbough.NotUnderstood, 1),
    ],
)
def test_each_misbehaviour_ends_in_its_error(serve, behave, expected, requests):
    server = serve(behave)
    started = time.monotonic()
    outcomes = ask(server.url, QUICK if behave is silent else PATIENT, retries=1)
    assert [type(outcome) for outcome in outcomes] == [expected, expected]
    assert time.monotonic() - started < 25, "less than the server's own patience"
    server.stop()  # it may read a request that was given up only now
    assert server.requests == 2 * requests


def test_a_server_that_recovers_answers(serve, air_answer):
    def recovering(connection: socket.socket, number: int) -> None:
        if number % 2:
            always_busy(connection, number)
        else:
            connection.sendall(reply("200 OK", air_answer))

    outcomes = ask(serve(recovering).url)
    assert [outcome.air.density for outcome in outcomes] == [0.0749, 0.0749]


def test_a_reply_that_drips_ends_at_the_deadline(serve):
    def dripping(connection: socket.socket, _: int) -> None:
        connection.sendall(reply("200 OK", b"", length=10_000))
        for _ in range(300):
            connection.sendall(b" ")
            time.sleep(0.1)

    started = time.monotonic()
    outcomes = ask(serve(dripping).url, deadline=0.5, retries=0)
    assert [type(outcome) for outcome in outcomes] == [airbough.TimedOut, airbough.TimedOut]
    assert time.monotonic() - started < 25, "less than one such reply takes"


def test_nobody_there():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # and does not listen
        outcomes = ask(f"http://127.0.0.1:{taken.getsockname()[1]}", retries=1)
    assert [type(outcome) for outcome in outcomes] == [airbough.Unreachable, airbough.Unreachable]


def test_a_batch_whose_connection_breaks_is_taken_up(serve, shop):
    """The first reply breaks off in the middle of its second line."""

    def breaking_once(connection: socket.socket, number: int) -> None:
        asked = [msgspec.json.decode(line)["id"] for line in server.bodies[-1].splitlines()]
        lines = [{"id": name, "status": 422, "problem": PROBLEM} for name in asked]
        counts = {"lines": len(lines), "answered": 0, "refused": len(lines)}
        body = b"".join(msgspec.json.encode(line) + b"\n" for line in [*lines, counts])
        whole = reply("200 OK", body, "Content-Type: application/x-ndjson")
        connection.sendall(whole if number > 1 else whole[: whole.index(b'"id":"b"') + 20])

    server = serve(breaking_once)
    with airbough.Client(server.url, timeouts=PATIENT) as client:
        results = list(client.batch((name, "balance", shop) for name in "abc"))
    assert [(result.id, type(result.error)) for result in results] == [(name, airbough.NotADuctTree) for name in "abc"]
    assert [body.count(b"\n") for body in server.bodies] == [3, 2]


def test_a_batch_whose_connection_always_breaks_names_what_is_missing(serve, shop):
    server = serve(cutting)
    with (
        airbough.Client(server.url, timeouts=PATIENT, retries=1) as client,
        pytest.raises(airbough.CutStream) as caught,
    ):
        list(client.batch((name, "balance", shop) for name in "abc"))
    assert caught.value.missing == ("a", "b", "c")
    assert server.requests == 2
