"""Shaft power only where the caller says enough; the motor's load."""

import msgspec
import numpy as np
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.judging.power import beyond, overloaded
from airbough_service.shop.shop import build
from airbough_service.solving.power import shaft_of
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


def static(made_ready, pressure=PRESSURE, flow=FLOW):
    """Return the fan static pressure at which the fan total pressure is `pressure`."""
    return pressure - shaft_of(made_ready).outlet * flow * flow


def power(made_ready, flow=FLOW):
    """Return the power at this flow and at a fan total pressure of PRESSURE."""
    return shaft_of(made_ready).at(flow, static(made_ready, flow=flow))


def test_nothing_said_nothing_told():
    assert shaft_of(made()) is None
    assert shaft_of(made(motor={"rated_power": 3})) is None
    assert power(made(efficiency=0.5), 0.0) is None


def test_efficiency_and_motor_load():
    found = power(made(efficiency="50 %", motor={"rated_power": "4 kW"}))
    assert found.shaft_power == pytest.approx(2000.0)
    assert found.motor_load == pytest.approx(0.5)


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
