"""Random shops: every question that tells a quantity tells the same of it, and the same as the contract.

Each shop is asked what its states are; every tenth is also asked one of the other checks, by turns. Twenty thousand
shops are asked all of it by `tests/long/agreement.py`.
"""

from collections import Counter

import pytest

from agreement import checks, shops
from agreement.facts import Asking
from agreement.known import covered, unknown

SHOPS, AT_ONCE = 200, 10
OTHERS = [name for name in checks.CHECKS if name != "all alike"]


def looked_at(seed, asking):
    """Return what of one shop no entry of the known disagreements covers, and what they cover."""
    shop = shops.draw(seed)
    names = ["all alike", *(OTHERS[seed % 10 : seed % 10 + 1])]
    found = [one for name in names for one in checks.CHECKS[name](shop, asking)]
    return unknown(found, shop), covered(found, shop)


@pytest.mark.parametrize("first", range(0, SHOPS, AT_ONCE))
def test_every_question_tells_the_same(first):
    asking = Asking()
    for seed in range(first, first + AT_ONCE):
        found, _ = looked_at(seed, asking)
        assert not found, f"shop {seed}: {len(found)}, such as {'; '.join(map(str, found[:3]))}"


def test_each_feature_is_in_a_fifth_of_the_shops():
    counts = Counter(feature for seed in range(SHOPS) for feature in shops.draw(seed).features)
    rare = {feature: counts[feature] for feature in shops.FEATURES if counts[feature] < SHOPS / 5}
    assert not rare
    assert set(counts) == set(shops.FEATURES)
