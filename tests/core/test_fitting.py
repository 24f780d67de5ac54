"""Every law of the catalogue: continuous and monotone where it must be, limits that meet, ranges that are refused."""

import itertools
import math

import numpy as np
import pytest

from airbough_service import catalogue
from airbough_service.catalogue.fittings import _opening
from airbough_service.core.errors import OutsideTableError

BORE = 0.15
CONSTRUCTIONS = ["smooth", "three-piece", "four-piece", "five-piece", "seven-piece", "adjustable", "mitered"]


def coefficient(type_, bore=BORE, **parameters):
    return catalogue.fitting_loss(type_, parameters, bore).coefficient


def rises(values, strictly=False):
    return all(b > a if strictly else b >= a - 1e-12 for a, b in itertools.pairwise(values))


def continuous(values, most):
    return max(abs(b - a) for a, b in itertools.pairwise(values)) < most


@pytest.mark.parametrize("construction", CONSTRUCTIONS)
def test_an_elbow_loses_more_the_more_it_turns(construction):
    values = [coefficient("elbow", angle=angle, construction=construction) for angle in np.linspace(0, 180, 721)]
    assert values[0] == 0.0
    assert rises(values)
    assert continuous(values, 0.02)


@pytest.mark.parametrize("construction", [name for name in CONSTRUCTIONS if name not in ("adjustable", "mitered")])
def test_an_elbow_loses_less_the_wider_it_turns(construction):
    ratios = np.linspace(0.5, 2.5, 401)
    values = [coefficient("elbow", angle=90.0, radius_ratio=ratio, construction=construction) for ratio in ratios]
    assert rises(values[::-1])
    assert continuous(values, 0.02)


def test_more_gores_come_nearer_to_the_smooth_elbow():
    for ratio in (0.75, 1.0, 1.5, 2.0, 2.5):
        by_gores = [
            coefficient("elbow", angle=90.0, radius_ratio=ratio, construction=word)
            for word in ("smooth", "seven-piece", "five-piece", "four-piece", "three-piece")
        ]
        assert rises(by_gores)


def test_a_pair_is_the_sum_of_its_elbows():
    one = coefficient("elbow", angle=45.0, radius_ratio=1.5, construction="three-piece")
    pair = coefficient("elbow-pair", angle=90.0, radius_ratio=1.5, construction="three-piece", spacer_ratio=8.0)
    offset = coefficient("offset", angle=45.0, radius_ratio=1.5, construction="three-piece", spacer_ratio=8.0)
    assert pair == offset == pytest.approx(2.0 * one, rel=1e-15)


def test_a_close_pair_says_that_it_is_close():
    loss = catalogue.fitting_loss("offset", {"angle": 45.0, "spacer_ratio": 2.0}, BORE)
    assert [outside.parameter for outside in loss.outside] == ["spacer_ratio"]


@pytest.mark.parametrize("larger", [0.155, 0.18, 0.2, 0.25, 0.3, 0.45])
@pytest.mark.parametrize("widening", [True, False])
def test_a_taper_runs_into_the_abrupt_change(larger, widening):
    bores = (BORE, larger) if widening else (larger, BORE)
    abrupt = catalogue.change_of_size(*bores, None)
    assert catalogue.change_of_size(*bores, 0.0).coefficient == abrupt.coefficient
    assert coefficient("taper", upstream_diameter=bores[0], downstream_diameter=bores[1], length=0.0) == pytest.approx(
        abrupt.coefficient, rel=1e-12
    )
    assert catalogue.change_of_size(*bores, 1.0e-9).coefficient == pytest.approx(abrupt.coefficient, rel=1e-5)


@pytest.mark.parametrize("larger", [0.16, 0.2, 0.3])
@pytest.mark.parametrize("widening", [True, False])
def test_a_taper_is_continuous_in_its_length(larger, widening):
    bores = (BORE, larger) if widening else (larger, BORE)
    step = (larger - BORE) / 2.0
    angles = np.radians(np.linspace(0.5, 89.9, 3000))
    values = [catalogue.change_of_size(*bores, float(step / np.tan(angle))).coefficient for angle in angles]
    assert min(values) > 0.0
    assert continuous(values, 0.01)


@pytest.mark.parametrize("length", [None, 0.05, 0.3])
@pytest.mark.parametrize("widening", [True, False])
def test_a_change_to_the_same_bore_loses_nothing(length, widening):
    ratios = np.linspace(1.0, 3.0, 801)
    values = [
        catalogue.change_of_size(*((BORE, BORE * r) if widening else (BORE * r, BORE)), length).coefficient
        for r in ratios
    ]
    assert values[0] == 0.0
    assert min(values) >= 0.0
    assert continuous(values, 0.02)
    if length is None:
        assert rises(values)


def test_the_sudden_expansion_is_borda_carnot():
    # (1 - A1/A2)^2 on the smaller bore: momentum balance, exact in its assumptions; in every handbook.
    assert catalogue.change_of_size(0.1, 0.2, None).coefficient == pytest.approx((1 - 0.25) ** 2, rel=1e-14)


def test_a_change_refers_to_the_smaller_bore():
    bores = {"upstream_diameter": 0.2, "downstream_diameter": 0.12}
    assert catalogue.refers_bore("abrupt-change", bores, 0.2) == 0.12
    assert catalogue.refers_bore("elbow", {}, 0.2) == 0.2


def test_a_gate_loses_less_at_every_opening_and_is_never_singular():
    openings = np.concatenate([np.geomspace(1.0e-4, 0.159, 4000), np.linspace(0.159, 1.0, 4000)[1:]])
    values = catalogue.gate_coefficients(openings)
    assert np.all(np.isfinite(values))
    assert np.all(np.diff(values) < 0.0)
    assert np.max(np.abs(np.diff(np.log(values)))) < 0.01
    for k in range(0, len(openings), 97):
        assert values[k] == pytest.approx(catalogue.gate_loss(float(openings[k])).coefficient, rel=1e-12)


def test_a_shut_gate_is_infinite_and_hardly_open_ones_are_refused():
    assert math.isinf(catalogue.gate_coefficients(np.array([0.0]))[0])
    for share in (1.0e-5, 1.0001, float("nan")):
        with pytest.raises(OutsideTableError):
            catalogue.gate_coefficients(np.array([0.5, share]))
    for share in (0.0, 1.0e-5, 1.1):
        with pytest.raises(OutsideTableError):
            catalogue.gate_loss(share)


@pytest.mark.parametrize("opening", [*np.geomspace(1.0e-4, 1.0, 57), 0.159, 0.466, 0.948])
def test_the_opening_of_a_coefficient_is_its_inverse(opening):
    assert catalogue.gate_opening(catalogue.gate_loss(opening).coefficient) == pytest.approx(opening, rel=1e-9)


def test_no_opening_is_invented_for_a_coefficient_that_none_has():
    wide_open = catalogue.gate_loss(1.0).coefficient
    for value in (wide_open * 0.9, 1.0e12, 0.0):
        with pytest.raises(OutsideTableError, match="coefficient"):
            catalogue.gate_opening(value)


def test_an_orifice_loses_less_the_wider_it_is():
    shares = np.geomspace(0.01, 1.0, 4000)
    values = [coefficient("sharp-orifice", area_share=float(share)) for share in shares]
    assert rises(values[::-1], strictly=True)
    assert max(abs(np.diff(np.log(values)))) < 0.02
    by_bore = coefficient("sharp-orifice", bore=0.1, orifice_diameter=0.05)
    assert by_bore == pytest.approx(coefficient("sharp-orifice", area_share=0.25), rel=1e-12)


def test_an_orifice_wider_than_the_port_is_refused():
    with pytest.raises(OutsideTableError, match="orifice_diameter"):
        coefficient("sharp-orifice", bore=0.1, orifice_diameter=0.11)


def test_the_openings_laws_meet_their_tables():
    for type_ in ("slide-gate", "sharp-orifice"):
        law = _opening(type_)
        first = law.table.axes[0].values[0]
        assert law.coefficient(first * (1 - 1e-12)) == pytest.approx(law.coefficient(first), rel=1e-9)


@pytest.mark.parametrize(
    ("type_", "name", "low", "high", "fixed", "falls"),
    [
        ("bellmouth", "radius_ratio", 0.0, 1.0, {"setting": "free"}, True),
        ("bellmouth", "radius_ratio", 0.0, 1.0, {"setting": "in-panel"}, True),
        ("tapered-hood", "included_angle", 45.0, 180.0, {"shape": "round"}, False),
        ("tapered-hood", "included_angle", 45.0, 180.0, {"shape": "rectangular"}, False),
        ("slot", "area_share", 0.02, 1.0, {}, True),
        ("weather-cap", "clearance_ratio", 0.45, 2.0, {}, True),
        ("stack-head", "outlet_ratio", 0.3, 1.0, {}, True),
        ("hose-bend", "angle", 0.0, 180.0, {"radius_ratio": 1.5}, False),
        ("hose-bend", "radius_ratio", 0.5, 4.0, {"angle": 90.0}, True),
    ],
)
def test_one_way_laws_go_one_way(type_, name, low, high, fixed, falls):
    values = [coefficient(type_, **{name: float(x)}, **fixed) for x in np.linspace(low, high, 501)]
    assert min(values) >= 0.0
    assert rises(values[::-1] if falls else values)


def test_a_slack_hose_loses_more_the_slacker_it_is():
    for word in ("flexible-hose-ribbed", "flexible-hose-smooth", "flexible-metal"):
        hose = catalogue.duct(word)
        shares = np.linspace(0.5, 1.0, 301)
        values = [catalogue.hose_slack(hose, float(share), BORE) for share in shares]
        assert values[-1].multiplier == pytest.approx(1.0, rel=1e-12)
        assert rises([value.multiplier for value in values][::-1], strictly=True)


def test_outside_a_parameters_range_is_refused_by_name():
    for type_, parameters, name in (
        ("elbow", {"angle": 181.0}, "angle"),
        ("elbow", {"angle": 90.0, "radius_ratio": 0.4}, "radius_ratio"),
        ("hose-bend", {"angle": 90.0, "radius_ratio": 9.0}, "radius_ratio"),
    ):
        with pytest.raises(OutsideTableError) as error:
            catalogue.fitting_loss(type_, parameters, BORE)
        assert error.value.name == name


def test_beyond_the_published_range_is_answered_and_said():
    loss = catalogue.fitting_loss("elbow", {"angle": 90.0, "radius_ratio": 2.5, "construction": "three-piece"}, BORE)
    assert [(o.parameter, o.high) for o in loss.outside] == [("radius_ratio", 2.0)]
