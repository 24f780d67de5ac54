"""Plain documents and files: every fault with its path."""

from __future__ import annotations

import msgspec
import numpy
import pytest

from airbough import (
    BalanceRequest,
    InvalidRequest,
    load,
    read,
)
from airbough.command.designs import designs
from airbough.travel.exchange import plain


def faults(document) -> dict[str, str]:
    with pytest.raises(InvalidRequest) as caught:
        read(document, BalanceRequest)
    return {fault.path: fault.code for fault in caught.value.faults}


def test_a_good_document_is_the_request(shop):
    assert read(shop, BalanceRequest) == msgspec.json.decode(msgspec.json.encode(shop), type=BalanceRequest)


def test_every_fault_is_told_at_once(shop):
    shop["colour"] = "red"
    shop["units"] = "imperial"
    shop["runs"][0]["diameter"] = "six inches"
    del shop["runs"][0]["into"]
    shop["runs"][1]["hood"]["entry"]["type"] = "chimney"
    shop["runs"][2]["join"]["taper_length"] = True
    shop["runs"][2]["gate"]["openin"] = 1
    shop["collector"]["fan"]["curve"][3]["pressure"] = None
    assert faults(shop) == {
        "colour": "unknown-field",
        "units": "unknown-word",
        "runs[0].diameter": "quantity-grammar",
        "runs[0].into": "missing-field",
        "runs[1].hood.entry.type": "unknown-type",
        "runs[2].join.taper_length": "wrong-type",
        "runs[2].gate.openin": "unknown-field",
        "collector.fan.curve[3].pressure": "wrong-type",
    }


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("400 scfm", "not at standard conditions"),
        ("4 in", "`in` is a unit of length"),
        ("400 gallons", "the units of flow are cfm, ft^3/min"),
        ("four cfm", "then a unit: cfm, ft^3/min"),
    ],
)
def test_a_text_that_is_no_flow_is_told_why(shop, written, said):
    shop["runs"][1]["hood"]["flow"] = written
    with pytest.raises(InvalidRequest) as caught:
        read(shop, BalanceRequest)
    ((path, detail),) = [(fault.path, fault.detail) for fault in caught.value.faults]
    assert path == "runs[1].hood.flow"
    assert said in detail


@pytest.mark.parametrize("document", [None, 3, "text", [], {}])
def test_what_is_no_tree_at_all(document):
    assert faults(document)


def test_a_json_file(tmp_path, shop):
    path = tmp_path / "shop.json"
    path.write_bytes(msgspec.json.encode(shop))
    assert load(path, BalanceRequest) == read(shop, BalanceRequest)


def test_a_toml_file_leaves_out_what_is_null(tmp_path):
    path = tmp_path / "shop.toml"
    path.write_text(
        """
        units = "metric"
        [[runs]]
        id = "only"
        diameter = 150
        length = "20 ft"
        hood = { flow = 700, entry = { type = "bellmouth" } }
        """
    )
    tree = load(str(path), BalanceRequest)
    assert tree.runs[0].into is None
    assert tree.runs[0].length == "20 ft"


@pytest.mark.parametrize(
    ("name", "text"), [("a.json", "{"), ("a.toml", "= 3"), ("a.json", "\xff"), ("b.toml", "units=1")]
)
def test_a_broken_file(tmp_path, name, text):
    (tmp_path / name).write_bytes(text.encode("latin-1"))
    with pytest.raises(InvalidRequest):
        load(tmp_path / name, BalanceRequest)


@pytest.mark.parametrize("end", ["json", "yaml", "toml"])
def test_a_key_that_stands_twice_is_refused_as_the_service_refuses_it(tmp_path, end):
    """Of JSON by the same code; RFC 8259, section 4: readers differ on which of the two counts."""
    texts = {
        "json": '{"units": "us", "runs": [{"id": "a", "length": 1, "l\\u0065ngth": 20}]}',
        "yaml": "units: us\nruns:\n- id: a\n  length: 1\n  length: 20\n",
        "toml": 'units = "us"\n[[runs]]\nid = "a"\nlength = 1\nlength = 20\n',
    }
    (tmp_path / f"a.{end}").write_text(texts[end])
    with pytest.raises(InvalidRequest) as caught:
        load(tmp_path / f"a.{end}", BalanceRequest)
    assert [fault.code for fault in caught.value.faults] == ["duplicate-key" if end == "json" else "not-decodable"]


def test_a_line_of_designs_with_a_key_twice_is_a_design_with_that_fault(tmp_path):
    path = tmp_path / "many.ndjson"
    path.write_text('{"units": "us", "units": "metric"}\n{"units": "us", "runs": [{"units": 1}]}\n')
    one, other = [found.read() for found in designs([path], "balance")]
    assert [fault.code for fault in one.fault.faults] == ["duplicate-key"]
    assert other.fault is None


def test_numbers_of_arrays_are_numbers():
    assert plain({"a": numpy.float64(1.5), "b": numpy.int64(3), "c": [numpy.float32(0.5)]}) == {
        "a": 1.5,
        "b": 3,
        "c": [0.5],
    }
    with pytest.raises(InvalidRequest, match="object cannot be sent"):
        plain({"a": object()})
