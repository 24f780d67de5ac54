"""A comparison within a millionth of its limit holds (the wire contract, section 2, on dust), of numbers and arrays."""

from __future__ import annotations

import numpy as np
import pytest

from airbough_service.core import limits

MISSES = (0.0, 0.5e-6, 0.99e-6, 1.01e-6, 1.0e-3)
SEEN = [miss > 1.0e-6 for miss in MISSES]


@pytest.mark.parametrize("limit", [1.0, 20.0, 4981.7782])
def test_within_a_millionth_of_a_limit_holds_and_beyond_does_not(limit):
    assert [limits.below(limit * (1.0 - miss), limit) for miss in MISSES] == SEEN
    assert [limits.above(limit * (1.0 + miss), limit) for miss in MISSES] == SEEN


def test_an_array_is_compared_as_its_numbers_are():
    low, high = 20.0 * (1.0 - np.array(MISSES)), 28.0 * (1.0 + np.array(MISSES))
    assert limits.below(low, 20.0).tolist() == SEEN
    assert limits.above(high, np.full(high.size, 28.0)).tolist() == SEEN
    assert limits.below(np.array([np.inf, np.nan]), 1.0).tolist() == [False, False]


def test_what_compiled_code_compares_with_is_the_same_limit():
    assert limits.least_held(400.0) == 400.0 * (1.0 - 1.0e-6)
    assert limits.most_held(400.0) == 400.0 * (1.0 + 1.0e-6)
