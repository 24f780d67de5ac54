"""Advice by gain: each change brings, when made, the air that it promises, and spoils nothing."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path

import pytest

from asking import ask

ROOT = Path(__file__).parents[2]
SHOPS = {
    name: json.loads((ROOT / name).read_text("utf-8"))
    for name in ("deploy/bad-shop.json", "deploy/shop.json", "tests/data/eight_machines.json")
}


def made(shop, change):
    """Return the document with one change made at its path."""
    document = copy.deepcopy(shop)
    place = document
    *steps, last = re.findall(r"[a-z_]+|\d+", change.path)
    for step in steps:
        place = place[int(step) if step.isdigit() else step]
    place[int(last) if last.isdigit() else last] = change.value
    return document


@pytest.mark.parametrize("name", SHOPS)
def test_a_change_brings_the_air_that_it_promises(name):
    shop = SHOPS[name]
    answer = ask("operating-point", copy.deepcopy(shop) | {"advice": True})
    assert answer.advice
    gains = [one.flow_gained for one in answer.advice]
    assert gains == sorted(gains, reverse=True)
    for one in answer.advice:
        (change,) = one.changes
        document = made(shop, change)
        index = int(re.findall(r"\d+", change.path)[0])
        if change.path == f"runs[{index}].diameter" and "hood" in document["runs"][index]:
            # the port, which is as wide as the run where none is told, stays
            document["runs"][index]["hood"].setdefault("port_diameter", shop["runs"][index]["diameter"])
        if change.value == "flexible-hose-smooth":
            document["runs"][index].pop("stretch", None)
        again = ask("operating-point", document)
        assert again.system.flow - answer.system.flow == pytest.approx(one.flow_gained, rel=1e-6), one.text
        for old, new in zip(answer.hoods, again.hoods, strict=True):
            assert new.served in (None, "holds") or old.served != "holds" or new.flow >= old.flow


def test_no_advice_lets_dust_settle():
    # in a main already too wide no wider main is advised
    answer = ask("operating-point", copy.deepcopy(SHOPS["deploy/bad-shop.json"]) | {"advice": True})
    assert not [one for one in answer.advice if one.run.startswith("main")]


def test_advice_is_given_where_it_is_asked_for():
    assert ask("operating-point", copy.deepcopy(SHOPS["deploy/shop.json"])).advice is None
    asked = copy.deepcopy(SHOPS["deploy/shop.json"]) | {"up_to": 1, "advice": True}
    assert ask("gate-states", asked).advice is not None
