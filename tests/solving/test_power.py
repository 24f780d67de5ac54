"""Shaft power only where the caller says enough; the motor's load."""

import msgspec
import numpy as np
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.judging.power_findings import assumed, beyond, overloaded
from airbough_service.shop import collector as collectors
from airbough_service.shop.shop import build
from airbough_service.solving import power as powers
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal
from site_shop import shop

FLOW, PRESSURE = 0.5, 2000.0  # m3/s, Pa
POINTS = [{"flow": "0.2 m3/s", "power": "1 kW"}, {"flow": "0.8 m3/s", "power": "2 kW"}]


def made(**collector):
    """Return the shop with this in its collector."""
    body = shop()
    body["collector"].update(collector)
    return build(units.to_si(msgspec.json.decode(msgspec.json.encode(body), type=OperatingPointRequest)))


def shaft_of(made_ready):
    """Return the shaft of the shop's own fan."""
    return powers.shaft_of(made_ready, collectors.build(made_ready))


def power(made_ready, flow=FLOW):
    """Return the power at this flow and at a fan static pressure of PRESSURE."""
    return shaft_of(made_ready).at(flow, PRESSURE)


def test_nothing_said_nothing_told():
    assert shaft_of(made()) is None
    assert shaft_of(made(motor={"rated_power": 3})) is None


def straight(outlet="3 m", **more):
    """Return a shop whose fan's curve is a straight line, 2 kPa at no flow and none at 1 m3/s, with this outlet."""
    points = [{"flow": "0 m3/s", "pressure": "2 kPa"}, {"flow": "1 m3/s", "pressure": "0 Pa"}]
    fan = {"curve": points, "rated_as": "fan-static", "interpolation": "linear", "outlet_diameter": outlet}
    return made(fan=fan, **more)


def test_one_efficiency_is_that_of_the_best_point():
    # By hand: flow times pressure of the line is greatest at half of its flow: 0.5 m3/s, 1 kPa.
    made_ready = straight(efficiency="50 %", motor={"rated_power": "4 kW"})
    shaft = shaft_of(made_ready)
    assert (shaft.best.flow, shaft.best.pressure) == pytest.approx((0.5, 1000.0), rel=1e-6)
    found = shaft.at(0.5, 1000.0)
    assert found.shaft_power == pytest.approx(0.5 * 1000.0 / 0.5, rel=1e-3)
    assert found.motor_load == pytest.approx(0.25, rel=1e-3)
    (note,) = assumed("metric", shaft)
    assert (note.code, note.severity) == ("efficiency-shape-assumed", "note")
    assert note.value == pytest.approx(1800.0, rel=1e-3)
    assert "0.3 to 0.55" in note.message


def test_the_best_point_is_by_static_pressure_however_narrow_the_outlet():
    # By hand: 0.5 m3/s leave 150 mm at 28.3 m/s, 480 Pa of velocity pressure at 1.2 kg/m3; 1480 Pa in all at the best
    # point. By total pressure the best point would be where the outlet is free: 1 m3/s, 1922 Pa of velocity pressure.
    shaft = shaft_of(straight(outlet="150 mm", efficiency=0.5))
    assert shaft.best.flow == pytest.approx(0.5, rel=1e-6)
    assert shaft.at(0.5, 1000.0).shaft_power == pytest.approx(0.5 * 1480.5 / 0.5, rel=1e-3)


def test_power_is_least_at_shut_off_and_holds_towards_a_free_outlet():
    shaft = shaft_of(straight(outlet="150 mm", efficiency=0.5))
    flows = np.linspace(0.0, 1.0, 21)
    told = shaft.watts(flows, 2000.0 * (1.0 - flows)) / shaft.at(0.5, 1000.0).shaft_power
    assert np.argmin(told) == 0
    assert (told[flows >= 0.5] >= 1.0 - 1e-9).all()


def test_at_shut_off_two_fifths_are_left_and_power_points_are_not_touched():
    shaft = shaft_of(straight(efficiency=0.5))
    assert shaft.at(0.0, 2000.0).shaft_power == pytest.approx(0.4 * 1000.0, rel=1e-3)
    assert assumed("metric", shaft_of(made(power=POINTS, efficiency=0.5))) == ()


def test_the_shape_keeps_the_fan_laws():
    plain, fan = shaft_of(made(efficiency=0.5)), shop()["collector"]["fan"] | {"speed_ratio": 0.8}
    slower = shaft_of(made(efficiency=0.5, fan=fan))
    for flow, pressure in ((0.0, 2500.0), (0.02, 2500.0), (0.3, 2200.0), (0.6, 1500.0)):
        one = plain.at(flow, pressure).shaft_power
        assert slower.at(0.8 * flow, 0.8**2 * pressure).shaft_power == pytest.approx(0.8**3 * one, rel=1e-9)


def test_points_win_over_efficiency_and_follow_the_fan_laws():
    plain = power(made(power=POINTS, efficiency=0.5))
    assert plain.shaft_power == pytest.approx(1500.0)
    assert plain.motor_load is None
    fan = shop()["collector"]["fan"] | {"speed_ratio": 1.1}
    faster = power(made(power=POINTS, fan=fan), 1.1 * FLOW)
    assert faster.shaft_power == pytest.approx(1.1**3 * 1500.0)


def test_many_states_are_told_as_one():
    shaft = shaft_of(made(power=POINTS))
    flows = np.array([0.0, 0.2, 0.5, 0.8, 0.81])
    told = shaft.watts(flows, np.zeros(5))
    assert told[1:4] == pytest.approx([1000.0, 1500.0, 2000.0])
    assert np.isnan(told[[0, 4]]).all()
    assert [shaft.reaches(float(flow)) for flow in flows] == [False, True, True, True, False]


def test_an_overloaded_motor_is_a_danger():
    made_ready = made(power=POINTS, motor={"rated_power": "1.4 kW"})
    findings = overloaded(made_ready.request, power(made_ready), "all open")
    assert [(f.code, f.severity, f.state) for f in findings] == [("motor-overloaded", "danger", "all open")]
    assert findings[0].value == pytest.approx(1500.0 / 745.69987)
    made_ready = made(power=POINTS, motor={"rated_power": "1.5 kW"})
    assert overloaded(made_ready.request, power(made_ready)) == ()


def test_beyond_the_points_no_power_is_told():
    made_ready = made(power=POINTS)
    assert power(made_ready, 0.9) is None
    found = beyond("metric", shaft_of(made_ready), 0.9, None)
    assert (found.code, found.value, found.limit) == ("power-beyond-points", 0.9 * 3600.0, 0.8 * 3600.0)


@pytest.mark.parametrize(
    ("collector", "path"),
    [
        ({"efficiency": 1e-300}, "collector.efficiency"),
        ({"efficiency": 0.5, "motor": {"rated_power": 1e-300}}, "collector.motor.rated_power"),
    ],
)
def test_next_to_nothing_is_refused(collector, path):
    with pytest.raises(Refusal) as caught:
        shaft_of(made(**collector))
    assert caught.value.faults[0].path == path


def test_points_that_do_not_rise_are_refused():
    with pytest.raises(Refusal) as caught:
        shaft_of(made(power=POINTS[:1]))
    assert caught.value.faults[0].path == "collector.power"
