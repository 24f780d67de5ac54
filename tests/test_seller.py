"""The invented seller's server, without a browser: what it refuses, and that nobody holds it up."""

import importlib.util
import json
import socket
import subprocess
import sys
import threading
from http.client import HTTPConnection
from http.server import ThreadingHTTPServer
from pathlib import Path

import pytest

from serving import Served

ROOT = Path(__file__).resolve().parents[1]
OUTLINE = {
    "units": "us",
    "dust": "shavings",
    "lines": [{"id": "main", "into": None, "length": 20}],
    "machines": [
        {"id": "saw", "machine": "table-saw", "line": "main", "at": 20, "off": 0, "drop": 5, "port": 4, "hose": 4},
        {"id": "planer", "machine": "planer", "line": "main", "at": 12, "off": 3, "drop": 5, "port": 5, "hose": 4},
    ],
}


@pytest.fixture(scope="module")
def module():
    spec = importlib.util.spec_from_file_location("seller", ROOT / "deploy" / "quote" / "server.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


@pytest.fixture(scope="module")
def port(module, tmp_path_factory):
    key = tmp_path_factory.mktemp("seller") / "key.json"
    made = subprocess.run([sys.executable, "-m", "airbough_service.api.signing"], capture_output=True, check=True)
    key.write_bytes(made.stdout)
    assert 5.0 <= module.Handler.timeout <= 60.0
    module.Handler.timeout = 1.0
    with Served(signing_key_file=key) as served, ThreadingHTTPServer(("127.0.0.1", 0), module.Handler) as server:
        module.Handler.seller = module.Seller(served.address, None)
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield server.server_port
        server.shutdown()
        thread.join()
        module.Handler.seller._service.close()


def post(port, path, body, **headers):
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("POST", path, body=body if isinstance(body, bytes) else json.dumps(body), headers=headers)
    reply = connection.getresponse()
    told = reply.status, reply.getheader("Airbough-Signature"), reply.read()
    connection.close()
    return told


def test_a_quote_is_ordered_as_it_was_made_and_not_otherwise(port):
    status, signature, answer = post(port, "/quote", {"outline": OUTLINE})
    assert status == 200, answer
    order = {"outline": OUTLINE, "answer": answer.decode(), "signature": signature}
    status, _, told = post(port, "/order", order)
    assert (status, json.loads(told)["price"]) == (200, json.loads(answer)["price"])
    cheaper = answer.decode().replace(json.loads(answer)["price"], "1.00")
    longer = {**OUTLINE, "lines": [{"id": "main", "into": None, "length": 40}]}
    for wrong in ({"answer": cheaper}, {"outline": longer}, {"signature": None}):
        status, _, told = post(port, "/order", order | wrong)
        assert (status, json.loads(told)) == (409, {"error": "altered"}), wrong


@pytest.mark.parametrize(
    ("body", "headers", "status"),
    [
        (b"[" * 200_000, {}, 400),
        (b"{}", {}, 400),
        (b'{"outline": 3}', {}, 400),
        (b"{}", {"Content-Length": "two"}, 411),
        (b"{}", {"Content-Length": "-2"}, 411),
        (b"{}", {"Content-Length": "2000000"}, 413),
    ],
)
def test_what_it_cannot_read_it_says(port, body, headers, status):
    assert post(port, "/quote", body, **headers)[0] == status


def test_a_visitor_who_says_nothing_is_let_go(port):
    """The limit of 20 s is 1 s here."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as stalled:
        stalled.sendall(b"POST /quote HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n{")
        assert stalled.recv(1000) == b""
