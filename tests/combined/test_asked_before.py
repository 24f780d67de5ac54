"""An answer does not hang on what was asked before it, nor beside it: what is remembered is remembered whole."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import msgspec
import pytest

from agreement.shops import draw
from airbough_service.terms.refusal import Refusal
from asking import ask

SHOPS = [draw(50_000 + seed) for seed in range(6)]
DOCUMENTS = [document for shop in SHOPS for document in (shop.document, shop.other)]
ASKED = [
    *(("operating-point", document | {"explain": True, "resolved": True}) for document in DOCUMENTS),
    *(("operating-point", document | {"advice": True}) for document in DOCUMENTS),
    *(("balance", document | {"by": "gates"}) for document in DOCUMENTS),
]


def told(asked):
    """Return an answer's bytes, or why it is refused."""
    question, document = asked
    try:
        return msgspec.json.encode(ask(question, dict(document)))
    except Refusal as refusal:
        return msgspec.json.encode([refusal.kind, refusal.faults])


@pytest.fixture(scope="module")
def first():
    return [told(one) for one in ASKED]


def test_asked_again_in_another_order_it_is_the_same_to_the_byte(first):
    assert len(set(first)) > len(SHOPS)
    assert [told(one) for one in reversed(ASKED)] == first[::-1]


def test_asked_side_by_side_it_is_the_same_to_the_byte(first):
    with ThreadPoolExecutor(3) as threads:
        assert list(threads.map(told, ASKED * 2)) == first * 2
