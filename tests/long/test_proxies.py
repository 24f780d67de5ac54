"""Two services behind each proxy of deploy/, and one of them dies under load: no request may be lost.

The files of deploy/ are used as they are, but for the ports and nginx's paths.
"""

import contextlib
import gzip
import http.client
import json
import os
import re
import signal
import socket
import subprocess
import threading
import time
from pathlib import Path

import pytest
from joserfc.jwk import OKPKey

import airbough
from airbough_service.api.document import examples
from programs import needed
from serving import Served, free_port

pytestmark = pytest.mark.long
DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
CLIENTS = 8
WITHOUT = 2.0
"""Seconds of load with one instance alone; what the other needs to start comes on top."""

LONGEST = 90.0
ENOUGH = 50
PATIENCE = 20.0
BODY = json.dumps(examples.request("operating-point")).encode()
JSON = {"Content-Type": "application/json"}


def configured(name, folder, ports, more=()):
    """Write the proxy's file with other ports, further instances, and nginx's paths inside `folder`."""
    text = (DEPLOY / name).read_text(encoding="utf-8")
    for given, port in zip((8000, 8001, 8080), ports, strict=True):
        text, count = re.subn(rf"127\.0\.0\.1:{given}\b", f"127.0.0.1:{port}", text)
        assert count, f"{name} does not name port {given}"
    last = re.search(rf"\n( +server (?:\S+ )?)127\.0\.0\.1:{ports[1]}( .*)", text)
    for port in more:
        text = text.replace(last[0], f"\n{last[1].replace('two', f'at{port}')}127.0.0.1:{port}{last[2]}{last[0]}")
    if name == "nginx.conf":
        kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        paths = "".join(f"    {kind}_temp_path {folder}/{kind};\n" for kind in kinds)
        text = text.replace("pid /run/nginx-airbough.pid;", f"pid {folder}/nginx.pid;")
        text = text.replace("http {\n", "http {\n" + paths, 1)
        if os.geteuid() == 0:  # its workers must reach a folder that is ours alone
            text = "user root;\n" + text
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def command(name, path):
    if name == "nginx.conf":
        return [needed("nginx"), "-e", "stderr", "-c", str(path), "-g", "daemon off;"]
    return [needed("haproxy"), "-db", "-f", str(path)]


@contextlib.contextmanager
def door(name, folder, ports, awaited=(200,), more=()):
    """Run a proxy, wait until it answers, and end it."""
    called = command(name, configured(name, folder, ports, more))
    with open(folder / "proxy.log", "wb") as log:
        process = subprocess.Popen(called, stdout=log, stderr=log)
    try:
        until = time.monotonic() + 10
        while status(ports[2], "/health/live") not in awaited:
            assert time.monotonic() < until, (folder / "proxy.log").read_text()[-3000:]
            time.sleep(0.1)
        yield ports[2]
    finally:
        process.terminate()
        process.wait(20)


def status(port, path):
    try:
        return answer(port, "GET", path)[0]
    except (OSError, http.client.HTTPException):
        return None


def answer(port, method, path, body=None, headers=None):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    try:
        connection.request(method, path, body=body, headers=headers or {})
        told = connection.getresponse()
        return told.status, {name.lower(): value for name, value in told.getheaders()}, told.read()
    finally:
        connection.close()


class Load:
    """Closed-loop clients; each has an address of its own, since the proxies limit what one address may ask."""

    def __init__(self, port, expected):
        self._port, self._expected = port, expected
        self._until = time.monotonic() + LONGEST
        self.answered, self.lost, self.slowest = 0, [], 0.0
        self._lock = threading.Lock()
        self._threads = [threading.Thread(target=self._client, args=(index,)) for index in range(CLIENTS)]

    def __enter__(self):
        for thread in self._threads:
            thread.start()
        return self

    def __exit__(self, *_):
        self._until = 0.0
        for thread in self._threads:
            thread.join(2 * PATIENCE)

    def _client(self, index):
        connection = self._open(index)
        while time.monotonic() < self._until:
            start, fault = time.monotonic(), None
            try:
                connection.request("POST", "/v1/trees/operating-point", body=BODY, headers=JSON)
                told = connection.getresponse()
                text = told.read()
                if told.status != 200 or text != self._expected:
                    fault = f"{told.status} {text[:200]!r}"
            except (OSError, http.client.HTTPException) as error:
                fault = repr(error)
                connection.close()
                connection = self._open(index)
            with self._lock:
                self.answered += 1
                self.slowest = max(self.slowest, time.monotonic() - start)
                if fault:
                    self.lost.append(fault)
        connection.close()

    def _open(self, index):
        return http.client.HTTPConnection(
            "127.0.0.1", self._port, timeout=PATIENCE, source_address=(f"127.0.0.{index + 11}", 0)
        )


def asked(served):
    """Return how many trees an instance has answered since it started."""
    counted = re.search(
        r'request_seconds_count{[^}]*route="/v1/trees/operating-point"[^}]*} ([0-9.]+)',
        answer(served.port, "GET", "/metrics")[2].decode(),
    )
    return float(counted[1]) if counted else 0.0


def at_work(served, before):
    """Wait until an instance has answered enough under load, and return how much."""
    until = time.monotonic() + PATIENCE
    while (count := asked(served) - before) < ENOUGH and time.monotonic() < until:
        time.sleep(0.5)
    return count


@pytest.fixture(scope="module")
def pair():
    with Served() as one, Served() as two:
        yield one, two


@pytest.fixture(params=["nginx.conf", "haproxy.cfg"])
def proxied(request, pair, tmp_path):
    with door(request.param, tmp_path, (pair[0].port, pair[1].port, free_port())) as port:
        yield port


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL], ids=["TERM", "KILL"])
def test_no_request_is_lost_when_an_instance_dies(proxied, pair, number, record_property):
    one, two = pair
    code, _, expected = answer(proxied, "POST", "/v1/trees/operating-point", BODY, JSON)
    assert code == 200
    before = asked(one), asked(two)
    with Load(proxied, expected) as load:
        served = at_work(one, before[0])
        one.send(number)
        time.sleep(WITHOUT)
        one.start()
        again = at_work(one, 0.0)
        other = asked(two) - before[1]
    figures = f"{load.answered} asked, {len(load.lost)} lost, slowest {load.slowest:.2f} s; "
    figures += f"the one that died answered {served:g}, then {again:g}, the other {other:g}"
    record_property("figures", figures)
    print(figures)
    assert load.lost == []
    assert served >= ENOUGH, "the instance that died had work"
    assert other >= ENOUGH, "the other one took over"
    assert again >= ENOUGH, "the instance that came back is asked again"


@pytest.mark.parametrize(
    "path",
    ["/metrics", "/metrics/", "//metrics", "/%6detrics", "/METRICS", "/metrics//", "/m%65trics/?x=1", "/./metrics",
     "/v1/../metrics", "/%2Fmetrics", "/metrics%2F"],
)  # fmt: skip
def test_the_proxy_keeps_metrics_inside_and_says_so_as_the_service_would(proxied, path):
    code, headers, text = answer(proxied, "GET", path)
    assert code == 404
    assert headers["content-type"] == "application/problem+json"
    assert json.loads(text)["type"] == "/problems/not-found"


def test_too_large_a_body_is_refused_by_the_proxy(proxied):
    connection = http.client.HTTPConnection("127.0.0.1", proxied, timeout=PATIENCE)
    connection.putrequest("POST", "/v1/trees/balance")
    connection.putheader("Content-Type", "application/json")
    connection.putheader("Content-Length", "4000001")
    connection.endheaders(b" " * 300_000)  # haproxy judges once its buffer is full
    told = connection.getresponse()
    assert told.status == 413
    assert json.loads(told.read())["type"] == "/problems/too-large"
    connection.close()


def test_a_sheet_of_a_thousand_cells_passes_and_a_flood_is_told_when_to_come_back(proxied):
    """A sheet sends OPTIONS, HEAD and GET for each cell (LibreOffice 7.4, seen)."""
    connection = http.client.HTTPConnection("127.0.0.1", proxied, timeout=PATIENCE, source_address=("127.0.0.99", 0))

    def ask(method, path):
        connection.request(method, path)
        told = connection.getresponse()
        return told.status, told.getheader("Retry-After"), told.read()

    codes = {ask(method, "/health/live")[0] for _ in range(1000) for method in ("OPTIONS", "HEAD", "GET")}
    assert 429 not in codes, codes
    told = [ask("GET", "/health/live") for _ in range(1600)]
    refused = [(after, text) for code, after, text in told if code == 429]
    assert refused, "a flood is stopped"
    assert {after for after, _ in refused} == {"1"}
    assert {json.loads(text)["type"] for _, text in refused} == {"/problems/too-many-requests"}
    connection.close()


ATTACKS = {
    "over the limit of one body": ("POST", "/v1/trees/balance", "application/json", 4_000_200),
    "far over it": ("POST", "/v1/trees/balance", "application/json", 15_000_000),
    "no such path": ("POST", "/v1/trees/nowhere", "application/json", 3_900_000),
    "no such method": ("PUT", "/v1/trees/balance", "application/json", 3_900_000),
    "a body where none is read": ("GET", "/v1/air", "application/json", 3_900_000),
    "of the wrong kind": ("POST", "/v1/trees/balance", "text/plain", 3_900_000),
    "a batch of too many lines": ("POST", "/v1/batches", "application/x-ndjson", 20_000_000),
    "a batch elsewhere": ("POST", "/v1/batches/", "application/x-ndjson", 20_000_000),
    "far over it, in chunks": ("POST", "/v1/trees/balance", "application/json", 15_000_000),
}


@pytest.mark.parametrize("attack", ATTACKS)
def test_who_is_refused_while_sending_takes_no_instance_from_the_others(proxied, attack, record_property):
    """Three times, while another caller asks all the time: the one reads a refusal, the other gets every answer."""
    method, path, kind, size = ATTACKS[attack]
    stop, codes = threading.Event(), []

    def innocent():
        while not stop.is_set():
            codes.append(status(proxied, "/v1/air?units=us"))
            time.sleep(0.02)

    other = threading.Thread(target=innocent)
    other.start()
    told = []
    try:
        for _ in range(3):
            try:
                body = b"{}\n" * (size // 3)
                sent = iter(body[k : k + 60_000] for k in range(0, len(body), 60_000)) if "chunks" in attack else body
                told.append(answer(proxied, method, path, sent, {"Content-Type": kind})[0])
            except OSError as error:
                told.append(type(error).__name__)
            time.sleep(0.3)
        time.sleep(1.0)
    finally:
        stop.set()
        other.join()
    figures = f"{attack}: told {told}; others: {len(codes)} asked, {sum(code != 200 for code in codes)} refused"
    record_property("figures", figures)
    print(figures)
    assert set(codes) == {200}, figures
    assert set(told) <= {400, 404, 405, 413, 415}, figures


def test_tags_and_signatures_stand_packing(tmp_path, record_property):
    (tmp_path / "key.json").write_text(json.dumps(OKPKey.generate_key("Ed25519").as_dict(private=True)))
    with Served(signing_key_file=tmp_path / "key.json") as one:
        for name in ("nginx.conf", "haproxy.cfg"):
            folder = tmp_path / name.partition(".")[0]
            folder.mkdir()
            with door(name, folder, (one.port, free_port(), free_port())) as port:
                keys = json.loads(answer(port, "GET", "/.well-known/jwks.json")[2])
                packed = {"Accept-Encoding": "gzip"}
                for path in ("/v1/hoods?units=us", "/openapi.json"):
                    code, headers, body = answer(port, "GET", path, headers=packed)
                    assert (code, headers["content-encoding"]) == (200, "gzip"), (name, path)
                    assert json.loads(gzip.decompress(body))
                    again = packed | {"If-None-Match": headers["etag"]}
                    assert answer(port, "GET", path, headers=again)[0] == 304, (name, path, headers["etag"])
                with airbough.Client(f"http://127.0.0.1:{port}", verify_with=keys, headers=packed) as client:
                    assert client.hoods(units="us").units
                    assert client.operating_point(json.loads(BODY)).runs


def test_a_request_that_trickles_is_cut_off(proxied, request):
    """HAProxy times the whole of it; nginx its pauses."""
    pause = 1.0 if "haproxy" in request.node.name else 7.0
    with socket.create_connection(("127.0.0.1", proxied), timeout=30) as slow:
        slow.sendall(b"POST /v1/trees/balance HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n")
        slow.sendall(b"Content-Length: 1000\r\n\r\n{")
        start = time.monotonic()
        with contextlib.suppress(OSError):
            while time.monotonic() - start < 14:
                slow.sendall(b" ")
                time.sleep(pause)
        slow.settimeout(1.0)
        try:
            told = slow.recv(65536)
        except ConnectionResetError:
            told = b""
    assert told == b"" or b" 408 " in told.partition(b"\r\n")[0], told


@pytest.mark.parametrize("name", ["nginx.conf", "haproxy.cfg"])
def test_with_no_instance_left_the_caller_is_told_to_come_back(name, tmp_path):
    with door(name, tmp_path, (free_port(), free_port(), free_port()), awaited=(503,)) as port:
        code, headers, text = answer(port, "POST", "/v1/trees/operating-point", BODY, JSON)
    assert code == 503
    assert headers["content-type"] == "application/problem+json"
    assert headers["retry-after"] == "1"
    assert json.loads(text)["type"] == "/problems/busy"
