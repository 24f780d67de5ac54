"""Outcomes of the operating point: one crossing, several, none, no flow; dips, inlets, fan laws."""

import math

import numpy as np
import pytest

from airbough_service.core.laws.fan import (
    CurveError,
    Fan,
    curve_pieces,
    scale,
)
from airbough_service.core.network import columns, operating
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import curve_samples, flows_at, operate
from airbough_service.core.network.tree import (
    Run,
    dynamic,
    pack,
)

NO_LOSSES = np.zeros((0, 2))


def quadratic_tree(coefficient: float, hoods: int = 1) -> object:
    """Return a tree whose pressure is coefficient * flow^2 exactly: no friction."""
    bore = 0.15
    own = coefficient * hoods * hoods
    root = Run(parent=-1, start=bore, end=bore, length=0.0, roughness=0.0)
    leaves = [Run(parent=0, start=bore, end=bore, length=0.0, roughness=0.0, entry=own) for _ in range(hoods)]
    return pack([root, *leaves], 1.2, 1.82e-5, columns.MEET)


def fan(points: list[tuple[float, float]], *, linear: bool = True) -> Fan:
    flows, pressures = zip(*points, strict=True)
    return Fan(curve_pieces(flows, pressures, linear), NO_LOSSES, 0.0)


def test_one_crossing_by_hand() -> None:
    """2500 - 6000 Q^2 against 4000 Q^2 crosses at Q = 0.5, p = 1000."""
    tree = quadratic_tree(4000.0)
    found = operate(tree, Fan(np.array([[0.0, 0.645, 2500.0, 0.0, -6000.0, 0.0]]), NO_LOSSES, 0.0), tree.gate)
    assert found.outcome == "operating-point"
    assert found.flow[0] == pytest.approx(0.5, rel=1.0e-12)
    assert found.crossings[0].pressure == pytest.approx(1000.0, rel=1.0e-12)
    assert found.crossings[0].stable


def test_three_crossings_of_a_dip() -> None:
    """A curve with a dip crosses 1000 Q^2 three times: the middle crossing is unstable; runs take the first."""
    tree = quadratic_tree(1000.0)
    found = operate(tree, fan([(0.0, 500.0), (0.3, 60.0), (0.5, 400.0), (0.9, 0.0)]), tree.gate)
    assert found.outcome == "several-operating-points"
    assert [crossing.stable for crossing in found.crossings] == [True, False, True]
    for crossing in found.crossings:
        assert crossing.pressure == pytest.approx(1000.0 * crossing.flow**2, rel=1.0e-9)
    assert found.flow[0] == pytest.approx(found.crossings[0].flow, rel=1.0e-9)


def test_a_hump_alone_still_gives_one_crossing() -> None:
    """A curve that rises first, as many do, has one crossing where the system meets its falling side."""
    tree = quadratic_tree(800.0)
    found = operate(tree, fan([(0.0, 900.0), (0.3, 1000.0), (1.2, 100.0)], linear=False), tree.gate)
    assert found.outcome == "operating-point"
    assert found.flow[0] ** 2 * 800.0 == pytest.approx(found.crossings[0].pressure, rel=1.0e-9)


def test_a_tree_of_more_rows_than_are_solved_at_once_is_searched_point_by_point(monkeypatch) -> None:
    tree, humped = quadratic_tree(800.0), fan([(0.0, 100.0), (0.3, 100.0), (0.4, 1000.0), (1.2, 100.0)])
    assert not humped.crosses_once
    usual = operate(tree, humped, tree.gate)
    monkeypatch.setattr(operating, "AT_ONCE", 1)
    assert operate(tree, humped, tree.gate).flow == pytest.approx(usual.flow, rel=1.0e-12)


def test_beyond_the_end_of_the_curve() -> None:
    """A free system crosses past the last point: nothing is extrapolated, the need at the end is told."""
    tree = quadratic_tree(10.0)
    found = operate(tree, fan([(0.0, 1000.0), (0.5, 800.0)]), tree.gate)
    assert found.outcome == "beyond-fan-curve"
    assert found.flow_at_least == pytest.approx(0.5)
    assert found.pressure_needed == pytest.approx(10.0 * 0.25, rel=1.0e-9)
    assert not found.flow.any()


def test_before_the_beginning_of_the_curve() -> None:
    """A tight system crosses below the first point of a curve that does not begin at zero flow."""
    tree = quadratic_tree(1.0e6)
    found = operate(tree, fan([(0.2, 1000.0), (0.5, 100.0)]), tree.gate)
    assert found.outcome == "beyond-fan-curve"
    assert found.flow_at_most == pytest.approx(0.2)
    assert found.flow_at_least is None


def test_a_humped_curve_is_not_searched_before_its_beginning() -> None:
    """2500 Q^2 is 0.16 * 2500 = 400 Pa at the first point already, above the 300 Pa there and all that follows.

    Drawn back to no flow the first line, 200 Pa at .35 and falling, would meet it at about .34 m3/s.
    """
    tree = quadratic_tree(2500.0)
    humped = fan([(0.4, 300.0), (0.41, 320.0), (0.44, 440.0), (0.6, 100.0)])
    assert not humped.crosses_once
    found = operate(tree, humped, tree.gate)
    assert found.outcome == "beyond-fan-curve"
    assert found.flow_at_most == pytest.approx(0.4)
    assert found.crossings == ()


def test_where_nothing_is_drawn_nothing_falls() -> None:
    tree = quadratic_tree(4000.0, hoods=2)
    for gate, drawn in ((tree.gate, 0.0), (np.array([math.inf, 0.0, 0.0]), 0.3)):
        flow, fall = flows_at(tree, gate, drawn)
        assert (flow.tolist(), fall) == ([0.0, 0.0, 0.0], 0.0)


def test_a_curve_is_drawn_without_the_losses_behind_it() -> None:
    """By hand: the straight line as given, whatever cyclone and filter take of it."""
    curve = Fan(curve_pieces((0.0, 1.0), (1000.0, 0.0), True), np.array([[300.0, 2.0], [200.0, 1.0]]), 0.0)
    flows = np.array([0.0, 0.25, 0.5])
    assert curve_samples(curve, flows) == pytest.approx([1000.0, 750.0, 500.0])
    assert curve.left_for_tree(0.5) == pytest.approx(500.0 - 300.0 * 0.25 - 200.0 * 0.5)


def test_all_gates_shut_is_no_flow_and_full_suction() -> None:
    """No flow: shut-off pressure downstream of the shut gates, nothing upstream."""
    tree = quadratic_tree(4000.0, hoods=2)
    curve, gate = fan([(0.0, 1500.0), (1.0, 0.0)]), np.array([0.0, math.inf, math.inf])
    found = operate(tree, curve, gate)
    assert found.outcome == "no-flow"
    told = losses(tree, gate, found.flow, curve.left_for_tree(0.0))
    assert told.static_pressure == pytest.approx([-1500.0, -1500.0, -1500.0])
    assert told.at_hood == pytest.approx([0.0, 0.0, 0.0])
    shut_main = np.array([math.inf, 0.0, 0.0])
    told = losses(tree, shut_main, operate(tree, curve, shut_main).flow, 1500.0)
    assert told.static_pressure == pytest.approx([-1500.0, 0.0, 0.0])


def test_fan_laws() -> None:
    """Flow with speed, pressure with its square and density: Homework 6: Fan Laws, question 2 (1300 to 1500)."""
    pieces = curve_pieces([0.0, 0.9439], [747.3, 100.0], linear=True)
    faster = scale(pieces, 1500.0 / 1300.0, 1.0)
    assert faster[0, 1] / pieces[0, 1] == pytest.approx(2308.0 / 2000.0, abs=0.0003)
    assert faster[0, 2] / pieces[0, 2] == pytest.approx(3.99 / 3.0, abs=0.002)
    assert scale(pieces, 1.0, 0.9)[0, 2] == pytest.approx(0.9 * 747.3)


def test_curve_is_shape_preserving_like_scipy() -> None:
    """The cubic is scipy's PchipInterpolator (Fritsch and Butland's slopes), point for point."""
    from scipy.interpolate import PchipInterpolator

    draw = np.random.default_rng(3)
    for _ in range(50):
        flows = np.cumsum(draw.uniform(0.05, 0.4, 7))
        pressures = draw.uniform(0.0, 2000.0, 7)
        curve, outside = Fan(curve_pieces(flows, pressures, False), NO_LOSSES, 0.0), PchipInterpolator(flows, pressures)
        for flow in draw.uniform(flows[0], flows[-1], 40):
            assert curve.static_pressure(flow) == pytest.approx(float(outside(flow)), abs=1.0e-8)


def test_curve_needs_rising_flows() -> None:
    """Two points at one flow are no curve."""
    with pytest.raises(CurveError):
        curve_pieces([0.0, 0.0], [1.0, 2.0], True)


def test_inlet_static_reads_less_than_fan_static() -> None:
    """Reading an inlet-static curve as fan-static flatters by the inlet's velocity pressure (contract, section 2)."""
    tree, pieces = quadratic_tree(4000.0), curve_pieces([0.0, 1.0], [2500.0, 0.0], True)
    flattered = operate(tree, Fan(pieces, NO_LOSSES, 0.0), tree.gate).flow[0]
    inlet = dynamic(1.2, 0.15)
    honest = operate(tree, Fan(pieces, NO_LOSSES, inlet), tree.gate).flow[0]
    assert 2500.0 * (1.0 - honest) - inlet * honest**2 == pytest.approx(4000.0 * honest**2, rel=1.0e-9)
    assert honest < flattered
