"""Chi-square and the fit of one unknown, against closed forms and scipy."""

import numpy as np
import pytest

from airbough_service.core.evidence import weighing


@pytest.mark.parametrize("freedom", [1, 2, 5, 20, 100])
def test_the_limit_is_that_of_the_tables(freedom):
    stats = pytest.importorskip("scipy.stats")
    assert weighing.chi_square_limit(freedom) == pytest.approx(stats.chi2.ppf(0.95, freedom), rel=0.03)
    assert weighing.chi_square_limit(freedom, 2.326) == pytest.approx(stats.chi2.ppf(0.99, freedom), rel=0.03)


def test_a_straight_line_is_fitted_as_least_squares_does():
    # One unknown, y = slope * t: estimate and its range are those of weighted least squares in closed form.
    dice = np.random.default_rng(2)
    t = np.arange(1.0, 7.0)
    spreads = np.full(6, 0.3)
    values = 2.5 * t + dice.normal(size=6) * 0.3 / 1.645
    by = weighing.weights(values, spreads, np.zeros((0, 6)))
    grid = np.geomspace(0.1, 100.0, 15)
    best, _ = weighing.scan(lambda slope: slope * t, values, by, grid)
    fit = weighing.fit(lambda slope: slope * t, values, by, grid, best)
    variance = (0.3 / 1.6448536) ** 2 / float(t @ t)
    assert fit.at == pytest.approx(float(t @ values) / float(t @ t), rel=1.0e-6)
    assert fit.high - fit.at == pytest.approx(np.sqrt(2.7055 * variance), rel=1.0e-3)
    assert fit.at - fit.low == pytest.approx(np.sqrt(2.7055 * variance), rel=1.0e-3)


def test_errors_that_go_together_weigh_once():
    # Two readings off by the same model error tell no more than one: chi-square of a common shift is that of the model.
    model = np.array([[1.0, 1.0]])
    by = weighing.weights(np.ones(2), np.full(2, 1.0e-3), model)
    assert by.square(np.array([1.0, 1.0])) == pytest.approx(1.0, rel=1.0e-3)
    assert by.square(np.array([1.0, -1.0])) > 1.0e6


def test_an_open_range_is_told_as_open():
    values = np.array([1.0])
    by = weighing.weights(values, np.array([0.5]), np.zeros((0, 1)))
    grid = np.geomspace(0.01, 100.0, 15)

    def saturating(at):
        return np.array([at / (1.0 + at)])

    best, _ = weighing.scan(saturating, values, by, grid)
    fit = weighing.fit(saturating, values, by, grid, best)
    assert fit.high is None
    assert fit.low == pytest.approx(1.0, rel=1.0e-3)  # 1 - x = 0.5 there, the half-width


def test_signatures_alike():
    by = weighing.weights(np.ones(2), np.ones(2), np.zeros((0, 2)))
    assert by.alike(np.array([1.0, 0.0]), np.array([0.0, 1.0])) == pytest.approx(0.0)
    assert by.alike(np.array([1.0, 1.0]), np.array([2.0, 2.0])) == pytest.approx(1.0)
    assert by.alike(np.zeros(2), np.ones(2)) == 0.0
    assert by.shares(np.array([1.0, 0.0]), np.array([3.0, 1.0])).tolist() == [1.0, 0.0]
