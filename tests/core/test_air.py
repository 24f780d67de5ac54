"""Moist air against CoolProp's humid air (ASHRAE RP-1485) and the printed range of Sutherland's law."""

import itertools

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI

from airbough_service import catalogue
from airbough_service.catalogue import air as constants
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws import air

KELVIN = 273.15


@pytest.mark.parametrize("celsius", [-20.0, 0.0, 15.0, 20.0, 27.0, 40.0, 60.0])
@pytest.mark.parametrize("pressure", [70000.0, 90000.0, 101325.0])
@pytest.mark.parametrize("humidity", [0.0, 0.5, 1.0])
def test_density_agrees_with_coolprop(celsius, pressure, humidity):
    # CoolProp: real-gas moist air. CIPM-2007 is made for 15..27 degC; 0.1 % holds from -20 to 60 degC as well.
    temperature = celsius + KELVIN
    expected = 1.0 / HAPropsSI("Vha", "T", temperature, "P", pressure, "R", humidity)
    # HAPropsSI's Vha is per kg of humid air. Below 0 degC it saturates over ice, we over water: a tiny vapour share.
    assert catalogue.moist_air(temperature, pressure, humidity).density == pytest.approx(expected, rel=1.0e-3)


@pytest.mark.parametrize("celsius", [15.0, 20.0, 27.0])
def test_density_in_the_range_of_cipm_2007(celsius):
    # Two independent real-gas formulations; 2e-4 covers their difference and CoolProp's own molar mass of air.
    expected = 1.0 / HAPropsSI("Vha", "T", celsius + KELVIN, "P", 101325.0, "R", 0.5)
    assert catalogue.moist_air(celsius + KELVIN, 101325.0, 0.5).density == pytest.approx(expected, rel=2.0e-4)


@pytest.mark.parametrize(
    ("celsius", "humidity", "tolerance"), [(-20, 0, 0.015), (20, 0, 0.01), (20, 1, 0.015), (60, 0, 0.01)]
)
def test_viscosity_agrees_with_coolprop(celsius, humidity, tolerance):
    # Sutherland's law leaves humidity out: the note of the catalogue says about 1 %.
    expected = HAPropsSI("mu", "T", celsius + KELVIN, "P", 101325.0, "R", humidity)
    assert catalogue.moist_air(celsius + KELVIN, 101325.0, humidity).viscosity == pytest.approx(expected, rel=tolerance)


def test_arrays_equal_scalars():
    temperature = np.array([273.15, 293.15, 313.15])
    pressure = np.array([80000.0, 101325.0, 95000.0])
    humidity = np.array([0.0, 0.5, 1.0])
    density, viscosity = air.moist_air(temperature, pressure, humidity, constants.constants(), constants.sutherland())
    for k in range(3):
        one = catalogue.moist_air(float(temperature[k]), float(pressure[k]), float(humidity[k]))
        assert density[k] == pytest.approx(one.density, rel=1e-15)
        assert viscosity[k] == pytest.approx(one.viscosity, rel=1e-15)


def test_damp_air_is_lighter_and_heights_are_thinner():
    densities = [catalogue.moist_air(293.15, 101325.0, h).density for h in np.linspace(0, 1, 21)]
    assert all(a > b for a, b in itertools.pairwise(densities))
    pressures = [catalogue.standard_pressure(z) for z in range(-500, 6001, 100)]
    assert all(a > b for a, b in itertools.pairwise(pressures))


def test_vapour_cannot_exceed_the_pressure():
    # Water boils at 100 degC at sea level: at 140 degC and relative humidity 0.9 no such air exists.
    with pytest.raises(OutsideTableError, match="humidity"):
        catalogue.moist_air(413.15, 101325.0, 0.9)


def test_beyond_the_checked_range_says_so():
    assert catalogue.moist_air(293.15, 101325.0, 0.5).outside == ()
    (cold,) = catalogue.moist_air(253.15, 101325.0, 0.5).outside
    assert (cold.parameter, cold.value) == ("temperature", 253.15)


def test_standard_air_is_that_of_iso_5801():
    # ISO 5801: 1.2 kg/m3; 18.2 uPa*s goes with it at about 20 degC (from memory).
    standard = catalogue.standard_air()
    assert (standard.density, standard.viscosity) == (1.2, 18.2e-6)
