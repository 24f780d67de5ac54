"""The published exhaust system by our own fittings and junction law: every part, every section, the whole."""

import pytest

import airbough
from handbook import industrial_exhaust

CLIENT = airbough.local()
PARTS = {
    part.what: part
    for part in (*industrial_exhaust.fittings(), *industrial_exhaust.joins(), industrial_exhaust.outlet())
}
SUMS = {one.what: one for one in industrial_exhaust.sums()}


@pytest.mark.parametrize("what", PARTS)
def test_each_part_is_no_further_from_the_printed_value_than_published_laws_are(what):
    part = PARTS[what]
    assert part.ours == pytest.approx(part.printed, abs=part.allowed), part.why


@pytest.mark.parametrize("what", SUMS)
def test_the_parts_explain_all_that_a_section_and_the_fan_depart(what):
    one = SUMS[what]
    assert one.ours - one.printed == pytest.approx(one.explained, abs=one.rounded)


@pytest.mark.parametrize("join", industrial_exhaust.JOINS, ids=lambda join: join.run)
def test_printed_and_ours_both_lie_between_published_laws(join):
    told = {item.id: item for item in industrial_exhaust.by_our_law().runs}
    common = told[join.into].velocity_pressure
    assert join.low < join.coefficient * told[join.run].velocity_pressure / common < join.high
    assert join.low - 0.001 < told[join.run].join_loss / common < join.high + 0.001


def test_the_laws_beside_ours_are_those_that_the_file_of_open_texts_tells():
    """By hand: momentum -0.145 with the straight run's own bore, 0.56 at the common one; straight 0.30."""
    share, branch, straight = 0.4, 0.413, 0.510
    assert industrial_exhaust.momentum(share, branch, straight) == pytest.approx(-0.145, abs=0.002)
    assert industrial_exhaust.straight_momentum(share, branch, straight) == pytest.approx(0.30, abs=0.005)
    # Idelchik, 3rd ed., p. 417, one bore, 30 degrees, n = 0.444, q = 0.5; momentum there; Genium's symmetrical form.
    assert industrial_exhaust.page_417(0.5, 0.4444, 1.0) == pytest.approx(-0.34, abs=0.005)
    assert industrial_exhaust.momentum(0.5, 0.4444, 1.0) == pytest.approx(0.79, abs=0.005)


def test_two_equal_branches_need_no_gate():
    assert {item.run: item.action for item in industrial_exhaust.by_our_law().branches}["s2"] == "none"


def test_our_bellmouth_is_the_printed_one():
    """ER2-1 with a rounding of 0.21 of the bore: 0.03."""
    found = CLIENT.fitting_loss("bellmouth", {"units": "metric", "radius_ratio": 0.21})
    assert found.coefficient == pytest.approx(0.03, abs=0.005)
