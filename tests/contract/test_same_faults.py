"""A broken document is told the same faults however it is asked: by the SDK alone, in process, by POST, in a batch."""

from __future__ import annotations

import copy
import json
import math
import random

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import airbough
from airbough.calls import CALLS
from airbough_service.api.document import examples
from documents_bent import bend

POSTS = {call.name: call for call in CALLS if call.method == "POST"}


def by_sdk(name, document):
    try:
        airbough.read(document, POSTS[name].request)
    except airbough.InvalidRequest as error:
        return told(error.problem)
    return None


def in_process(client, name, document):
    try:
        getattr(client, name.replace("-", "_"))(document)
    except airbough.Refused as error:
        return told(error.problem)
    return None


def posted(client, name, document):
    headers = {"content-type": "application/json"}
    answer = client.post(POSTS[name].path, content=json.dumps(document), headers=headers)
    return None if answer.status_code == 200 else told(msgspec.json.decode(answer.content, type=Problem))


def in_batch(client, name, document):
    line = json.dumps({"id": "a", "question": name, "request": document})
    answer = client.post("/v1/batches", content=line, headers={"content-type": "application/x-ndjson"})
    result = msgspec.json.decode(answer.content.splitlines()[0], type=Line)
    assert result.id == "a"
    return None if result.problem is None else told(result.problem)


Problem = airbough.wire.problem.Problem


class Line(msgspec.Struct):
    id: str
    problem: Problem | None = None


def told(problem):
    return problem.status, problem.type, msgspec.json.encode(problem.errors)


@pytest.fixture(scope="module")
def local():
    return airbough.local()


@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(name=st.sampled_from(sorted(POSTS)), seed=st.integers(0, 2**32), bends=st.integers(1, 4))
def test_the_same_document_is_told_the_same_faults(client, local, name, seed, bends):
    chance = random.Random(seed)
    document = copy.deepcopy(examples.request(name))
    for _ in range(bends):
        bend(document, chance)
    alone = by_sdk(name, copy.deepcopy(document))
    others = [in_process(local, name, document), posted(client, name, document), in_batch(client, name, document)]
    assert others[0] == others[1] == others[2]
    if alone is not None or (others[1] is not None and others[1][0] == 400):
        assert alone == others[1]


@pytest.mark.parametrize("number", [2.0, 2])
def test_a_whole_number_may_be_written_with_a_point(client, local, number):
    document = examples.request("balance")
    document["runs"][0]["fittings"] = [{"type": "tee-as-elbow", "count": number}]
    ways = [in_process(local, "balance", document), posted(client, "balance", document)]
    assert [*ways, in_batch(client, "balance", document), by_sdk("balance", document)] == [None] * 4


def test_a_number_that_is_not_finite_is_told_with_its_path(client, local):
    document = examples.request("balance")
    document["runs"][0]["diameter"] = math.nan
    document["runs"][0]["colour"] = "red"
    wanted = {"runs[0].colour": "unknown-field", "runs[0].diameter": "not-finite"}
    ways = [in_process(local, "balance", document), posted(client, "balance", document)]
    ways += [in_batch(client, "balance", document), by_sdk("balance", document)]
    assert ways == ways[:1] * 4
    assert {fault["path"]: fault["code"] for fault in json.loads(ways[0][2])} == wanted
