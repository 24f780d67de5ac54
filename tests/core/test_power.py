"""Shaft power: fan laws, the points given, nothing extrapolated; the shape of one efficiency."""

import numpy as np
import pytest

from airbough_service.catalogue.power import power_shape
from airbough_service.core.laws.curve import curve_values
from airbough_service.core.laws.fan import CurveError, curve_pieces
from airbough_service.core.laws.power import (
    BestPoint,
    best_point,
    efficiency_share,
    monotone_parts,
    power_of_efficiency,
    power_pieces,
)

FLOWS, POWERS = [0.0, 0.3, 0.6], [400.0, 900.0, 1200.0]


def power_at(pieces, flow):
    """Return the power at one flow."""
    return float(curve_values(pieces, np.array([flow]))[0])


def test_the_points_are_met():
    pieces = power_pieces(FLOWS, POWERS, 1.0, 1.0)
    assert [power_at(pieces, flow) for flow in FLOWS] == pytest.approx(POWERS)
    assert 900.0 < power_at(pieces, 0.45) < 1200.0


def test_fan_laws_scale_flow_power_and_density():
    pieces = power_pieces(FLOWS, POWERS, 1.2, 0.9)
    plain = power_pieces(FLOWS, POWERS, 1.0, 1.0)
    assert power_at(pieces, 1.2 * 0.4) == pytest.approx(1.2**3 * 0.9 * power_at(plain, 0.4), rel=1e-12)


@pytest.mark.parametrize("flow", [-0.01, 0.6001])
def test_nothing_is_extrapolated(flow):
    assert np.isnan(power_at(power_pieces(FLOWS, POWERS, 1.0, 1.0), flow))


def test_points_must_rise():
    with pytest.raises(CurveError):
        power_pieces([0.1, 0.1], [1.0, 2.0], 1.0, 1.0)


SHAPE = power_shape().shape
BEST = BestPoint(1.0, 1000.0)


def by_polynomials(x):
    """The same published law in its other form, three cubics in x, as printed beside it (Buildings, correlation.mo)."""
    low = 0.056873227 * x**3 + 0.493231336746 * x**2 + 1.433531254 * x + 1.4078873
    middle = 0.378246 * x**3 - 0.759885 * x**2 - 0.0606145 * x + 1.01427
    high = -0.0085494313567 * x**3 + 0.12957001502 * x**2 - 0.65997315029 * x + 1.1399300301
    return np.where(x < -0.5, low, np.where(x > 0.5, high, middle)) / 1.01545


def test_the_law_agrees_with_its_other_published_form():
    x = np.linspace(-2.0, 3.0, 101)
    assert efficiency_share(SHAPE, 10.0**x) == pytest.approx(by_polynomials(x), abs=0.035)  # the forms differ that much


def test_power_by_the_law_as_a_reviewer_worked_it():
    # An independent evaluation of the law for a fan of shut-off pressure 1.2 times that at the best point, falling with
    # the square of the flow (its curve is not told between the ends): shares of the best point's power.
    share = np.array([0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.8, 1.0])
    pressure = 1000.0 * (1.2 - 0.2 * share**2)
    told = power_of_efficiency(share, pressure, 0.5, BEST, SHAPE) / 2000.0
    assert told == pytest.approx([0.44, 0.48, 0.57, 0.65, 0.77, 0.86, 0.90, 1.0], abs=0.016)
    efficiency = share * pressure / (2000.0 * told * 0.5)
    assert efficiency == pytest.approx([0.14, 0.25, 0.41, 0.54, 0.75, 0.90, 0.95, 1.0], abs=0.016)


@pytest.mark.parametrize(
    ("flows", "pressures", "powers"),
    [
        (
            [5.3196, 8.7423, 15.6701, 22.6392, 27.6289, 33.1134, 42.9278],
            [1438.8, 1403.4, 1332.5, 1219.9, 1042.6, 688.13, 4.1705],
            [18642.5, 22371, 29828, 37285, 39447.5, 37285, 35510.2],
        ),
        ([10.2875, 24.9775, 35.4447, 53.4142], [1453.6, 1371.4, 1052.97, 0.0], [29828, 44742, 51050.6, 44742]),
    ],
)
def test_two_measured_fans_take_what_is_told_within_the_spread(flows, pressures, powers):
    # Englander and Norford 1992, supply and return fan, as carried by the open library Buildings (Movers/Data/Fans)
    flows, pressures, powers = map(np.array, (flows, pressures, powers))
    best = best_point(curve_pieces(list(flows), list(pressures), False), 0.0)
    efficiency = best.flow * best.pressure / np.interp(best.flow, flows, powers)
    told = power_of_efficiency(flows, pressures, efficiency, best, SHAPE)
    assert told == pytest.approx(powers, rel=power_shape().passports[0].spread)
    assert told[flows > 0.8 * best.flow] == pytest.approx(powers[flows > 0.8 * best.flow], rel=0.15)


def test_at_the_best_point_the_efficiency_given_holds():
    assert power_of_efficiency(np.array([1.0]), np.array([1000.0]), 0.5, BEST, SHAPE) == pytest.approx([2000.0])


def test_without_flow_the_floor_is_left_and_nothing_jumps():
    # Two measured backward-curved fans, carried back to no flow: 0.34 and 0.43 of the best point's power.
    flow = np.array([0.0, 1.0e-9, 0.05 - 1.0e-9, 0.05 + 1.0e-9])
    told = power_of_efficiency(flow, np.full(4, 1200.0), 0.5, BEST, SHAPE) / 2000.0
    assert told[0] == pytest.approx(0.4)
    assert told[1] == pytest.approx(told[0], abs=1e-7)
    assert told[3] == pytest.approx(told[2], abs=1e-7)
    assert power_shape().low < 0.34 < 0.43 < power_shape().high


@pytest.mark.parametrize("linear", [True, False])
def test_the_best_point_is_found_as_by_trying_all(linear):
    pieces = curve_pieces([0.0, 0.4, 0.9, 1.4], [2800.0, 2500.0, 1500.0, 200.0], linear)
    flows = np.linspace(0.0, 1.4, 200001)
    useful = flows * (curve_values(pieces, flows) + 30.0 * flows * flows)
    found = best_point(pieces, 30.0)
    assert found.flow == pytest.approx(flows[np.argmax(useful)], abs=2.0e-5)
    assert found.flow * found.pressure == pytest.approx(np.max(useful), rel=1e-9)


def test_no_flow_of_any_curve_has_more_than_the_best_point():
    dice = np.random.default_rng(5)
    for _ in range(60):
        flows = np.cumsum(dice.uniform(0.05, 1.0, 5)) - 0.05
        pieces = curve_pieces(list(flows), list(dice.uniform(0.0, 3000.0, 5)), False)
        quadratic = dice.uniform(-300.0, 300.0)
        tried = np.linspace(flows[0], flows[-1], 4001)
        useful = tried * (curve_values(pieces, tried) + quadratic * tried * tried)
        found = best_point(pieces, quadratic)
        most = found.flow * found.pressure
        assert most >= np.max(useful) - 1e-9 * abs(most)
        assert most == pytest.approx(np.max(useful), rel=1e-4)


@pytest.mark.parametrize(
    ("coefficients", "parts"),
    [
        ((2.0, -3.0, 1.0), ((0.0, 1.0), (1.0, 2.0), (2.0, 4.0))),  # (d - 1) (d - 2)
        ((-2.0, 3.0, -1.0), ((0.0, 1.0), (1.0, 2.0), (2.0, 4.0))),
        ((-3.0, 1.0, 0.0), ((0.0, 0.0), (0.0, 3.0), (3.0, 4.0))),  # d - 3
        ((-6.0, 1.0, 1.0), ((0.0, 0.0), (0.0, 2.0), (2.0, 4.0))),  # (d - 2) (d + 3)
        ((1.0, 0.0, 1.0), ((0.0, 0.0), (0.0, 0.0), (0.0, 4.0))),  # no root
    ],
)
def test_a_cubic_is_parted_where_its_slope_has_its_roots(coefficients, parts):
    assert np.array(monotone_parts(*coefficients, 4.0)) == pytest.approx(np.array(parts), abs=1e-12)


def test_the_best_point_of_a_straight_line_by_hand():
    # p = 1000 (2 - q): q p is greatest at q = 1.
    assert best_point(curve_pieces([0.0, 2.0], [2000.0, 0.0], True), 0.0) == BestPoint(
        pytest.approx(1.0), pytest.approx(1000.0)
    )
    assert best_point(curve_pieces([0.0, 0.5], [2000.0, 1500.0], True), 0.0).flow == pytest.approx(0.5)
