"""A short share of `tests/long/hostile.py`."""

import pytest

import hostile
from airbough_service.core.warm import warm


@pytest.fixture(scope="module", autouse=True)
def _warm():
    warm()


@pytest.mark.parametrize("seed", range(8))
def test_hostile_bodies_are_answered_or_refused_and_never_break_the_service(seed):
    statuses = {hostile.check(call, body) for call, body in hostile.bodies(100, 1000 + seed)}
    assert {200, 400, 422} <= statuses
