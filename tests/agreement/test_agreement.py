"""Random shops: every question that tells a quantity tells the same of it, and the same as the contract.

Each shop is asked what its states are; one in ten is also asked one of the other checks, by turns. Twenty thousand
shops are asked more by `tests/long/agreement.py`.
"""

import sys
from collections import Counter

import pytest

from agreement import checks, comparing, facts, shops
from agreement.facts import TELLERS, Asking
from agreement.known import CRASHING, KNOWN, REFUSING, unknown

SHOPS, AT_ONCE, ANSWERED = 200, 100, 0.9
OTHERS = [name for name in checks.CHECKS if name != "all alike"]


@pytest.mark.parametrize("first", range(0, SHOPS, AT_ONCE))
def test_every_question_tells_the_same(first):
    asking = Asking()
    for seed in range(first, first + AT_ONCE):
        shop = shops.draw(seed)
        for check in ["all alike", *OTHERS[seed % 10 : seed % 10 + 1]]:
            found = unknown(checks.CHECKS[check](shop, asking), shop)
            assert not found, f"shop {seed}, {check}: {len(found)}, such as {'; '.join(map(str, found[:3]))}"
    sys.stdout.write(f"\n{asking.table()}\n")
    assert [crash for crash in asking.crashed if (crash[0], crash[2]) not in CRASHING] == []
    assert set(asking.asked) == set(TELLERS)
    assert {name for name in TELLERS if asking.share_answered(name) < ANSWERED} <= set(REFUSING)


def test_each_feature_is_in_a_fifth_of_the_shops():
    counts = Counter(feature for seed in range(SHOPS) for feature in shops.draw(seed).features)
    assert {feature: counts[feature] for feature in shops.FEATURES if counts[feature] < SHOPS / 5} == {}
    assert set(counts) == set(shops.FEATURES)


@pytest.mark.parametrize("known", KNOWN, ids=lambda known: known.what)
def test_a_known_disagreement_still_stands(known):
    shop = shops.draw(known.seed)
    assert any(known.covers(found, shop) for found in checks.CHECKS[known.check](shop, Asking())), "mended: take it out"


@pytest.mark.parametrize("question", REFUSING)
def test_a_question_known_to_refuse_still_does(question):
    asking = Asking()
    checks.all_alike(shops.draw(REFUSING[question]), asking)
    assert asking.shops_refused[question], "mended: take it out"


def test_a_gate_gives_its_machine_id_to_every_port_whose_first_gate_it_is():
    document = two_ports()
    case = facts.case(shops.Shop(0, document, document, [], set()), Asking())
    assert comparing.disagreements(checks.told(case, ["working-day"])) == []


def two_ports():
    """Return a machine with two ports behind one gate; the gate bears its id, and one of its hoods."""
    duct, entry = {"length": 6, "duct": "spiral-galvanized"}, {"type": "plain-opening"}
    runs = [
        {"id": "drop", "into": None, "diameter": 6, "gate": {"opening": 1.0, "machine_id": "saw"}} | duct,
        {"id": "low", "into": "drop", "diameter": 5, "join": {"type": "straight"}, "hood": {"flow": 400}} | duct,
        {"id": "high", "into": "drop", "diameter": 4, "join": {"type": "branch", "angle": 45}, "hood": {"flow": 200}}
        | duct,
    ]
    for run in runs[1:]:
        run["hood"]["entry"] = entry
    runs[1]["hood"]["machine_id"] = "saw"
    curve = [{"flow": 0, "pressure": 12}, {"flow": 2000, "pressure": 0}]
    return {"units": "us", "runs": runs, "collector": {"fan": {"curve": curve, "rated_as": "fan-static"}}}
