"""Make-up air against its own inverse and against Bernoulli's equation."""

import math

import pytest

from airbough_service.core.laws.make_up_air import (
    Envelope,
    air_changes,
    depressurisation,
    heat_rate,
    inflow,
    opening_area,
    opening_flow,
)


def test_an_ideal_opening_passes_the_velocity_of_its_pressure():
    assert opening_flow(1.0, 1.0, 0.5 * 1.2 * 3.0**2, 1.2) == pytest.approx(3.0)


@pytest.mark.parametrize("flow", [0.01, 0.4, 3.0])
def test_area_and_flow_are_inverse(flow):
    area = opening_area(flow, 0.61, 5.0, 1.2)
    assert opening_flow(area, 0.61, 5.0, 1.2) == pytest.approx(flow, rel=1e-12)
    assert depressurisation(Envelope(area, 0.61), flow, 1.2) == pytest.approx(5.0, rel=1e-12)


@pytest.mark.parametrize(
    "envelope", [Envelope(0.1, 0.61), Envelope(0.0, 0.61, 0.02, 0.65), Envelope(0.05, 0.7, 0.01, 0.6)]
)
@pytest.mark.parametrize("flow", [1e-6, 0.05, 0.8])
def test_depressurisation_lets_in_what_leaves(envelope, flow):
    assert inflow(envelope, depressurisation(envelope, flow, 1.2), 1.2) == pytest.approx(flow, rel=1e-12)


def test_nothing_leaves_nothing_is_drawn():
    assert depressurisation(Envelope(0.1, 0.61), 0.0, 1.2) == 0.0


def test_a_tight_room_has_no_answer():
    with pytest.raises(ValueError, match="no opening"):
        depressurisation(Envelope(0.0, 0.61), 0.1, 1.2)


def test_air_changes_of_an_hour():
    assert air_changes(0.1, 36.0) == pytest.approx(10.0)  # 360 m3 in an hour


def test_heat_of_a_cubic_metre_a_second():
    assert heat_rate(1.0, 1.2, 1006.0, 10.0) == pytest.approx(12072.0)
    assert heat_rate(1.0, 1.2, 1006.0, -10.0) < 0.0
    assert math.isfinite(heat_rate(0.0, 1.2, 1006.0, 10.0))
