"""Shaft power only where the caller says enough; the motor's load."""

import msgspec
import pytest

from airbough.wire.operating_point import OperatingPointRequest
from airbough_service.core.errors import OutsideTableError
from airbough_service.judging.power import beyond, overloaded
from airbough_service.shop.shop import build
from airbough_service.solving.power import power
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal
from site_shop import shop

FLOW, PRESSURE = 0.5, 2000.0  # m3/s, Pa
POINTS = [{"flow": "0.2 m3/s", "power": "1 kW"}, {"flow": "0.8 m3/s", "power": "2 kW"}]


def made(**collector):
    body = shop()
    body["collector"].update(collector)
    request = units.to_si(msgspec.json.decode(msgspec.json.encode(body), type=OperatingPointRequest))
    return request, build(request)


def test_nothing_said_nothing_told():
    assert power(*made(), FLOW, PRESSURE) is None
    assert power(*made(motor={"rated_power": 3}), FLOW, PRESSURE) is None
    assert power(*made(efficiency=0.5), 0.0, PRESSURE) is None


def test_efficiency_and_motor_load():
    found = power(*made(efficiency="50 %", motor={"rated_power": "4 kW"}), FLOW, PRESSURE)
    assert found.shaft_power == pytest.approx(2000.0)
    assert found.motor_load == pytest.approx(0.5)


def test_points_win_over_efficiency_and_follow_the_fan_laws():
    plain = power(*made(power=POINTS, efficiency=0.5), FLOW, PRESSURE)
    assert plain.shaft_power == pytest.approx(1500.0)
    assert plain.motor_load is None
    fan = shop()["collector"]["fan"] | {"speed_ratio": 1.1}
    faster = power(*made(power=POINTS, fan=fan), 1.1 * FLOW, PRESSURE)
    assert faster.shaft_power == pytest.approx(1.1**3 * 1500.0)


def test_an_overloaded_motor_is_a_danger():
    request, made_ready = made(power=POINTS, motor={"rated_power": "1.4 kW"})
    findings = overloaded(request, power(request, made_ready, FLOW, PRESSURE), "all open")
    assert [(f.code, f.severity, f.state) for f in findings] == [("motor-overloaded", "danger", "all open")]
    assert findings[0].value == pytest.approx(1500.0 / 745.69987)
    request, made_ready = made(power=POINTS, motor={"rated_power": "1.5 kW"})
    assert overloaded(request, power(request, made_ready, FLOW, PRESSURE)) == ()


def test_beyond_the_points_no_power_is_told():
    with pytest.raises(OutsideTableError) as caught:
        power(*made(power=POINTS), 0.9, PRESSURE)
    assert beyond("us", caught.value, None).code == "power-beyond-points"


@pytest.mark.parametrize(
    ("collector", "path"),
    [
        ({"efficiency": 1e-300}, "collector.efficiency"),
        ({"efficiency": 0.5, "motor": {"rated_power": 1e-300}}, "collector.motor.rated_power"),
    ],
)
def test_next_to_nothing_is_refused(collector, path):
    with pytest.raises(Refusal) as caught:
        power(*made(**collector), FLOW, PRESSURE)
    assert caught.value.faults[0].path == path


def test_points_that_do_not_rise_are_refused():
    with pytest.raises(Refusal) as caught:
        power(*made(power=POINTS[:1]), FLOW, PRESSURE)
    assert caught.value.faults[0].path == "collector.power"
