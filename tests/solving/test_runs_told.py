"""Runs that are put into the preset all at once are those that are put there one by one."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from msgspec import structs

import random_documents
from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.questions import operating_point
from airbough_service.solving.tree_answer import Runs
from airbough_service.terms import units
from airbough_service.terms.refusal import NotFiniteError, Refusal


def solved(seed):
    """Return an answer in SI, with its runs as they are solved; None where there is none."""
    request = msgspec.convert(random_documents.document(seed), OperatingPointRequest)
    try:
        answer = operating_point.answer(units.to_si(request))
    except Refusal:
        return None
    return answer if isinstance(answer.runs, Runs) else None


@pytest.mark.parametrize("preset", ["us", "metric"])
def test_all_at_once_is_one_by_one(preset):
    kinds, seen = [], 0
    for answer in filter(None, map(solved, range(60))):
        at_once = units.told(answer, preset)
        one_by_one = units.told(structs.replace(answer, runs=answer.runs.plainly()), preset)
        assert at_once == one_by_one
        assert msgspec.json.encode(at_once.runs) == msgspec.json.encode(one_by_one.runs)
        assert at_once.units == one_by_one.units
        kinds.append(answer.runs.told(preset) is None)
        seen += len(at_once.runs)
    assert seen > 60
    assert {True, False} == set(kinds), "runs of several rows are told one by one"


def test_no_number_is_a_negative_zero():
    # Whoever reads a table takes -0 for a fault.
    told = [msgspec.json.encode(units.told(answer, "us")) for answer in filter(None, map(solved, range(60)))]
    assert any(b'"static_pressure":0.0' in text for text in told), "some hood is shut"
    assert not [text for text in told if b":-0.0," in text or b":-0.0}" in text]


def test_what_is_not_finite_is_told_by_its_place():
    answer = next(filter(None, map(solved, range(60))))
    answer.runs.lines[2, 0] = np.inf
    broken = Runs([structs.replace(answer.runs[0], velocity_pressure=np.inf), *answer.runs[1:]])
    broken.lines = answer.runs.lines
    with pytest.raises(NotFiniteError, match=r"runs\[0\].velocity_pressure"):
        units.told(structs.replace(answer, runs=broken), "us")
