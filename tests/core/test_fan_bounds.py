"""The bounds by which a fan's curve is proved to be met once, against many points of the same curve, and calculus."""

import math

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.interpolate import PchipInterpolator

from airbough_service.core.laws import fan
from airbough_service.core.laws.fan import CurveError, Fan, pressure_bound, steepness_bound

NONE = np.zeros((0, 2))


def pieces(dice):
    """Give cubics over an interval that does not begin at no flow, each with an interval inside."""
    for _ in range(200):
        start, width = dice.uniform(0.2, 2.0), dice.uniform(0.1, 1.5)
        piece = np.array([start, start + width, *dice.normal(size=4) * (900.0, 600.0, 400.0, 300.0)])
        a, b = np.sort(dice.uniform(start, start + width, 2))
        yield piece, Polynomial(piece[2:])(Polynomial([-start, 1.0])), float(a), float(b)


def left(curve, terms, quadratic, flows):
    """Return what is left of a curve at these flows."""
    return curve(flows) - quadratic * flows**2 - sum(k * flows**n for k, n in terms)


def steepness(curve, terms, quadratic, flows):
    """Return p'(q) q - p(q), by the derivative of each part."""
    own = curve.deriv()(flows) * flows - curve(flows)
    return own - quadratic * flows**2 - sum(k * (n - 1.0) * flows**n for k, n in terms)


@pytest.mark.parametrize("quadratic", [0.0, 250.0, -250.0])
@pytest.mark.parametrize("terms", [NONE, np.array([[90.0, 0.5]]), np.array([[60.0, 1.0], [120.0, 2.0]])])
@pytest.mark.parametrize(("bound", "truth"), [(pressure_bound, left), (steepness_bound, steepness)])
def test_no_point_between_two_flows_passes_its_bound(bound, truth, terms, quadratic):
    for piece, curve, a, b in pieces(np.random.default_rng(5)):
        told = bound(piece, terms, quadratic, a, b)
        most = truth(curve, terms, quadratic, np.linspace(a, b, 301)).max()
        assert told >= most - 1.0e-9 * (1.0 + abs(most))


@pytest.mark.parametrize("quadratic", [0.0, 250.0, -250.0])
@pytest.mark.parametrize("terms", [NONE, np.array([[90.0, 0.5]]), np.array([[60.0, 1.0], [120.0, 2.0]])])
@pytest.mark.parametrize(("bound", "truth"), [(pressure_bound, left), (steepness_bound, steepness)])
def test_at_one_flow_a_bound_is_the_value(bound, truth, terms, quadratic):
    for piece, curve, a, _ in pieces(np.random.default_rng(6)):
        assert bound(piece, terms, quadratic, a, a) == pytest.approx(
            truth(curve, terms, quadratic, a), rel=1e-9, abs=1e-9
        )


def test_the_bound_of_a_cubic_is_its_greater_end_and_what_a_chord_can_miss():
    """A curve lies within max|p''| w^2 / 8 of its chord over a width w: the error of linear interpolation."""
    for piece, curve, a, b in pieces(np.random.default_rng(7)):
        second = curve.deriv(2)
        bend = max(abs(second(a)), abs(second(b)))  # of a straight line the greatest is at an end
        wanted = max(curve(a), curve(b)) + bend * (b - a) ** 2 / 8.0
        assert pressure_bound(piece, NONE, 0.0, a, b) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


def test_the_bound_of_steepness_of_a_cubic_is_its_greatest_value():
    """Inside, p'(q) q - p(q) turns only where its derivative p''(q) q is 0."""
    for piece, curve, a, b in pieces(np.random.default_rng(8)):
        inside = [root.real for root in np.atleast_1d(curve.deriv(2).roots()) if a < root.real < b]
        wanted = max(steepness(curve, NONE, 0.0, np.array([a, b, *inside])))
        assert steepness_bound(piece, NONE, 0.0, a, b) == pytest.approx(wanted, rel=1e-9, abs=1e-9)


class NotANumber:
    """numpy, but that memory not yet written holds no number."""

    def __getattr__(self, name):
        return getattr(np, name)

    def empty(self, size):
        return np.full(size, np.nan)


@pytest.mark.parametrize("terms", [NONE, np.array([[130.0, 0.5]]), np.array([[30.0, 0.3], [100.0, 0.6]])])
def test_a_curve_that_begins_at_a_flow_is_halved_until_it_is_proved(terms, monkeypatch):
    """Whether p' q stays below p wherever p is above 0, as many points say.

    Halved intervals are kept in memory that is not cleared: none is read before it was written.
    """
    monkeypatch.setattr(fan, "np", NotANumber())
    crosses_once, seen = getattr(fan.crosses_once, "py_func", fan.crosses_once), set()
    for piece, curve, _, _ in pieces(np.random.default_rng(9)):
        flows = np.linspace(piece[0], piece[1], 2_001)
        p, s = left(curve, terms, 0.0, flows), steepness(curve, terms, 0.0, flows)
        scale = 1.0e-3 * np.abs(p).max()
        fails, near = ((p > margin) & (s > margin) for margin in (scale, -scale))
        if fails.any() == near.any():  # else too near to tell by points
            told = crosses_once(piece[None, :], terms, 0.0)
            assert told != fails.any(), piece
            at_once = pressure_bound(piece, terms, 0.0, *piece[:2]) <= 0.0
            at_once = at_once or steepness_bound(piece, terms, 0.0, *piece[:2]) < 0.0
            seen.add((bool(told), bool(at_once)))
    assert seen == {(True, True), (True, False), (False, False)}


def test_a_curve_that_touches_at_its_start_is_halved_to_the_last_and_not_proved():
    """100 + 100 (q - 1) - 20 (q - 1)^2 has p' q = p at q = 1 alone, and less from there on."""
    touching = np.array([[1.0, 3.0, 100.0, 100.0, -20.0, 0.0]])
    assert not fan.crosses_once(touching, NONE, 0.0)
    below = np.array([[1.0, 3.0, 100.1, 100.0, -20.0, 0.0]])
    assert fan.crosses_once(below, NONE, 0.0)


@pytest.mark.parametrize("flows", [[0.0, 0.0], [0.0, 0.5, 0.4], [0.0, 0.5, 0.5, 0.9], [1.0]])
def test_flows_that_do_not_rise_make_no_curve(flows):
    with pytest.raises(CurveError):
        fan.curve_pieces(flows, [1.0] * len(flows), linear=True)


@pytest.mark.parametrize("scale", [1.0e3, 1.0, 1.0e-3])
def test_the_curve_is_that_of_an_independent_library_whatever_its_scale(scale):
    """Fritsch and Carlson's interpolation, by scipy, through points that rise, fall, and stay."""
    dice = np.random.default_rng(10)
    for _ in range(100):
        flows = np.cumsum(dice.uniform(0.05, 0.5, int(dice.integers(3, 8))))
        pressures = scale * np.round(dice.uniform(0.0, 5.0, flows.size))
        pieces = fan.curve_pieces(flows, pressures, linear=False)
        witness = PchipInterpolator(flows, pressures)
        blower = Fan(pieces, NONE, 0.0)
        for flow in np.linspace(flows[0], flows[-1], 37):
            assert blower.left_for_tree(flow) == pytest.approx(float(witness(flow)), rel=1e-9, abs=1e-9 * scale)


def test_a_collectors_loss_is_nothing_without_flow():
    blower = Fan(np.array([[0.0, 2.0, 1000.0, -100.0, 0.0, 0.0]]), np.array([[50.0, 0.0], [20.0, 1.5]]), 0.0)
    assert blower.collector_loss(0.0) == 0.0
    assert blower.collector_loss(1.44) == pytest.approx(50.0 + 20.0 * 1.2**3)
    assert math.isclose(blower.static_pressure(1.0), 900.0)
