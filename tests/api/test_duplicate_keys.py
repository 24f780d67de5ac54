"""The scan for keys that stand twice, beside Python's own reader of JSON."""

import json
import random
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from airbough.wire.air import AirRequest
from airbough.wire.known import known
from airbough_service.api.http import body
from airbough_service.api.http.body import refuse_duplicate_keys
from airbough_service.core import distinct_keys
from airbough_service.core.distinct_keys import AFTER, DEEPEST, SPREADING, surely_distinct
from airbough_service.terms.refusal import Refusal

WORDS = ("id", "into", "a", "", "é", "key with : and { and [", "commas, too", "seventy", "eight888", "nine99999", "🪵")
VALUES = ('"a \\" quote, {\\"id\\": 1} and \\\\"', '"\\\\"', '"{[}],:"', '"1234567\\""', '""', "-1.5e3", "null", "true")
SPACES = st.sampled_from(("", "", "", " ", "\n\t "))


def twice(text: str) -> bool:
    """Return whether an object names a key twice, as Python's own reader meets them."""
    found = []
    json.loads(text, object_pairs_hook=lambda pairs: found.append(len(dict(pairs)) < len(pairs)))
    return any(found)


def spelled(dice: random.Random, key: str) -> str:
    """Return a key as it stands in a text, one in fifty with an escape."""
    plain = json.dumps(key, ensure_ascii=False)
    if key and dice.random() < 0.02:
        return f'"\\u{ord(key[0]):04x}{plain[2:]}' if ord(key[0]) < 0x10000 else json.dumps(key)
    return plain


def value(dice: random.Random, deep: int) -> str:
    kind = dice.randrange(8 if deep else 4)
    if kind == 4:
        return f"[{', '.join(value(dice, deep - 1) for _ in range(dice.randrange(4)))}]"
    if kind >= 5:
        most = 200 if dice.random() < 0.03 else 5
        keys = [dice.choice(WORDS) + str(dice.randrange(5 * most)) for _ in range(dice.randrange(most))]
        gap = dice.choice(("", " ", "\n"))
        return "{" + ",".join(f"{gap}{spelled(dice, key)}{gap}:{value(dice, deep - 1)}" for key in keys) + "}"
    return dice.choice(VALUES)


def test_the_scan_says_what_the_json_module_says():
    dice, seen = random.Random(1), [0, 0, 0]
    for _ in range(4000):
        text = value(dice, 4)
        is_twice, sure = twice(text), surely_distinct(text.encode())
        seen[0 if is_twice else 1 if sure else 2] += 1
        assert not (is_twice and sure), text
        assert is_twice or sure or "\\u" in text, text
        if is_twice:
            with pytest.raises(Refusal):
                refuse_duplicate_keys(text.encode())
        else:
            refuse_duplicate_keys(text.encode())
    assert min(seen) > 100


KEYS = st.one_of(st.sampled_from(WORDS), st.text(st.characters(exclude_categories=["Cs"]), max_size=20))
NODES = st.recursive(
    st.one_of(
        st.sampled_from(VALUES),
        st.text(st.characters(exclude_categories=["Cs"]), max_size=30).map(json.dumps),
        st.floats(allow_nan=False, allow_infinity=False).map(repr),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4).map(lambda those: "[" + ",".join(those) + "]"),
        st.lists(st.tuples(SPACES, KEYS, st.booleans(), inner), max_size=6).map(
            lambda those: (
                "{"
                + ",".join(f"{gap}{json.dumps(key, ensure_ascii=wide)}{gap}:{it}" for gap, key, wide, it in those)
                + "}"
            )
        ),
    ),
    max_leaves=30,
)


@settings(max_examples=400, deadline=None)
@given(NODES)
@example('{"a":1,"b":{"a":1,"c":[{"a":1},{"a":1}]},"c":{"a":1}}')
@example('{"a":"{\\"a\\":1","a":1}')
@example('{"\\u0061":1,"b":2,"a":3}')
def test_none_is_missed_that_a_plain_reader_meets(text):
    is_twice = twice(text)
    assert not (is_twice and surely_distinct(text.encode()))
    if is_twice:
        with pytest.raises(Refusal, match="stands twice"):
            refuse_duplicate_keys(text.encode())
    else:
        refuse_duplicate_keys(text.encode())


@pytest.mark.parametrize("text", ['{"a": 1, "\\u0061": 2}', '{"a": {"b": 1, "b": 2}}', '[{"a": [{}], "a": 1}]'])
@pytest.mark.parametrize("before", ["", "\ufeff"])
def test_what_stands_twice_is_refused_however_it_is_written(text, before):
    with pytest.raises(Refusal, match="stands twice"):
        refuse_duplicate_keys((before + text).encode())


def test_what_is_not_sure_is_looked_at_slowly_and_taken():
    for text in (b'{"\\u0061": 1, "b": 2}', b"[" * 70 + b"]" * 70):
        assert not surely_distinct(text)
        refuse_duplicate_keys(text)
    assert surely_distinct(b"[" * DEEPEST + b"]" * DEEPEST)


@pytest.mark.parametrize("length", range(30))
def test_keys_that_differ_in_one_byte_are_two_wherever_it_stands(length):
    """The scan reads eight bytes at once."""
    key = "k" * length
    others = [key[:k] + other + key[k + 1 :] for k in range(length) for other in "xK"] + [key + "k", key + "x"]
    assert surely_distinct(("{" + ",".join(f'"{one}":1' for one in [key, *others]) + "}").encode())
    for one in [key, *others]:
        assert not surely_distinct(f'{{"{one}":"{one}","{key}y":"","{one}":1}}'.encode())


def test_a_key_may_stand_in_each_of_many_objects():
    text = ("[" + ",".join('{"id":{"id":1},"into":[{"id":2}]}' for _ in range(5000)) + "]").encode()
    assert surely_distinct(text)
    assert not surely_distinct(text[:-2] + b',"id":3}]')


def test_keys_chosen_to_want_one_place_are_given_up_and_taken():
    """Else a body of a megabyte of them would be looked at for minutes."""
    dice = np.random.default_rng(1)
    letters = np.zeros((300_000, 8), np.uint8)
    letters[:, :7] = dice.integers(97, 123, (300_000, 7), np.uint8)
    words = letters.view("<u8")[:, 0]
    places = ((words * SPREADING) ^ np.uint64(1)) * SPREADING >> np.uint64(55)
    for chosen, sure in ((places == 0, False), (np.arange(words.size) < 400, True)):
        keys = list(dict.fromkeys(bytes(row[:7]).decode() for row in letters[chosen]))[:400]
        text = json.dumps(dict.fromkeys(keys, 1)).encode()
        assert len(keys) > 300
        assert surely_distinct(text) == sure
        refuse_duplicate_keys(text)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.sampled_from([b'"', b"\\", b",", b":", b"{", b"}", b"[", b"]", b"a", b"\xff", b"\xc3"]), max_size=60
    ).map(b"".join)
)
def test_what_is_no_json_is_looked_at_within_its_bytes(text):
    """By the loops uncompiled, in which a place beyond the bytes is an error."""
    loops = {name: getattr(distinct_keys, name) for name in ("eight_bytes", "after_string", "noted", "all_distinct")}
    plain = {name: getattr(loop, "py_func", loop) for name, loop in loops.items()}
    with patch.multiple(distinct_keys, **plain), np.errstate(over="ignore"):
        said = distinct_keys.all_distinct(text + AFTER)
    assert said == surely_distinct(text)


def test_a_body_that_is_not_utf_8_is_refused_as_such():
    for text in (b'{"a": 1, "\xff": 2}', b'{"a": 1, "a": "\xff"}'):
        assert body.at_first_sight(text, known(AirRequest)) is None
        with pytest.raises(Refusal) as refused:
            body.decode(text, AirRequest)
        assert refused.value.faults[0].code == "not-utf-8"
