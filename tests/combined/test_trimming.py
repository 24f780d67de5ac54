"""Parts of answers: what is told is what the whole answer tells, and what is not is named."""

from __future__ import annotations

import typing

import msgspec
import pytest

import airbough
import random_documents
from airbough.calls import CALLS
from airbough.wire.trimmed import TrimmedAnswer
from airbough.wire.variants import Figure
from airbough_service.api.document import examples
from airbough_service.api.http.body import decode
from airbough_service.combined import registry
from airbough_service.terms.refusal import Refusal

BY_NAME = {call.name: call for call in CALLS}
QUESTIONS = ("operating-point", "balance", "gate-states", "parts-list", "strength", "velocity-check", "outline")


def told(question, document, only=None):
    request = decode(msgspec.json.encode(document), BY_NAME[question].request)
    return msgspec.json.decode(msgspec.json.encode(registry.answer(question, request, only)))


def part(whole, word):
    """Return what a whole answer tells of a part; rows without it are left out."""
    name, _, inner = word.partition(".")
    value = whole.get(name)
    if not inner or value is None:
        return value
    rows = value if isinstance(value, list) else [value]
    return [row[inner] for row in rows if inner in row]


@pytest.mark.parametrize("question", QUESTIONS)
def test_each_field_is_told_alone_as_the_whole_answer_tells_it(question):
    document = examples.request(question)
    whole = told(question, document)
    for name, value in whole.items():
        if name in ("engine", "preset", "units", "cautions"):
            continue
        one = told(question, document, (name,))
        assert one["told"] == {name: value}
        assert name not in one["left_out"]
        assert set(whole) - {name} <= {*one["left_out"], "engine", "preset", "units", "cautions"}
        assert one.get("engine") == whole.get("engine")
        assert set(one.get("cautions", ())) <= set(whole.get("cautions", ()))
        assert one.get("units", {}).items() <= whole.get("units", {}).items()


@pytest.mark.parametrize("seed", range(8))
def test_every_figure_of_variants_is_a_part_of_an_operating_point(seed):
    document = random_documents.document(seed)
    whole = told("operating-point", document)
    words = typing.get_args(Figure)
    one = told("operating-point", document, words)
    for word in words:
        assert part(one["told"], word) == part(whole, word), word
    for rows, name in (("runs", "id"), ("hoods", "run")):
        assert [row[name] for row in one["told"][rows]] == [row[name] for row in whole[rows]]


def test_cautions_of_findings_come_with_findings():
    document = random_documents.document(1)
    whole = told("operating-point", document)
    assert told("operating-point", document, ("findings",))["cautions"] == whole["cautions"]
    assert told("operating-point", document, ("outcome",))["cautions"]


def test_what_stands_in_a_field_told_in_part_is_named_where_it_is_left_out():
    one = told("operating-point", random_documents.document(2), ("system.flow", "hoods.open"))
    assert {"system.shaft_power", "hoods.flow", "runs", "findings"} <= set(one["left_out"])
    assert not {"system.flow", "system", "hoods", "hoods.run"} & set(one["left_out"])


@pytest.mark.parametrize("word", ["flows", "system.flows", "runs.hoods", "units"])
def test_a_part_that_the_answer_does_not_have_is_refused_with_its_place(word):
    with pytest.raises(Refusal) as caught:
        told("operating-point", random_documents.document(3), ("outcome", word))
    assert [(fault.path, fault.code) for fault in caught.value.faults] == [("only[1]", "unknown-word")]


def test_a_batch_asks_for_parts_of_all_lines_or_of_one():
    document = random_documents.document(4)
    with airbough.local() as client:
        lines = [
            airbough.Line("a", "operating-point", document),
            {"id": "b", "question": "operating-point", "request": document, "only": ["hoods.flow"]},
            ("c", "operating-point", document | {"units": "nautical"}),
            {"id": "d", "question": "operating-point", "request": document, "only": "outcome"},
        ]
        a, b, c, d = client.batch(lines, only=["outcome"])
        (whole,) = client.batch([("a", "operating-point", document)])
    assert isinstance(a.answer, TrimmedAnswer)
    assert a.answer.told == {"outcome": whole.answer.outcome}
    assert [hood["flow"] for hood in b.answer.told["hoods"]] == [hood.flow for hood in whole.answer.hoods]
    assert c.error.problem.errors[0].path == "units"
    assert d.error.problem.errors[0].path == "only"


def test_parts_are_told_in_rows_as_the_whole_answer_is():
    document = random_documents.document(4)
    with airbough.local() as client:
        (some,) = client.batch([("a", "operating-point", document)], only=["hoods.flow", "findings", "system"])
        (whole,) = client.batch([("a", "operating-point", document)])
    for of in ("hoods", "findings", "system"):
        rows = airbough.rows(some.answer, of)
        for row, other in zip(rows, airbough.rows(whole.answer, of), strict=True):
            assert all(other[name] == item for name, item in row.items() if name in other)  # beside tables by name
    assert {"run", "flow"} == set(airbough.rows(some.answer, "hoods")[0])
    with pytest.raises(LookupError, match="hoods"):
        airbough.rows(some.answer, "runs")
    with pytest.raises(ValueError, match="unit"):
        airbough.rows(some.answer, "hoods", units=True)
