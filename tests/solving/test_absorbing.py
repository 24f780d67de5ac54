"""What a gate must absorb, put into the document, is absorbed: the balance then asks for nothing more of it."""

from __future__ import annotations

import copy

import pytest

import airbough

CLIENT = airbough.local()
ENTRY = {"type": "plain-opening"}
SHOP = {
    "units": "metric",
    "runs": [
        {"id": "main", "into": None, "diameter": 200, "length": 5, "duct": "spiral-galvanized"},
        {"id": "long", "into": "main", "join": {"type": "straight"}, "diameter": 125, "length": 20,
         "duct": "spiral-galvanized", "hood": {"flow": 900, "entry": ENTRY}},
        {"id": "short", "into": "main", "join": {"type": "branch", "angle": 45}, "diameter": 125, "length": 2,
         "duct": "spiral-galvanized", "hood": {"flow": 700, "entry": ENTRY}, "gate": {"opening": 1.0}},
    ],
}  # fmt: skip


def short_branch(**gate):
    body = copy.deepcopy(SHOP)
    body["runs"][2]["gate"] |= gate
    return next(one for one in CLIENT.balance(body).branches if one.run == "short")


def test_a_gate_that_stands_as_told_absorbs_what_was_asked_of_it():
    asked = short_branch()
    assert asked.action == "gate"
    assert 0.0 < asked.gate_opening < 1.0
    then = short_branch(opening=asked.gate_opening)
    assert then.pressure == pytest.approx(then.governing_pressure, rel=1.0e-6)
    assert asked.pressure + asked.gate_loss == pytest.approx(then.pressure, rel=1.0e-6)


def test_no_opening_is_told_of_a_gate_that_leaks_more_than_it():
    """A gate is a slide gate at the greater of its opening and its leakage (the wire contract, section 2, Gate)."""
    needed = short_branch().gate_opening
    assert short_branch(leakage=0.9 * needed).gate_opening == pytest.approx(needed)
    leaky = short_branch(leakage=min(1.0, 1.2 * needed))
    assert leaky.action == "gate"
    assert leaky.gate_opening is None
    assert leaky.gate_travel is None
