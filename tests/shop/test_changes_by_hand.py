"""Changes of diameter at a machine's port and between pieces of a discharge: Borda and Carnot by hand.

An abrupt widening from a to b loses (1 - (a/b)^2)^2 velocity pressures of a: White, Fluid Mechanics, 4th ed., 6.9.
"""

import math

import pytest

import airbough

CLIENT = airbough.local()
DENSITY = 1.2
ONE = {"type": "known-coefficient", "coefficient": 1.0}


def velocity_pressure(flow, diameter):
    """Of m3/h in mm, Pa."""
    return DENSITY / 2.0 * (flow / 3600.0 / (math.pi / 4.0 * (diameter / 1000.0) ** 2)) ** 2


def widening(small, wide):
    return (1.0 - (small / wide) ** 2) ** 2


def tree(port=None, discharge=None, flow=1000.0, **of_run):
    """Return one run without length, so that nothing but the change loses."""
    hood = {"flow": flow, "entry": ONE} | ({} if port is None else {"port_diameter": port})
    run = {"id": "r", "into": None, "diameter": 150, "length": 0, "roughness": 0.1, "hood": hood} | of_run
    asked = {"units": "metric", "air": {"density": DENSITY, "viscosity": 1.8e-5}, "runs": [run]}
    return asked if discharge is None else asked | {"collector": {"discharge": discharge}}


@pytest.mark.parametrize("port", [60, 100, 120, 145])
def test_a_port_narrower_than_its_run_widens_abruptly(port):
    told = CLIENT.balance(tree(port)).runs[0].total_loss
    assert told == pytest.approx(velocity_pressure(1000.0, port) * (1.0 + widening(port, 150)), rel=1e-9)


def test_a_port_of_the_runs_diameter_changes_nothing():
    assert CLIENT.balance(tree(150)).runs[0].total_loss == pytest.approx(velocity_pressure(1000.0, 150), rel=1e-12)


@pytest.mark.parametrize("wide", [160, 200, 300])
def test_pieces_of_a_discharge_of_unlike_diameter_widen_abruptly(wide):
    """Entry, two velocity pressures of a silencer in the first piece, the change, and the open end of the second."""
    pieces = [{"diameter": one, "length": 0, "roughness": 0.1} for one in (150, wide)]
    pieces[0]["fittings"] = [ONE, ONE]
    own, end = velocity_pressure(1000.0, 150), velocity_pressure(1000.0, wide)
    needed = CLIENT.balance(tree(discharge=pieces)).system.required.fan_total_pressure
    assert needed == pytest.approx(own * (1.0 + 2.0 + widening(150, wide)) + end, rel=1e-9)


def test_a_collector_loses_nothing_without_flow():
    fan = {"curve": [{"flow": 0, "pressure": 2000}, {"flow": 3000, "pressure": 500}], "rated_as": "fan-static"}
    losses = [{"name": "filter", "flow": 1000, "pressure": 300}]
    shut = tree(gate={"opening": 0.0}) | {"collector": {"fan": fan | {"includes": []}, "losses": losses}}
    told = CLIENT.operating_point(shut).system
    assert told.flow == 0.0
    assert told.collector_loss == 0.0
