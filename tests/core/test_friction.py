"""Friction against the library `fluids`: the one compiled function that the solver and the single question share."""

import math

import fluids
import numpy as np
import pytest

from airbough_service import catalogue
from airbough_service.core.laws import friction

REYNOLDS = [4000.0, 1.0e4, 1.0e5, 3.0e5, 1.0e6, 1.0e8]
ROUGHNESS = [0.0, 1.0e-5, 1.0e-4, 1.0e-3, 0.01, 0.05]


@pytest.mark.parametrize("reynolds", REYNOLDS)
@pytest.mark.parametrize("relative_roughness", ROUGHNESS)
def test_colebrook_agrees_with_fluids(reynolds, relative_roughness):
    expected = fluids.friction.Colebrook(reynolds, relative_roughness)
    assert float(friction.friction_factor(reynolds, relative_roughness)) == pytest.approx(expected, rel=1.0e-9)


def test_vector_equals_scalar():
    reynolds, rough = np.meshgrid([10.0, 1999.0, 2500.0, 3999.0, *REYNOLDS], ROUGHNESS)
    together = friction.friction_factor(reynolds, rough)
    one_by_one = [float(friction.friction_factor(r, e)) for r, e in zip(reynolds.flat, rough.flat, strict=True)]
    assert together.ravel() == pytest.approx(one_by_one, rel=1.0e-13)


@pytest.mark.parametrize("reynolds", [1.0, 500.0, 2000.0, 2001.0, 3000.0, 3999.9])
@pytest.mark.parametrize("relative_roughness", ROUGHNESS)
def test_slow_flow_is_laminar_or_bridged_by_a_straight_line(reynolds, relative_roughness):
    """Hagen-Poiseuille to 2000; from there a line to Colebrook's factor at 4000 (common practice, no source)."""
    turbulent = fluids.friction.Colebrook(4000.0, relative_roughness)
    bridged = 0.032 + (turbulent - 0.032) * (reynolds - 2000.0) / 2000.0
    expected = 64.0 / reynolds if reynolds <= 2000.0 else bridged
    assert float(friction.friction_factor(reynolds, relative_roughness)) == pytest.approx(expected, rel=1.0e-9)


@pytest.mark.parametrize("reynolds", REYNOLDS)
def test_the_first_guess_does_not_matter(reynolds):
    expected = fluids.friction.Colebrook(reynolds, 1.0e-3)
    for guess in (3.0, 6.0, 12.0):
        assert float(friction.darcy(1.0e-3 / 3.7, reynolds, guess)) == pytest.approx(expected, rel=1.0e-9)


def test_laminar_flow_is_64_over_reynolds():
    # Hagen-Poiseuille, exact.
    assert float(friction.friction_factor(1000.0, 0.01)) == pytest.approx(0.064, rel=1e-15)


@pytest.mark.parametrize("relative_roughness", ROUGHNESS)
def test_the_factor_is_continuous_and_the_loss_rises_with_flow(relative_roughness):
    reynolds = np.geomspace(50.0, 1.0e7, 20001)
    factor = friction.friction_factor(reynolds, relative_roughness)
    assert np.max(np.abs(np.diff(np.log(factor)))) < 5.0e-3
    assert np.all(np.diff(factor * reynolds**2) > 0.0)


def test_loss_of_a_length_agrees_with_fluids():
    flow, bore, length, rough = 0.2, 0.15, 12.0, 1.5e-4
    speed = flow / (math.pi / 4.0 * bore**2)
    factor = fluids.friction.friction_factor(
        Re=fluids.Reynolds(speed, bore, 1.2, 18.2e-6), eD=rough / bore, Method="Colebrook"
    )
    expected = factor * length / bore * 0.6 * speed**2
    assert float(friction.friction_loss(flow, bore, length, rough, 1.2, 18.2e-6)) == pytest.approx(expected, rel=1e-9)


def test_power_law_by_its_printed_form():
    # Velocity-pressure method, galvanized duct: Hf per ft = 0.0307 V^0.533 / Q^0.612, V in ft/min, Q in ft3/min;
    # ACGIH Industrial Ventilation, as reproduced in an open work sheet. The inputs here are a hand example.
    flow, bore = 600.0, 5.0
    speed = flow / (math.pi / 4.0 * (bore / 12.0) ** 2)
    expected = 0.0307 * speed**0.533 / flow**0.612 * 30.0  # velocity pressures in 30 ft
    law = catalogue.duct("spiral-galvanized").power_law
    metres, seconds = 0.3048, 60.0
    si_flow, si_bore = flow * metres**3 / seconds, bore * metres / 12.0
    pressure = float(friction.velocity_pressure(speed * metres / seconds, 1.2))
    loss = friction.power_law_loss(si_flow, si_bore, 30.0 * metres, law, 1.2)
    assert loss / pressure == pytest.approx(expected, rel=1e-12)
