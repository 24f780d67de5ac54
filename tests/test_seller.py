"""The invented seller's server, without a browser: what it refuses, and that nobody holds it up."""

import importlib.util
import json
import re
import socket
import subprocess
import sys
import threading
import tomllib
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
    with (
        Served(signing_key_file=key, compute_timeout=60) as served,
        ThreadingHTTPServer(("127.0.0.1", 0), module.Handler) as server,
    ):
        module.Handler.seller = module.Seller(served.address, None)
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield server.server_port
        server.shutdown()
        thread.join()
        module.Handler.seller._service.close()


def post(port, path, body, **headers):
    connection = HTTPConnection("127.0.0.1", port, timeout=120)
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


def test_a_quote_for_two_machines_at_once_is_ordered_for_those(port):
    pair = [{"name": "both", "open": ["saw", "planer"]}]
    status, signature, answer = post(port, "/quote", {"outline": OUTLINE, "states": pair})
    assert (status, [state["name"] for state in json.loads(answer)["states"]]) == (200, ["both"]), answer
    order = {"outline": OUTLINE, "answer": answer.decode(), "signature": signature}
    assert post(port, "/order", order)[0] == 409
    assert post(port, "/order", order | {"states": pair})[0] == 200


def test_layouts_are_asked_with_the_stock_of_this_seller_alone(port):
    room = {
        "units": "us",
        "dust": "sawdust",
        "room": {"corners": [[0, 0], [20, 0], [20, 12], [0, 12]], "duct_height": 8},
        "collector": {"inlet": {"place": [0, 6, 8], "direction": "+x"}},
        "machines": [{"id": "planer", "machine": "planer", "place": [12, 9, 3], "port": 4, "hose": 4}],
        "stock": {"ducts": [{"diameter": 4, "price_per_length": 0.01}]},
        "alternatives": 9,
    }
    status, _, answer = post(port, "/layout", {"layout": room})
    assert status == 200, answer
    (layout,) = json.loads(answer)["layouts"]
    assert float(layout["price"]) > 100.0
    status, _, answer = post(port, "/layout", {"layout": room | {"machines": []}})
    assert (status, json.loads(answer)["errors"][0]["path"]) == (400, "machines")


@pytest.mark.parametrize("table", ["CODES", "FAULTS", "CAUTIONS"])
def test_what_the_service_tells_by_codes_has_german_words(table):
    """Findings and cautions all; of faults those of rooms, lines and machines, the others by a general word."""
    told = (ROOT / "deploy" / "quote" / "german.js").read_text("utf-8")
    part = told.partition(f"export const {table} = {{")[2].partition("\n};")[0]
    have = {one.strip('"') for one in re.findall(r'^  ("(?:[^"\\]|\\.)*"|\w+):', part, re.MULTILINE)}
    cautions = tomllib.loads((ROOT / "service/airbough_service/catalogue/cautions.toml").read_text("utf-8"))
    findings = set(json.loads((ROOT / "openapi" / "v1.json").read_text("utf-8"))["x-findings"])
    must = {"CODES": findings, "CAUTIONS": {one["text"] for one in cautions["caution"]}, "FAULTS": set()}[table]
    assert must - have == set()
    assert "other" in have
    if table != "FAULTS":
        assert have - must == {"other"}


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


def test_a_visitor_who_says_nothing_is_let_go(port, module, monkeypatch):
    """The limit of 20 s is 1 s here."""
    monkeypatch.setattr(module.Handler, "timeout", 1.0)
    with socket.create_connection(("127.0.0.1", port), timeout=15) as stalled:
        stalled.sendall(b"POST /quote HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\n{")
        assert stalled.recv(1000) == b""
