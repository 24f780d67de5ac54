"""Advice by gain: each change brings, when made, the air that it promises, and spoils nothing."""

from __future__ import annotations

import copy
import json
import math
import re
import runpy
from collections import Counter
from decimal import Decimal
from pathlib import Path

import pytest

from airbough_service.terms.refusal import Refusal
from asking import ask

ROOT = Path(__file__).parents[2]
PRICED = runpy.run_path(str(ROOT / "deploy" / "price_list.py"))["stock"](pieces=True)
SHOPS = {
    name: json.loads((ROOT / name).read_text("utf-8"))
    for name in ("deploy/bad-shop.json", "deploy/shop.json", "tests/data/eight_machines.json")
}


def made(shop, changes):
    """Return the document with changes made at their paths."""
    document = copy.deepcopy(shop)
    for change in changes:
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
        again = ask("operating-point", made(shop, one.changes))
        assert again.system.flow - answer.system.flow == pytest.approx(one.flow_gained, rel=1e-6), one.text
        for old, new in zip(answer.hoods, again.hoods, strict=True):
            assert new.served in (None, "holds") or old.served != "holds" or new.flow >= old.flow


@pytest.mark.parametrize("name", SHOPS)
def test_a_change_costs_what_the_two_parts_lists_differ_by(name):
    shop, priced = SHOPS[name], PRICED
    answer = ask("operating-point", copy.deepcopy(shop) | {"advice": True, "stock": priced})
    before = by_item(shop, priced)
    told = [one for one in answer.advice if one.buys is not None]
    assert told
    for one in told:
        after = by_item(made(shop, one.changes), priced)
        more = {item: after[item] - before[item] for item in after if after[item] > before[item]}
        assert {item.item: item.price for item in one.buys if item.price is not None} == more, one.text
        assert one.price == sum(more.values(), Decimal(0))
        assert one.currency == "invented money"
    ranked = sorted((one for one in told if one.price_complete), key=lambda one: one.rank_for_price)
    assert [one.rank_for_price for one in ranked] == list(range(1, len(ranked) + 1))
    worth = [one.flow_gained / float(one.price) if one.price else math.inf for one in ranked]
    assert worth == sorted(worth, reverse=True)


def by_item(shop, priced):
    """Return what a shop's parts cost, by item."""
    out = Counter()
    for line in ask("parts-list", copy.deepcopy(shop) | {"stock": priced}).lines:
        out[line.item] += line.price or 0
    return out


LONG = {
    "units": "us",
    "runs": [
        {"id": "main", "into": None, "diameter": 4, "length": 40, "duct": "spiral-galvanized",
         "fittings": [{"type": "elbow", "angle": 90, "radius_ratio": 1.5}],
         "gate": {"opening": 0.5},
         "hood": {"flow": 500, "port_diameter": 4, "entry": {"type": "known-coefficient", "coefficient": 0.5}}},
    ],
    "collector": {"fan": {"curve": [{"flow": 0, "pressure": 10}, {"flow": 1200, "pressure": 2}],
                          "rated_as": "fan-static"}},
}  # fmt: skip


def test_prices_by_hand():
    """40 ft of 5 in. pipe at 2.40, an elbow of 15, a gate of 14; the gate opened costs nothing; a port has no price."""
    sold = {
        "ducts": [{"item": f"pipe-{bore}", "diameter": bore, "price_per_length": price}
                  for bore, price in ((4, "1.90"), (5, "2.40"))],
        "fittings": [{"item": f"elbow-{bore}", "type": "elbow", "diameter": bore, "angle": 90, "price": 3 * bore}
                     for bore in (4, 5)]
        + [{"item": "taper", "type": "taper", "diameter": 4, "downstream_diameter": 5, "price": 10}],
        "gates": [{"item": f"gate-{bore}", "diameter": bore, "price": 9 + bore} for bore in (4, 5)],
    }  # fmt: skip
    answer = ask("operating-point", copy.deepcopy(LONG) | {"advice": True, "stock": sold})
    told = {one.text: one for one in answer.advice}
    assert told["main: its gate fully open"].price == 0
    assert told["main: its gate fully open"].rank_for_price == 1
    wider = told["main: 5 in. in place of 4 in."]
    bought = {item.item: (item.quantity, item.price) for item in wider.buys}
    assert bought["pipe-5"] == (None, Decimal("96.00"))
    assert bought["elbow-5"] == (1, Decimal("15.00"))
    assert bought["gate-5"] == (1, Decimal("14.00"))


def test_what_the_seller_has_not_has_no_price():
    sold = {"ducts": [{"item": "pipe-4", "diameter": 4, "price_per_length": 2}], "gates": [{"diameter": 4}]}
    answer = ask("operating-point", copy.deepcopy(LONG) | {"advice": True, "stock": sold})
    wider = next(one for one in answer.advice if one.text == "main: 5 in. in place of 4 in.")
    assert not wider.price_complete
    assert wider.rank_for_price is None
    assert all(item.item is None for item in wider.buys)


@pytest.mark.parametrize("question", ["operating-point", "gate-states"])
def test_a_stock_that_no_advice_uses_is_refused(question):
    with pytest.raises(Refusal) as refused:
        ask(question, copy.deepcopy(LONG) | {"stock": {"ducts": [{"diameter": 4}]}})
    assert [(fault.path, fault.code) for fault in refused.value.faults] == [("stock", "stock-without-advice")]


def test_no_advice_lets_dust_settle():
    # in a main already too wide no wider main is advised
    answer = ask("operating-point", copy.deepcopy(SHOPS["deploy/bad-shop.json"]) | {"advice": True})
    assert not [one for one in answer.advice if one.run.startswith("main")]


def test_advice_is_given_where_it_is_asked_for():
    assert ask("operating-point", copy.deepcopy(SHOPS["deploy/shop.json"])).advice is None
    asked = copy.deepcopy(SHOPS["deploy/shop.json"]) | {"up_to": 1, "advice": True}
    assert ask("gate-states", asked).advice is not None
