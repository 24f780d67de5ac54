"""Whatever is wrong with a line of a batch: it is a refused result with its id, in its place, and the rest goes on.

Asked of the service and in this process, with the same words.
"""

from __future__ import annotations

import copy
import math
import pickle

import msgspec
import numpy as np
import pint
import pytest
from litestar.testing import TestClient

import airbough
from airbough.wire.balance import BalanceRequest
from airbough_service.api.app import create_app

registry = pint.UnitRegistry()


def bent(shop, **run):
    document = copy.deepcopy(shop)
    document["runs"][1] |= run
    return document


def lines_of(shop):
    """Return id -> (line, code of its fault; None where it is answered)."""
    without = copy.deepcopy(shop)
    del without["runs"][1]["diameter"]
    struct = airbough.read(shop, BalanceRequest)
    wrong_struct = msgspec.structs.replace(
        struct, runs=(msgspec.structs.replace(struct.runs[0], diameter="six"), *struct.runs[1:])
    )
    return {
        "good": ("balance", shop, None),
        "missing field": ("balance", without, "missing-field"),
        "wrong unit": ("balance", bent(shop, diameter="6 cfm"), "wrong-kind"),
        "unknown unit": ("balance", bent(shop, diameter="6 zoll"), "unknown-unit"),
        "NaN": ("balance", bent(shop, diameter=math.nan), "not-finite"),
        "numpy NaN": ("balance", bent(shop, diameter=np.float64("nan")), "not-finite"),
        "infinite": ("balance", bent(shop, length=math.inf), "not-finite"),
        "None": ("balance", None, "wrong-type"),
        "no table": ("balance", [1, 2], "wrong-type"),
        "a text": ("balance", "shop.json", "wrong-type"),
        "misspelt question": ("balence", shop, "unknown-word"),
        "no question": (None, shop, "length"),
        "a GET": ("air", {"units": "us"}, "unknown-word"),
        "out of range": ("balance", bent(shop, diameter=9999), "out-of-range"),
        "unknown field": ("balance", bent(shop, diam=6), "unknown-field"),
        "unknown word": ("balance", bent(shop, duct="spiral"), "unknown-word"),
        "no tree": ("balance", bent(shop, into="nobody"), "dangling-into"),
        "a struct": ("balance", struct, None),
        "a wrong struct": ("balance", wrong_struct, "quantity-grammar"),
        "another's struct": ("diagnosis", struct, "missing-field"),
        "an object": ("balance", bent(shop, diameter=object()), "wrong-type"),
        "a quantity": ("balance", bent(shop, diameter=4 * registry.inch), None),
        "a wrong quantity": ("balance", bent(shop, diameter=4 * registry.kelvin), "wrong-kind"),
        "half a character": ("balance", {**shop, "name": "\ud800"}, "not-utf-8"),
        "a numpy number": ("balance", bent(shop, diameter=np.float32(4)), None),
        "x" * 70: ("balance", shop, "length"),
        "a control \u0007": ("balance", shop, "pattern"),
        "last": ("balance", shop, None),
    }


@pytest.fixture(scope="module")
def http():
    with TestClient(create_app()) as client:
        yield client


@pytest.fixture(params=["local", "remote"])
def client(request, http):
    return airbough.local() if request.param == "local" else airbough.Client(http_client=http)


def codes(result):
    return None if result.error is None else {fault.code for fault in result.error.faults}


@pytest.mark.parametrize("lines_at_once", [1, 4, 500])
def test_every_line_has_its_result_in_its_place(client, shop, lines_at_once):
    lines = lines_of(shop)
    given = [(name, question, request) for name, (question, request, _) in lines.items()]
    told = list(client.batch(given, lines_at_once=lines_at_once))
    assert [result.id for result in told] == list(lines)
    found = {result.id: codes(result) for result in told}
    assert found == {name: code if code is None else {code} for name, (_, _, code) in lines.items()}


def test_it_is_the_same_in_process_and_by_the_service(http, shop):
    given = [(name, question, request) for name, (question, request, _) in lines_of(shop).items()]

    def told(client):
        results = list(client.batch(given))
        problems = [None if one.error is None else one.error.problem for one in results]
        plain = [None if one is None else msgspec.structs.replace(one, instance=None) for one in problems]
        return [(one.id, one.status, one.answer, problem) for one, problem in zip(results, plain, strict=True)]

    assert told(airbough.local()) == told(airbough.Client(http_client=http))


@pytest.mark.parametrize("lines_at_once", [1, 2, 500])
def test_an_id_that_stood_before_is_refused(client, shop, lines_at_once):
    names = ["a", "b", "a", "c", "a"]
    told = list(client.batch([(name, "balance", shop) for name in names], lines_at_once=lines_at_once))
    assert [result.id for result in told] == names
    assert [codes(result) for result in told] == [None, None, {"duplicate-id"}, None, {"duplicate-id"}]


def test_the_service_refuses_a_repeated_id_too(http, shop):
    lines = [{"id": name, "question": "balance", "request": shop} for name in ("a", "b", "a")]
    lines.insert(1, {"id": "a", "question": "balance", "request": {"units": "us"}})
    body = b"".join(msgspec.json.encode(line) + b"\n" for line in lines)
    answer = http.post("/v1/batches", content=body, headers={"content-type": "application/x-ndjson"})
    *told, counts = map(msgspec.json.decode, answer.content.splitlines())
    assert [(line["id"], line["status"]) for line in told] == [("a", 200), ("a", 400), ("b", 200), ("a", 400)]
    assert told[1]["problem"]["errors"][0]["code"] == told[3]["problem"]["errors"][0]["code"] == "duplicate-id"
    assert counts == {"lines": 4, "answered": 2, "refused": 2}


@pytest.mark.parametrize("line", [None, 7, (), ("a",), {"id": "a"}, {}, ("a", "balance", {}, "more")])
def test_what_is_no_line_at_all_is_a_refused_result(client, line, shop):
    told = list(client.batch([("first", "balance", shop), line, ("last", "balance", shop)]))
    assert [result.status for result in told] == [200, 400, 200]
    assert type(told[1].error) is airbough.InvalidRequest


def test_a_table_is_a_line(client, shop):
    (told,) = client.batch([{"id": "a", "question": "balance", "request": shop}])
    assert (told.id, told.status) == ("a", 200)


def test_errors_compare_and_survive_pickling(client, shop):
    def error():
        (told,) = client.batch([("a", "balance", bent(shop, diameter="6 cfm"))])
        problem = msgspec.structs.replace(told.error.problem, instance=None)
        return type(told.error)(problem)

    assert error() == error()
    assert hash(error()) == hash(error())
    assert error() != airbough.InvalidRequest(error().problem, airbough.errors.Raw(400))
    assert pickle.loads(pickle.dumps(error())) == error()
