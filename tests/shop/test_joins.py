"""How runs may meet, by the contract's list: what is not on it is refused, each fault with its path."""

import pytest

import airbough

CLIENT = airbough.local()
STRAIGHT, BRANCH = {"type": "straight"}, {"type": "branch", "angle": 45}


def faults(*joins, main=None):
    """Return path and code of what is wrong with runs that meet by these joins."""
    hood = {"flow": 400, "entry": {"type": "plain-opening"}}
    plain = {"diameter": 4, "length": 6, "duct": "spiral-galvanized"}
    runs = [plain | {"id": "main", "into": None} | ({} if main is None else {"join": main})]
    for number, join in enumerate(joins):
        run = plain | {"id": f"arm-{number}", "into": "main", "hood": hood}
        runs.append(run if join is None else run | {"join": join})
    try:
        CLIENT.balance({"units": "us", "runs": runs})
    except airbough.NotADuctTree as refused:
        return {(fault.path, fault.code) for fault in refused.problem.errors}
    return set()


@pytest.mark.parametrize(
    "joins",
    [
        (None,), (STRAIGHT,), (STRAIGHT, BRANCH), (BRANCH, BRANCH), (STRAIGHT, BRANCH, BRANCH),
    ],
)  # fmt: skip
def test_what_the_contract_lists_is_taken(joins):
    assert faults(*joins) == set()


@pytest.mark.parametrize(
    ("joins", "code"),
    [
        ((STRAIGHT, STRAIGHT), "junction-not-covered"),
        ((BRANCH, BRANCH | {"angle": 30}), "junction-not-covered"),
        ((BRANCH, BRANCH, BRANCH), "junction-not-covered"),
        ((STRAIGHT, None), "join-missing"),
        ((BRANCH,), "branch-alone"),
    ],
)
def test_any_other_meeting_is_refused(joins, code):
    assert code in {code for _, code in faults(*joins)}


def test_what_ends_at_the_collector_joins_nothing():
    assert faults(None, main=STRAIGHT) == {("runs[0].join", "join-at-collector")}


@pytest.mark.parametrize(("angle", "taken"), [(4.9, False), (5, True), (90, True), (90.5, False)])
def test_a_branch_joins_at_five_to_ninety_degrees(angle, taken):
    """The wire: 5 to 90 deg; beyond a right angle it would blow against the air of the main."""
    found = faults(STRAIGHT, BRANCH | {"angle": angle})
    assert found == (set() if taken else {("runs[2].join.angle", "outside-range")})
