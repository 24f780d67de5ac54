"""The scan for keys that stand twice, beside Python's own reader of JSON."""

import json
import random

import numpy as np
import pytest

from airbough_service.api.http.body import refuse_duplicate_keys
from airbough_service.core.distinct_keys import any_twice, sort_in_place, surely_distinct
from airbough_service.terms.refusal import Refusal

WORDS = ["id", "into", "a", "", "é", "key with : and { and [", "commas, too"]


def twice(text: str) -> bool:
    found = []
    json.loads(text, object_pairs_hook=lambda pairs: found.append(len(dict(pairs)) < len(pairs)))
    return any(found)


def value(dice: random.Random, deep: int) -> str:
    kind = dice.randrange(8 if deep else 4)
    if kind == 4:
        return f"[{', '.join(value(dice, deep - 1) for _ in range(dice.randrange(4)))}]"
    if kind >= 5:
        most = 40 if dice.random() < 0.1 else 4
        keys = [dice.choice(WORDS) + str(dice.randrange(5)) for _ in range(dice.randrange(most))]
        return "{" + ",".join(f' "{key}" :{value(dice, deep - 1)}' for key in keys) + "}"
    return ("-1.5e3", "null", '"a \\" quote, {\\"id\\": 1} and \\\\"', '"plain"')[kind]


def test_the_scan_says_what_the_json_module_says():
    dice, seen = random.Random(1), [0, 0]
    for _ in range(3000):
        text = value(dice, 4)
        is_twice = twice(text)
        seen[is_twice] += 1
        assert surely_distinct(np.frombuffer(text.encode(), np.uint8)) != is_twice, text
        if is_twice:
            with pytest.raises(Refusal):
                refuse_duplicate_keys(text)
        else:
            refuse_duplicate_keys(text)
    assert min(seen) > 100


@pytest.mark.parametrize("text", ['{"a": 1, "\\u0061": 2}', '{"a": {"b": 1, "b": 2}}', '[{"a": [{}], "a": 1}]'])
def test_what_stands_twice_is_refused_however_it_is_written(text):
    with pytest.raises(Refusal, match="stands twice"):
        refuse_duplicate_keys(text)


def test_what_is_not_sure_is_looked_at_slowly_and_taken():
    for text in ('{"\\u0061": 1, "b": 2}', "[" * 70 + "]" * 70):
        assert not surely_distinct(np.frombuffer(text.encode(), np.uint8))
        refuse_duplicate_keys(text)


def test_many_keys_are_sorted_as_numpy_sorts_them():
    dice = np.random.default_rng(1)
    for size in (*range(40), 1000):
        for most in (5, 2**64 - 1):
            keys = dice.integers(0, most, size, np.uint64, endpoint=True)
            wanted, stand_twice = np.sort(keys), len(set(keys.tolist())) < size
            assert any_twice(keys.copy()) == stand_twice
            sort_in_place(keys)
            assert np.array_equal(keys, wanted)
