"""Hood static pressure to flow; published values stand in the handbook cases."""

import math

import pytest

from airbough_service.terms.refusal import Refusal
from site_shop import ask, codes, faults


def asked(**more):
    return {"units": "us", "diameter": 6, "hood_static_pressure": -2.0} | more


def test_the_flow_by_hand():
    answer = ask("hood-static-pressure", asked(coefficient_of_entry=0.82))
    pressure = 0.82**2 * 2.0
    speed = math.sqrt(2 * pressure * 249.08891 / 1.2)
    assert answer.velocity_pressure == pytest.approx(pressure, rel=1e-12)
    assert answer.flow == pytest.approx(speed * math.pi * 0.1524**2 / 4 / (0.3048**3 / 60), rel=1e-12)
    assert answer.entry_loss + answer.velocity_pressure == pytest.approx(2.0, rel=1e-12)
    assert answer.hood_static_pressure == -2.0


def test_the_sign_may_be_left_out():
    body = asked(coefficient_of_entry=0.82)
    assert ask("hood-static-pressure", body | {"hood_static_pressure": 2.0}) == ask("hood-static-pressure", body)


def test_an_entry_of_the_catalogue_and_its_coefficient_agree():
    # Plain opening: 0.93 velocity pressures (ACGIH, from memory), so Ce 0.72.
    named = ask("hood-static-pressure", asked(entry={"type": "plain-opening"}))
    assert named.entry_coefficient == pytest.approx(0.93)
    assert named.coefficient_of_entry == pytest.approx(0.72, abs=0.001)
    known = ask("hood-static-pressure", asked(entry={"type": "known-coefficient", "coefficient": 0.93}))
    assert known.flow == pytest.approx(named.flow, rel=1e-12)
    assert named.spread > known.spread > 0.0


def test_a_measured_flow_shows_the_hoods_own_coefficient():
    first = ask("hood-static-pressure", asked(coefficient_of_entry=0.78))
    back = ask("hood-static-pressure", asked(flow=first.flow))
    assert back.coefficient_of_entry == pytest.approx(0.78, rel=1e-12)
    assert back.flow == pytest.approx(first.flow, rel=1e-12)
    assert back.spread is None


@pytest.mark.parametrize(("distance", "found"), [(1.4, ["tap-too-close"]), (1.5, []), (None, [])])
def test_a_plain_opening_wants_three_diameters(distance, found):
    answer = ask("hood-static-pressure", asked(entry={"type": "plain-opening"}, tap_distance=distance))
    assert codes(answer) == found


def test_a_tapered_hood_wants_one():
    entry = {"type": "tapered-hood", "included_angle": 45, "shape": "round"}
    assert codes(ask("hood-static-pressure", asked(entry=entry, tap_distance=0.5))) == []


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({}, {"entry": "one-of-three"}),
        ({"flow": 500, "coefficient_of_entry": 0.8}, {"flow": "one-of-three"}),
        ({"hood_static_pressure": 0, "coefficient_of_entry": 0.8}, {"hood_static_pressure": "no-suction"}),
        ({"flow": 5000}, {"flow": "flow-above-suction"}),
        (
            {"entry": {"type": "sharp-orifice", "orifice_diameter": 7}},
            {"entry.orifice_diameter": "out-of-range"},
        ),
    ],
)
def test_bad_input_is_refused_with_its_path(more, expected):
    with pytest.raises(Refusal) as caught:
        ask("hood-static-pressure", asked(**more))
    assert faults(caught.value) == expected


@pytest.mark.parametrize(("suction", "beyond"), [(59, True), (40, False)])
def test_a_speed_beyond_sense_is_told(suction, beyond):
    # by hand at 1.2 kg/m3 and an entry of 0.93: sqrt(2 * 59 * 249.089 / 1.93 / 1.2) = 112.7 m/s, for 40 inH2O 92.8 m/s
    entry = {"type": "known-coefficient", "coefficient": 0.93}
    found = codes(ask("hood-static-pressure", asked(hood_static_pressure=suction, entry=entry)))
    assert ("speed-beyond-sense" in found) is beyond
