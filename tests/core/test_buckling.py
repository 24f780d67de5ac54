"""Buckling of thin ducts; published values stand in the handbook cases."""

import math

import pytest

from airbough_service.core.laws.buckling import (
    Shell,
    buckling_pressure,
    greatest_spacing,
    long_tube_pressure,
    short_tube_pressure,
)

STEEL = Shell(200e9, 0.29, 0.0006, 0.15)


def von_mises(shell, spacing, lobes):
    """Von Mises' pressure for a number of lobes, pressure on sides and ends; from memory, checked by its long limit."""
    radius = 0.5 * (shell.bore + shell.thickness)
    wave = math.pi * radius / spacing
    nu, e, t = shell.poisson_ratio, shell.elastic_modulus, shell.thickness
    n2 = lobes * lobes
    membrane = e * t / radius * wave**4 / (n2 + wave**2) ** 2
    bending = e * t**3 / (12.0 * radius**3 * (1.0 - nu * nu)) * (n2 - 1.0 + wave**2) ** 2
    return (membrane + bending) / (n2 - 1.0 + 0.5 * wave**2)


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("thickness", [0.0003, 0.0006, 0.0012])
def test_between_rings_the_formula_lies_near_von_mises_theory(ratio, thickness):
    # The formula smooths over the whole numbers of lobes, which matters where there are only two or three.
    shell = Shell(200e9, 0.3, thickness, 0.15)
    spacing = ratio * (shell.bore + thickness)
    least = min(von_mises(shell, spacing, lobes) for lobes in range(2, 40))
    assert buckling_pressure(shell, spacing) == pytest.approx(least, rel=0.16)


def test_a_long_span_is_a_long_tube():
    assert buckling_pressure(STEEL, 1000.0) == long_tube_pressure(STEEL) == buckling_pressure(STEEL)


def test_closer_rings_never_weaken():
    spans = [0.05 * 1.2**k for k in range(30)]
    pressures = [buckling_pressure(STEEL, span) for span in spans]
    assert pressures == sorted(pressures, reverse=True)
    assert pressures[0] > 10.0 * pressures[-1]


def test_no_span_left_between_the_rings_has_no_limit():
    assert short_tube_pressure(STEEL, 0.001) == math.inf


@pytest.mark.parametrize("factor", [1.5, 4.0, 20.0])
def test_the_greatest_spacing_just_holds(factor):
    pressure = factor * long_tube_pressure(STEEL)
    spacing = greatest_spacing(STEEL, pressure)
    assert buckling_pressure(STEEL, spacing) == pytest.approx(pressure, rel=1e-12)
    assert buckling_pressure(STEEL, 1.01 * spacing) < pressure


def test_a_tube_that_holds_needs_no_rings():
    assert greatest_spacing(STEEL, 0.99 * long_tube_pressure(STEEL)) is None


def test_double_the_wall_bears_eight_times():
    thick = Shell(200e9, 0.29, 0.0012, 0.15 - 0.0006)  # same mean diameter
    assert long_tube_pressure(thick) == pytest.approx(8.0 * long_tube_pressure(STEEL), rel=1e-12)
