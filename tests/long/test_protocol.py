"""HTTP as it should not be sent, by raw sockets to a server process: smuggled, garbled, cut, doubled, strange.

Whatever is sent, no fault of the service (5xx) is told, no connection hangs, nothing is answered twice where two
readers could disagree on where a request ends, and the server goes on as before. What a form may be told is beside it:
RFC 9112 for framing, RFC 9110 for the rest, both from memory where no section is named.
"""

import contextlib
import gzip
import http.client
import json
import os
import socket
import struct
import time

import pytest

from airbough_service.api.admission.keys import digest
from airbough_service.api.document import examples
from serving import Served, family

pytestmark = pytest.mark.long
SILENCE = 4.0
"""Seconds without a byte after which a connection counts as left open; the server cuts heads and bodies off after 2."""

PATH = "/v1/measurements/traverse"
BODY = json.dumps(examples.request("traverse")).encode()
SIZE = str(len(BODY)).encode()
JSON = b"Content-Type: application/json\r\n"
HIDDEN = b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n"


def post(headers, body=BODY, path=PATH, version=b"HTTP/1.1", host=b"Host: x\r\n", close=False):
    headers += b"Connection: close\r\n" * close
    return b"POST " + path.encode() + b" " + version + b"\r\n" + host + headers + b"\r\n" + body


def posted(headers, body=BODY, **words):
    return post(headers, body, close=True, **words)


def chunked(*pieces, last=b"0\r\n\r\n"):
    return b"".join(b"%x\r\n%s\r\n" % (len(piece), piece) for piece in pieces) + last


def get(target, headers=b"", version=b"HTTP/1.1"):
    return b"GET " + target + b" " + version + b"\r\nHost: x\r\nConnection: close\r\n" + headers + b"\r\n"


REFUSED = {400, 408, 411, 413, 414, 415, 431, 501, None}
"""What a garbled request may be told; None: the connection is closed without a word."""

TE = b"Transfer-Encoding: "
SMUGGLED = {
    # RFC 9112, 6.1 and 6.3: what may be read in two ways is refused, or read as chunks and the connection closed.
    "length and chunks": post(JSON + b"Content-Length: 4\r\n" + TE + b"chunked\r\n", chunked(BODY) + HIDDEN),
    "chunks and length": post(JSON + TE + b"chunked\r\nContent-Length: 4\r\n", chunked(BODY) + HIDDEN),
    "length within, chunks": post(JSON + b"Content-Length: 0\r\n" + TE + b"chunked\r\n", b"0\r\n\r\n" + HIDDEN),
    "two lengths": post(JSON + b"Content-Length: " + SIZE + b"\r\nContent-Length: 0\r\n", BODY),
    "a list of lengths": post(JSON + b"Content-Length: " + SIZE + b", 0\r\n"),
    "a signed length": post(JSON + b"Content-Length: +" + SIZE + b"\r\n"),
    "a negative length": post(JSON + b"Content-Length: -1\r\n"),
    "a length in hexadecimal": post(JSON + b"Content-Length: 0x10\r\n"),
    "a length that is none": post(JSON + b"Content-Length: many\r\n"),
    "a length beyond 64 bits": post(JSON + b"Content-Length: 99999999999999999999999\r\n"),
    "a space before the colon": post(JSON + b"Content-Length : " + SIZE + b"\r\n"),
    "a folded header": post(JSON + b"Content-Length:\r\n " + SIZE + b"\r\n"),
    "chunked twice": post(JSON + TE + b"chunked, chunked\r\n", chunked(BODY) + HIDDEN),
    "chunked not last": post(JSON + TE + b"chunked, identity\r\n", chunked(BODY) + HIDDEN),
    "a coding nobody knows": post(JSON + TE + b"xchunked\r\n", chunked(BODY) + HIDDEN),
    "chunked by another letter": post(JSON + TE + b"chun\xc2\xadked\r\n", chunked(BODY) + HIDDEN),
    "chunked after a tab": post(JSON + b"Transfer-Encoding:\x0bchunked\r\n", chunked(BODY) + HIDDEN),
    "chunked in quotes": post(JSON + TE + b'"chunked"\r\n', chunked(BODY) + HIDDEN),
    "two codings in two lines": post(JSON + TE + b"identity\r\n" + TE + b"chunked\r\n", chunked(BODY) + HIDDEN),
    "chunks of HTTP/1.0": post(JSON + TE + b"chunked\r\n", chunked(BODY) + HIDDEN, version=b"HTTP/1.0"),
    "a chunk's size with a sign": post(JSON + TE + b"chunked\r\n", b"+5\r\n12345\r\n0\r\n\r\n" + HIDDEN),
    "a chunk's size in words": post(JSON + TE + b"chunked\r\n", b"zz\r\n{}\r\n0\r\n\r\n" + HIDDEN),
    "a chunk's size beyond 64 bits": post(JSON + TE + b"chunked\r\n", b"1" + b"0" * 17 + b"\r\n{}\r\n" + HIDDEN),
    "a chunk's size with an underscore": post(JSON + TE + b"chunked\r\n", b"1_0\r\n" + b"x" * 16 + b"\r\n0\r\n\r\n"),
    "a chunk longer than it says": post(JSON + TE + b"chunked\r\n", b"2\r\n{}}}}}\r\n0\r\n\r\n" + HIDDEN),
    "chunks ended by a bare line feed": post(JSON + TE + b"chunked\r\n", b"2\n{}\n0\n\n" + HIDDEN),
    "a null in a header": post(JSON + b"X-A: a\0b\r\nContent-Length: " + SIZE + b"\r\n"),
    "a bare carriage return in a header": post(JSON + b"X-A: a\rb\r\nContent-Length: " + SIZE + b"\r\n"),
    "a header without a name": post(JSON + b": a\r\nContent-Length: " + SIZE + b"\r\n"),
    "a header without a colon": post(JSON + b"header\r\nContent-Length: " + SIZE + b"\r\n"),
    "a space in a header's name": post(JSON + b"X A: a\r\nContent-Length: " + SIZE + b"\r\n"),
}

BOMB = gzip.compress(b"0" * 10_000_000)
STRANGE = {
    # name: what is sent, what it may be told
    "no host": (posted(JSON + b"Content-Length: " + SIZE + b"\r\n", host=b""), {400}),
    "two hosts": (posted(JSON + b"Content-Length: " + SIZE + b"\r\n", host=b"Host: a\r\nHost: b\r\n"), {400}),
    "an empty host": (posted(JSON + b"Content-Length: " + SIZE + b"\r\n", host=b"Host:\r\n"), {400}),
    "no version": (b"GET /health/live\r\n\r\n", {400, None}),
    "a version that is none": (b"GET /health/live HTTP/9.9\r\nHost: x\r\n\r\n", {400, 505, None}),
    "no request at all": (b"\r\n\r\n\r\n\x16\x03\x01\x02\0", {400, None}),
    "a greeting of TLS": (b"\x16\x03\x01\x02\0\x01\0\x01\xfc\x03\x03" + b"\0" * 500, {400, None}),
    "HTTP/2 at once": (
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n" + struct.pack(">I", 0)[1:] + b"\4\0\0\0\0\0",
        {400, 505, None},
    ),
    "two types of content": (
        posted(JSON + b"Content-Type: text/plain\r\nContent-Length: " + SIZE + b"\r\n"),
        {200, 400, 415},
    ),
    "a packed bomb": (posted(JSON + b"Content-Encoding: gzip\r\nContent-Length: %d\r\n" % len(BOMB), BOMB), {415}),
    "a packed bomb by another coding": (
        posted(JSON + b"Content-Encoding: br\r\nContent-Length: 4\r\n", b"1234"),
        {415},
    ),
    "other letters": (
        posted(b"Content-Type: application/json; charset=utf-16\r\nContent-Length: 4\r\n", b"\xff\xfe{\0"),
        {415},
    ),
    "cut by its length": (posted(JSON + b"Content-Length: 100000\r\n"), {400, 408}),
    "cut within a chunk": (posted(JSON + TE + b"chunked\r\n", b"ff\r\n{"), {400, 408}),
    "cut within its head": (b"POST " + PATH.encode() + b" HTTP/1.1\r\nHost: x\r\nContent-", {400, 408, None}),
    "chunks with extensions": (
        posted(JSON + TE + b"chunked\r\n", b"%x;a=b\r\n%s\r\n0\r\n\r\n" % (len(BODY), BODY)),
        {200, 400},
    ),
    "chunks with a trailer": (
        posted(JSON + TE + b"chunked\r\n", chunked(BODY, last=b"0\r\nX-A: b\r\n\r\n")),
        {200, 400},
    ),
    "expects what nobody knows": (posted(JSON + b"Expect: a-miracle\r\nContent-Length: " + SIZE + b"\r\n"), {200, 417}),
    "an upgrade": (get(b"/health/live", b"Upgrade: websocket\r\n"), {200, 400, 426}),
    "an upgrade to HTTP/2": (get(b"/health/live", b"Upgrade: h2c\r\nHTTP2-Settings: AAMAAABkAAQAAP__\r\n"), {200, 400}),
    "a header of 600,000 bytes": (get(b"/health/live", b"X-A: " + b"a" * 600_000 + b"\r\n"), {400, 431, None}),
    "thousands of headers": (
        get(b"/health/live", b"".join(b"X-%d: a\r\n" % n for n in range(5_000))),
        {400, 431, None},
    ),
    "a long address": (get(b"/v1/air?units=us&x=" + b"a" * 200_000), {400, 414, 431, None}),
    "a whole address": (get(b"http://elsewhere.example/health/live"), {200, 400, 404}),
    "a star": (b"OPTIONS * HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", {200, 204, 400, 404, 405}),
    "a tunnel": (b"CONNECT x:1 HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", {400, 404, 405, None}),
    "a trace": (b"TRACE /health/live HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", {405}),
    "a method of its own": (b"BREW /health/live HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", {405}),
    "small letters": (b"get /health/live HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n", {400, 405}),
    "a path upwards": (get(b"/docs/../../../../etc/passwd"), {404}),
    "a path upwards in disguise": (get(b"/docs/..%2f..%2f..%2fetc%2fpasswd"), {404}),
    "a null in a path": (get(b"/docs/docs.css%00.html"), {404}),
    "a path that is no text": (get(b"/docs/%ff%fe"), {400, 404}),
    "a path with a backslash": (get(b"/docs\\..\\secret"), {400, 404}),
    "a path of one letter in disguise": (get(b"/%75nknown"), {404}),
    "a query that is no text": (get(b"/v1/air?units=%ff"), {400}),
    "a query without a value": (get(b"/v1/air?units"), {400}),
    "a word twice": (get(b"/v1/air?units=us&units=metric"), {400}),
    "a body for a GET": (get(b"/v1/air?units=us", b"Content-Length: 2\r\n") + b"{}", {200, 400}),
    "an id with a line end": (get(b"/health/live", b"X-Request-Id: a%0d%0aSet-Cookie: b\r\n"), {200}),
    "If-None-Match of everything": (get(b"/v1/ducts?units=us", b"If-None-Match: *\r\n"), {304}),
    "a range": (get(b"/v1/ducts?units=us", b"Range: bytes=0-3\r\n"), {200}),
}


@pytest.fixture(scope="module")
def served():
    with Served(read_timeout=2.0) as running:
        yield running


def exchange(served, sent, half_closed=False):
    """Return all that comes back, and whether the server closed the connection.

    Who closes his half at once says that he waits for nothing: the server below does not answer him.
    """
    with socket.create_connection(("127.0.0.1", served.port), timeout=SILENCE) as connection:
        with contextlib.suppress(OSError):  # refused while it sends
            connection.sendall(sent)
            if half_closed:
                connection.shutdown(socket.SHUT_WR)
        read = b""
        try:
            while piece := connection.recv(65536):
                read += piece
        except ConnectionResetError:
            pass
        except TimeoutError:
            return read, False
    return read, True


def statuses(raw):
    """Return the status of each answer in what came back; the parts that are no answer fail."""
    found = []
    while raw:
        head, found_end, rest = raw.partition(b"\r\n\r\n")
        start = head.split(b"\r\n")[0].split()
        assert start[0] in (b"HTTP/1.1", b"HTTP/1.0"), raw[:200]
        status = int(start[1])
        headers = {line.partition(b":")[0].lower(): line.partition(b":")[2].strip() for line in head.split(b"\r\n")[1:]}
        assert found_end or not headers, raw[:200]
        if status >= 200:
            found.append(status)
        raw = rest[int(headers.get(b"content-length", b"0")) :]
    return found


def alive(served):
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=20)
    connection.request("POST", PATH, BODY, {"Content-Type": "application/json"})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status == 200


@pytest.mark.parametrize("half_closed", [True, False], ids=["half closed", "left open"])
@pytest.mark.parametrize("form", SMUGGLED)
def test_what_can_be_read_in_two_ways_hides_no_second_request(served, form, half_closed):
    raw, closed = exchange(served, SMUGGLED[form], half_closed)
    told = statuses(raw)
    assert len(told) <= 1, (form, told)
    assert set(told or [None]) <= REFUSED | {200}, (form, raw)
    assert closed or set(told) == {200}, form
    assert alive(served)


@pytest.mark.parametrize("form", STRANGE)
def test_a_strange_request_is_told_what_is_wrong_with_it(served, form):
    sent, may = STRANGE[form]
    raw, closed = exchange(served, sent)
    told = statuses(raw)
    assert closed, form
    assert len(told) <= 1
    assert (told or [None])[0] in may, (form, raw[:400])
    assert b"set-cookie" not in raw.lower()
    assert alive(served)


def test_requests_in_one_go_are_answered_each_in_order(served):
    sent = b"".join(get(b"/v1/air?units=%s" % units).replace(b"Connection: close\r\n", b"") for units in (b"us", b"x"))
    raw, _ = exchange(served, sent + get(b"/nowhere"))
    assert statuses(raw) == [200, 400, 404]


KEY = b"the-only-key"
BYPASSES = [
    get(b"/v1/air?units=us", header)
    for header in (
        b"", b"Authorization:\r\n", b"Authorization: Bearer\r\n", b"Authorization: Bearer \r\n",
        b"Authorization: Bearer " + KEY[:-1] + b"\r\n", b"Authorization: Bearer " + KEY + b"x\r\n",
        b"Authorization: Bearer " + digest(KEY.decode()).encode() + b"\r\n", b"Authorization: Bearer mine\r\n",
        b"Authorization: Basic " + KEY + b"\r\n", b"Authorization: " + KEY + b"\r\n", b"X-Api-Key: " + KEY + b"\r\n",
        b"Authorization: Bearer *\r\n", b"Authorization: Bearer null\r\n", b"Authorization: Bearer a\xff\r\n",
        b"Proxy-Authorization: Bearer " + KEY + b"\r\n", b"Cookie: authorization=" + KEY + b"\r\n",
        b"Authorization: Bearer x\r\nAuthorization: Bearer y\r\n", b"X-Original-URL: /health/live\r\n",
        b"X-Rewrite-URL: /health/live\r\n", b"X-Forwarded-For: 127.0.0.1\r\n", b"X-HTTP-Method-Override: OPTIONS\r\n",
    )
] + [
    get(target)
    for target in (
        b"/v1/air/?units=us", b"//v1/air?units=us", b"/v1//air?units=us", b"/%761/air?units=us", b"/./v1/air?units=us",
        b"/docs/../v1/air?units=us", b"/health/live/../../v1/air?units=us", b"/v1/air;x?units=us", b"/V1/air?units=us",
        b"/metrics", b"/metrics/", b"//metrics", b"/%6detrics", b"/v1/air?units=us&key=" + KEY,
    )
]  # fmt: skip


def test_no_form_of_a_request_passes_without_the_key(tmp_path):
    (tmp_path / "keys").write_text(f"mine {digest(KEY.decode())}\n")
    with Served(keys_file=tmp_path / "keys") as guarded:
        for sent in BYPASSES:
            told = statuses(exchange(guarded, sent)[0])
            assert set(told) <= {400, 401, 404}, (sent, told)
            head = statuses_of_head(guarded, sent)
            assert set(head) <= {400, 401, 404}, (sent, head)
        opened = get(b"/v1/air?units=us", b"Authorization: Bearer " + KEY + b"\r\n")
        assert statuses(exchange(guarded, opened)[0]) == [200]


def statuses_of_head(served, sent):
    raw = exchange(served, b"HEAD" + sent[3:])[0]
    return [int(raw.split()[1])] if raw else []


def test_the_server_holds_no_more_than_before(served):
    """After all forms, twenty times each: no connection is kept, and memory does not grow with them."""
    worker = family(served.process.pid)[-1]
    held, memory = open_files(worker), served.memory()
    for form in [*SMUGGLED.values(), *(sent for sent, _ in STRANGE.values())]:
        for _ in range(20):
            connection = socket.create_connection(("127.0.0.1", served.port), timeout=SILENCE)
            with connection, contextlib.suppress(OSError):
                connection.sendall(form)
    until = time.monotonic() + 30
    while open_files(worker) > held + 3 and time.monotonic() < until:
        time.sleep(0.5)
    grown = served.memory() - memory
    print(f"{20 * (len(SMUGGLED) + len(STRANGE))} connections, {grown:.0f} MiB more, {open_files(worker) - held} files")
    assert open_files(worker) <= held + 3
    assert grown < 64
    assert alive(served)


def open_files(number):
    return len(os.listdir(f"/proc/{number}/fd"))
