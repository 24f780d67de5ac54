"""The published exhaust system of `cases/example-industrial-exhaust.toml` under our own junction law and our own tables.

ASHRAE Handbook Fundamentals 2021 (SI), chapter 21, Example 9, Tables 19 and 20, p. 21.33-34, prints these coefficients
(read): wye of 30 degrees ED5-1 at Qb/Qc 0.40, As/Ac 0.510, Ab/Ac 0.413: 0.12 of the straight run's own velocity
pressure and 0.21 of the branch's own; symmetrical wye of 60 degrees ED5-9 at Qb/Qc 0.5, Ab/Ac 0.482: 0.32 of the
branch's own; elbows CD3-10, CD3-12 and CD3-13; bellmouth ER2-1.
"""

import copy

import pytest

import airbough
from handbook.examples import DOCUMENTS

CLIENT = airbough.local()
PRINTED = {"s1": 0.12, "s4": 0.21, "s2": 0.32, "s3": 0.32}
"""Junction coefficients on each arriving run's own velocity pressure."""


@pytest.fixture(scope="module")
def ours():
    """Return the balance with the printed junction coefficients taken out of the sections and our law put in."""
    tree = copy.deepcopy(DOCUMENTS["example-industrial-exhaust"]["tree"])
    del tree["model"]["junctions"]
    for run in tree["runs"]:
        run.setdefault("into", None)
        run["fittings"][0]["coefficient"] -= PRINTED.get(run["id"], 0.0)
    return CLIENT.balance(tree)


@pytest.mark.parametrize(
    ("run", "apart", "why"),
    [
        # Laws for the straight run of a 45 degree wye at a flow ratio of 0.5 differ by 0.17 of the common velocity
        # pressure from their middle; the table of this handbook lies at the low end for the straight run.
        ("s1", 0.17, "momentum balance with a factor, against a table of measurements"),
        # The plain momentum balance gives -0.145 of the common velocity pressure here, the handbook +0.197: 0.34 apart.
        ("s4", 0.34, "momentum balance with a factor, against a table of measurements"),
        # Momentum balance 0.26 of the branch's own, the handbook 0.32.
        ("s2", 0.10, "momentum balance, against a table of measurements"),
    ],
)
def test_our_junction_law_against_the_printed_coefficient(ours, run, apart, why):
    told = {item.id: item for item in ours.runs}
    common = told["s5" if run != "s2" else "s4"].velocity_pressure
    printed = PRINTED[run] * told[run].velocity_pressure
    assert told[run].join_loss == pytest.approx(printed, abs=apart * common), why


def test_our_junction_law_moves_the_whole_by_no_more_than_the_laws_differ(ours):
    """Printed 1992 Pa in all. One straight run and one branch can differ by 0.17 and 0.34 of 328 Pa: 112 Pa at most."""
    assert ours.system.required.fan_total_pressure == pytest.approx(1992.0, abs=112.0)
    assert {item.run: item.action for item in ours.branches}["s2"] == "none"  # two equal branches need no gate


@pytest.mark.parametrize(
    ("asked", "printed", "spread"),
    [
        # Printed to two digits; our default tables are another document's, or follow the bore between two lines.
        ({"radius_ratio": 2.5, "construction": "seven-piece", "diameter": 200, "angle": 90}, 0.11, 0.3),  # CD3-10
        ({"radius_ratio": 1.5, "construction": "three-piece", "diameter": 125, "angle": 90}, 0.34, 0.2),  # CD3-12
        ({"radius_ratio": 1.5, "construction": "three-piece", "diameter": 180, "angle": 60}, 0.19, 0.4),  # CD3-13
    ],
)
def test_our_elbows_against_the_printed_ones(asked, printed, spread):
    """The relative difference that is let through is the spread which the catalogue itself tells of that construction."""
    found = CLIENT.fitting_loss("elbow", {"units": "metric", **asked})
    assert found.coefficient == pytest.approx(printed, rel=spread)


def test_our_bellmouth_is_the_printed_one():
    """ER2-1 with a rounding of 0.21 of the bore: 0.03."""
    found = CLIENT.fitting_loss("bellmouth", {"units": "metric", "radius_ratio": 0.21})
    assert found.coefficient == pytest.approx(0.03, abs=0.005)
