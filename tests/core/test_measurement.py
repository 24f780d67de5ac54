"""Traverses against profiles that are known exactly, and hoods against their own definitions."""

import math

import pytest

from airbough_service.catalogue.traverse import rule
from airbough_service.core.laws.measurement import (
    coefficient_of_entry,
    entry_coefficient,
    hood_velocity_pressure,
    traverse,
    velocity,
)


def power_profile(share, exponent):
    """Velocity of a turbulent profile over its mean: (1 - r)^(1/n) over its mean over the disc."""
    wall = min(share, 1.0 - share) * 2.0
    mean = 2.0 / ((1.0 / exponent + 1.0) * (1.0 / exponent + 2.0))
    return wall ** (1.0 / exponent) / mean


@pytest.mark.parametrize("word", ["log-linear", "log-tchebycheff", "equal-area"])
@pytest.mark.parametrize("exponent", [6.0, 7.0, 9.0])
def test_each_rule_finds_the_mean_of_a_turbulent_profile(word, exponent):
    for points, shares in rule(word).fractions.items():
        row = [power_profile(share, exponent) for share in shares]
        bound = 0.02 if word == "equal-area" else 0.01
        assert traverse([row], 0.1).mean_velocity == pytest.approx(1.0, abs=bound), points


@pytest.mark.parametrize("word", ["log-linear", "log-tchebycheff", "equal-area"])
def test_points_rise_and_mirror(word):
    for points, shares in rule(word).fractions.items():
        assert len(shares) == points
        assert list(shares) == sorted(shares)
        assert [1.0 - share for share in reversed(shares)] == pytest.approx(shares, abs=1e-9)


def test_equal_area_points_are_the_centres_of_equal_rings():
    for points, shares in rule("equal-area").fractions.items():
        radii = [math.sqrt((2 * k - 1) / points) for k in range(points // 2, 0, -1)]
        assert list(shares[: points // 2]) == pytest.approx([0.5 * (1.0 - r) for r in radii], abs=6e-5)


def test_velocities_are_averaged_not_pressures():
    found = traverse([[velocity(pressure, 1.2) for pressure in (10.0, 90.0)]], 0.1)
    assert found.mean_velocity == pytest.approx(0.5 * (velocity(10.0, 1.2) + velocity(90.0, 1.2)))
    assert found.mean_velocity < velocity(50.0, 1.2)


def test_scatter_comes_from_the_diameters():
    assert traverse([[10.0, 10.0]], 0.1).scatter is None
    assert traverse([[10.0, 12.0], [12.0, 10.0]], 0.1).scatter == 0.0
    # Means 9 and 11: standard deviation of their mean is 1, so 1.645 of 10.
    assert traverse([[9.0, 9.0], [11.0, 11.0]], 0.1).scatter == pytest.approx(0.1645)


def test_share_above_counts_pressures():
    found = traverse([[10.0, 4.0, 3.0, 0.0]], 0.1)  # over the greatest pressure: 1, 0.16, 0.09, 0
    assert found.share_above == pytest.approx(0.5)
    assert found.lowest == 0.0


def test_a_negative_reading_is_no_flow():
    assert velocity(-5.0, 1.2) == 0.0


@pytest.mark.parametrize("entry", [0.0, 0.25, 0.49, 0.93, 1.78])
def test_entry_and_coefficient_of_entry_are_inverse(entry):
    assert entry_coefficient(coefficient_of_entry(entry)) == pytest.approx(entry, abs=1e-12)
    assert hood_velocity_pressure((1.0 + entry) * 80.0, entry) == pytest.approx(80.0)
