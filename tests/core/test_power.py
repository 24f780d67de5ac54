"""Shaft power: fan laws, the points given, nothing extrapolated."""

import numpy as np
import pytest

from airbough_service.core.laws.curve import curve_values
from airbough_service.core.laws.fan import CurveError
from airbough_service.core.laws.power import power_of_efficiency, power_pieces

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


def test_efficiency():
    assert power_of_efficiency(0.5, 2000.0, 0.5) == pytest.approx(2000.0)
