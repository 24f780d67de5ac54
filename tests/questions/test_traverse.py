"""Traverses: the points, the flow, and what speaks against them."""

import math

import pytest

from airbough_service.terms.refusal import Refusal
from site_shop import ask, codes, faults

ROW = [0.55, 0.66, 0.74, 0.73, 0.65, 0.52]
WELL = {"straight_upstream": 8, "straight_downstream": 4}


def asked(**more):
    return {"units": "us", "diameter": 12} | WELL | more


def test_without_readings_only_the_points_are_answered():
    answer = ask("traverse", asked())
    assert [point.depth for point in answer.points] == pytest.approx([0.384, 1.62, 3.852, 8.148, 10.38, 11.616])
    assert answer.flow is None
    assert answer.spread is None
    assert codes(answer) == []


def test_the_flow_by_hand():
    answer = ask("traverse", asked(velocity_pressures=[ROW, ROW]))
    mean = sum(math.sqrt(2 * pressure * 249.08891 / 1.2) for pressure in ROW) / 6
    assert answer.mean_velocity == pytest.approx(mean / 0.3048 * 60, rel=1e-12)
    assert answer.flow == pytest.approx(answer.mean_velocity * math.pi / 4, rel=1e-12)  # 12 in is 1 ft
    assert answer.area == pytest.approx(math.pi / 4, rel=1e-12)
    assert codes(answer) == []


def test_velocities_give_the_same_flow_as_their_pressures():
    speeds = [math.sqrt(2 * pressure * 249.08891 / 1.2) / 0.3048 * 60 for pressure in ROW]
    by_velocity = ask("traverse", asked(velocities=[speeds, speeds]))
    assert by_velocity.flow == pytest.approx(ask("traverse", asked(velocity_pressures=[ROW, ROW])).flow, rel=1e-12)


def test_thin_air_is_faster():
    hot = ask("traverse", asked(velocity_pressures=[ROW, ROW], air={"density": "0.9 kg/m3"}))
    cold = ask("traverse", asked(velocity_pressures=[ROW, ROW]))
    assert hot.flow == pytest.approx(cold.flow * math.sqrt(1.2 / 0.9), rel=1e-12)


def test_spread_is_the_root_of_the_squares():
    answer = ask("traverse", asked(velocity_pressures=[ROW, [1.2 * pressure for pressure in ROW]]))
    parts = answer.spread
    squares = parts.rule**2 + parts.instrument**2 + parts.placing**2 + parts.between_diameters**2
    assert parts.whole == pytest.approx(math.sqrt(squares))
    assert parts.placing == 0.0
    low, high = answer.by_diameter
    assert parts.between_diameters == pytest.approx(1.645 * (high - low) / 2 / answer.mean_velocity)


def test_one_diameter_has_no_scatter_and_a_note():
    answer = ask("traverse", asked(diameters=1, velocity_pressures=[ROW]))
    assert answer.spread.between_diameters is None
    assert codes(answer) == ["one-diameter"]


@pytest.mark.parametrize("rule", ["log-linear", "log-tchebycheff", "equal-area"])
def test_a_flat_profile_is_its_own_mean_by_every_rule(rule):
    row = [0.5] * 8
    answer = ask("traverse", asked(rule=rule, per_diameter=8, velocity_pressures=[row, row]))
    assert answer.velocity_pressure == pytest.approx(0.5, rel=1e-12)


def test_readings_that_speak_against_the_place():
    row = [-0.05, 0.02, 0.03, 0.9, 0.8, 0.7]
    answer = ask("traverse", asked(velocity_pressures=[row, row]))
    assert codes(answer).count("negative-reading") == 2
    assert codes(answer).count("reading-near-zero") == 4
    uneven = next(f for f in answer.findings if f.code == "uneven-profile")
    assert (uneven.value, uneven.limit) == (0.5, 0.75)
    assert answer.findings[0].at == "velocity_pressures[0][0]"
    assert any("unfit" in caution for caution in answer.cautions)


@pytest.mark.parametrize(
    ("more", "found"),
    [
        ({"straight_upstream": 7.4}, ["traverse-too-close"]),
        ({"straight_upstream": 7.5, "straight_downstream": 3.0}, []),
        ({"straight_upstream": 1.9, "straight_downstream": 0.4}, ["traverse-too-close"] * 2),
        ({"straight_upstream": None}, ["placing-not-known"]),
        ({"diameter": 6}, ["small-duct-traverse"]),
    ],
)
def test_the_place_is_judged(more, found):
    answer = ask("traverse", asked(velocity_pressures=[ROW, ROW]) | more)
    assert codes(answer) == found
    assert (answer.spread.placing > 0.0) == any(code in ("traverse-too-close", "placing-not-known") for code in found)


def test_depths_are_checked_against_the_points():
    depths = [0.384, 1.62, 3.852, 8.148, 10.38, 11.616]
    right = ask("traverse", asked(velocity_pressures=[ROW, ROW], depths=[depths, depths]))
    assert codes(right) == []
    off = [0.384, 2.0, *depths[2:]]
    wrong = ask("traverse", asked(velocity_pressures=[ROW, ROW], depths=[depths, off]))
    assert [(f.code, f.at) for f in wrong.findings] == [("depth-off-point", "depths[1][1]")]


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ({"per_diameter": 7}, {"per_diameter": "points-not-printed"}),
        ({"velocity_pressures": [ROW]}, {"velocity_pressures": "rows-do-not-fit"}),
        ({"velocity_pressures": [ROW, ROW[:5]]}, {"velocity_pressures[1]": "readings-do-not-fit"}),
        ({"velocity_pressures": [ROW, ROW], "velocities": [ROW, ROW]}, {"velocities": "two-kinds-of-reading"}),
        ({"velocity_pressures": [[0] * 6] * 2}, {"velocity_pressures": "no-flow-read"}),
        ({"depths": [[1, 2, 3, 4, 5, 6]] * 2}, {"depths": "depths-without-readings"}),
        (
            {"velocity_pressures": [ROW, ROW], "depths": [[1, 2, 3, 4, 5, 6], [6, 5, 4, 3, 2, 1]]},
            {"depths[1]": "depths-not-rising"},
        ),
    ],
)
def test_readings_that_do_not_fit_are_refused(more, expected):
    with pytest.raises(Refusal) as caught:
        ask("traverse", asked() | more)
    assert faults(caught.value) == expected


@pytest.mark.parametrize(("speed", "beyond"), [(20_000, True), (19_000, False)])
def test_a_speed_beyond_sense_is_told(speed, beyond):
    # 100 m/s are 19685 ft/min
    found = codes(ask("traverse", asked(velocities=[[speed] * 6] * 2)))
    assert ("speed-beyond-sense" in found) is beyond
