"""When another try is made, against a clock that the test turns."""

from __future__ import annotations

import pytest

from airbough.errors import (
    AirboughError,
    CutStream,
    NotUnderstood,
    TimedOut,
    Unreachable,
    from_reply,
)
from airbough.raw_reply import Raw
from airbough.travel.retry import (
    Policy,
    tries,
)


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def waits(policy: Policy, error: Exception, chance: float = 1.0, seconds_a_try: float = 0.0) -> list[float]:
    """Return the waits until the error is raised."""
    clock, found = Clock(), []
    plan = tries(policy, clock, lambda: chance)
    attempt = next(plan)
    while True:
        found.append(attempt.wait)
        clock.now += attempt.wait + seconds_a_try
        try:
            attempt = plan.send(error)
        except AirboughError as raised:
            return found if raised is error else []


def status(code: int, **headers: str) -> Exception:
    return from_reply(Raw(code, {name.replace("_", "-"): value for name, value in headers.items()}))


def test_waits_double_up_to_the_cap():
    assert waits(Policy(retries=6, deadline=None), Unreachable("x")) == [0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 8.0]


def test_half_of_a_wait_is_by_chance():
    assert waits(Policy(retries=2), Unreachable("x"), chance=0.0) == [0.0, 0.25, 0.5]
    assert waits(Policy(retries=2), Unreachable("x"), chance=0.5) == [0.0, 0.375, 0.75]


def test_the_usual_patience_outlasts_a_restart():
    """A warm start is ready within seconds; a cold one listens and says 503 meanwhile."""
    assert 15.0 < sum(waits(Policy(), Unreachable("x"), chance=0.0)) < sum(waits(Policy(), Unreachable("x"))) < 60.0


def test_nobody_is_waited_for_long_who_never_answered():
    plan = tries(Policy(), Clock(), lambda: 1.0, lambda: False)
    next(plan)
    plan.send(Unreachable("x"))
    plan.send(Unreachable("x"))
    with pytest.raises(Unreachable):
        plan.send(Unreachable("x"))


@pytest.mark.parametrize("code", [408, 429, 502, 503, 504])
def test_what_may_pass_is_tried_again(code):
    assert len(waits(Policy(retries=2), status(code))) == 3


@pytest.mark.parametrize("code", [400, 401, 404, 409, 413, 422, 500, 501])
def test_what_will_not_pass_is_raised_at_once(code):
    assert waits(Policy(), status(code)) == [0.0]


def test_a_wrong_answer_and_a_slow_one_are_raised_at_once():
    assert waits(Policy(), NotUnderstood("x")) == [0.0]
    assert waits(Policy(), TimedOut("x")) == [0.0]
    assert len(waits(Policy(retries=2), CutStream("x"))) == 3


def test_a_question_given_up_by_the_server_is_not_asked_again():
    body = b'{"type": "/problems/took-too-long", "title": "t", "status": 503, "detail": "d"}'
    assert waits(Policy(), from_reply(Raw(503, {}, body))) == [0.0]


def test_the_server_may_ask_for_a_longer_wait():
    assert waits(Policy(retries=1), status(503, retry_after="7"), chance=0.0) == [0.0, 7.25]
    assert waits(Policy(retries=1), status(429, retry_after="7"), chance=1.0) == [0.0, 7.5]


@pytest.mark.parametrize(("limit", "wait"), [
    ('"default";r=0;t=7', 7.0),
    ('"default";t=7;r=0', 7.0),
    ('"default"; r=0; t=7', 7.0),
    ('"second";r=0;t=1, "day";r=0;t=30, "month";r=5;t=900', 30.0),  # every quota that is used up must be whole again
    ('"default";r=3;t=7', None),
    ('"default";r=0', None),
    ('"default";r=0;t=soon', None),
    ('"a;r=0;t=7";r=3;t=9', None),
    ("", None),
])  # fmt: skip
def test_without_a_retry_after_the_limit_says_how_long(limit, wait):
    assert status(429, ratelimit=limit).retry_after == wait
    assert waits(Policy(retries=1), status(429, ratelimit=limit), chance=0.0) == [0.0, (wait or 0.0) + 0.25]


def test_a_retry_after_wins_over_the_limit():
    assert status(429, retry_after="2", ratelimit='"default";r=0;t=7').retry_after == 2.0


def test_a_wait_beyond_reason_is_the_callers_to_decide():
    error = status(429, retry_after="3600")
    assert waits(Policy(), error) == [0.0]
    assert error.retry_after == 3600.0


def test_the_deadline_counts_waits_and_tries():
    assert waits(Policy(retries=9, deadline=3.0), Unreachable("x")) == [0.0, 0.5, 1.0]
    assert waits(Policy(retries=9, deadline=3.0), Unreachable("x"), seconds_a_try=2.0) == [0.0, 0.5]
    assert waits(Policy(deadline=3.0), status(503, retry_after="4")) == [0.0]


def test_each_try_is_told_when_the_deadline_is():
    plan = tries(Policy(deadline=3.0), Clock(), lambda: 1.0)
    assert next(plan).end == 1003.0
    assert plan.send(Unreachable("x")).end == 1003.0
    assert next(tries(Policy(deadline=None), Clock(), lambda: 1.0)).end is None
