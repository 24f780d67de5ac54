"""What the step from the fan's outlet to the discharge duct costs.

Into a narrower duct: sudden contraction (Idelchik 3rd ed., diagram 4-9: 0.5 (1 - area ratio)^0.75, from memory). Into a
wider one the static pressure that a step regains is not counted: a discharge never gives pressure back (contract).
"""

import copy
import math

import pytest

from airbough_service import catalogue
from site_shop import SHOP, ask

INCH, INH2O = 0.0254, 249.08891


def discharged(outlet, **more):
    """Return the shop with a discharge duct of 8 in, 10 ft, open at its end."""
    body = copy.deepcopy(SHOP) | more
    body["collector"]["fan"]["outlet_diameter"] = outlet
    body["collector"]["discharge"] = [{"diameter": 8, "length": 10, "duct": "spiral-galvanized"}]
    return body


def velocity_pressure(flow, bore):
    """Return the velocity pressure of standard air at this flow, ft3/min, in this bore, in; inH2O."""
    speed = flow * 0.3048**3 / 60.0 / (math.pi / 4.0 * (bore * INCH) ** 2)
    return 0.6 * speed**2 / INH2O


def test_a_discharge_never_gives_pressure_back():
    for outlet in (8.0, 7.0, 6.0, 5.0, 4.0):
        answer = ask("operating-point", discharged(outlet))
        assert answer.system.discharge_loss > 0.0
        assert answer.system.flow == pytest.approx(ask("operating-point", discharged(8.0)).system.flow, rel=1e-9)


def test_into_a_narrower_duct_the_step_is_charged():
    for outlet in (9.0, 10.0):
        wide, own = ask("balance", discharged(outlet)), ask("balance", discharged(8.0))
        flow, ratio = own.system.flow, (8.0 / outlet) ** 2
        step = 0.5 * (1.0 - ratio) ** 0.75 * velocity_pressure(flow, 8.0)
        less_arrives = velocity_pressure(flow, 8.0) - velocity_pressure(flow, outlet)
        difference = wide.system.required.fan_static_pressure - own.system.required.fan_static_pressure
        # The catalogue's table of sudden contractions lies below that formula; a step is charged, and no more than it.
        assert less_arrives + 0.25 * step < difference < less_arrives + step


def test_the_explanation_tells_the_step():
    for outlet in (6.0, 10.0):
        answer = ask("operating-point", discharged(outlet, explain=True))
        terms = {term.term: term.value for term in answer.explanation}
        assert terms["outlet-change"] > 0.0


@pytest.mark.parametrize("outlet", [8.0, 6.0])
def test_a_discharge_loses_its_friction_at_the_whole_flow(outlet):
    """By hand: what leaves its open end is the velocity pressure that the fan's rating leaves out; friction is left."""
    answer = ask("operating-point", discharged(outlet))
    alone = {"units": "us", "flow": answer.system.flow, "diameter": 8, "length": 10, "duct": "spiral-galvanized"}
    assert answer.system.flow > max(hood.flow for hood in answer.hoods)
    assert answer.system.discharge_loss == pytest.approx(ask("friction-loss", alone).friction_loss, rel=1e-6)


def test_without_a_discharge_none_is_charged():
    system = ask("balance", SHOP).system
    assert system.discharge_loss == 0.0
    assert system.required.fan_total_pressure == pytest.approx(
        -system.inlet_static_pressure + system.collector_loss, rel=1e-9
    )


def test_a_discharge_of_the_outlets_own_diameter_asks_for_its_friction_and_no_more():
    """By hand: its open end loses the velocity pressure that arrives from the outlet; friction is left."""
    with_it, without = ask("balance", discharged(8.0)).system, ask("balance", SHOP).system
    alone = {"units": "us", "flow": with_it.flow, "diameter": 8, "length": 10, "duct": "spiral-galvanized"}
    more = with_it.required.fan_static_pressure - without.required.fan_static_pressure
    assert more == pytest.approx(ask("friction-loss", alone).friction_loss, rel=1e-6)


@pytest.mark.parametrize("outlet", [8.0, 6.0])
def test_total_pressure_at_the_inlet_is_static_and_velocity_pressure_there_whatever_follows_the_fan(outlet):
    system = ask("balance", discharged(outlet)).system
    (last,) = [run for run in SHOP["runs"] if run["into"] is None]
    dynamic = velocity_pressure(system.flow, last["diameter"])
    assert system.inlet_total_pressure == pytest.approx(system.inlet_static_pressure + dynamic, rel=1e-6)
    bare = ask("balance", SHOP).system
    assert system.inlet_total_pressure == pytest.approx(bare.inlet_total_pressure, rel=1e-9)


def test_a_step_at_the_outlet_is_told_among_the_sources():
    """An answer names the source of every number that it rests on (contract): the step's, where there is one."""
    told = {outlet: {source.id for source in ask("operating-point", discharged(outlet)).sources}
            for outlet in (8.0, 6.0)}  # fmt: skip
    step = catalogue.fitting_loss("abrupt-change", {"upstream_diameter": 0.15, "downstream_diameter": 0.2}, 0.15)
    assert told[6.0] - told[8.0] == {step.passport.source}


@pytest.mark.parametrize("outlet", [10.0, 8.0, 6.0])
@pytest.mark.parametrize("rated", ["fan-static", "fan-total", "inlet-static"])
def test_a_fan_that_has_what_balance_asks_of_its_curve_gives_the_design_flow(outlet, rated):
    """What is required is the duty to ask a seller for (contract): with it, what was designed flows."""
    hood = {"flow": 500, "entry": {"type": "plain-opening"}}
    run = {"id": "a", "into": None, "diameter": 6, "length": 20, "duct": "spiral-galvanized", "hood": hood}
    fan = {"curve": [{"flow": 0, "pressure": 9}, {"flow": 900, "pressure": 1}], "rated_as": rated,
           "outlet_diameter": outlet, "interpolation": "linear"}  # fmt: skip
    if rated == "inlet-static":
        fan |= {"inlet_diameter": 7}
    discharge = [{"diameter": 8, "length": 10, "duct": "spiral-galvanized"}]
    body = {"units": "us", "runs": [run], "collector": {"fan": fan, "discharge": discharge}}
    required = ask("balance", body).system.required
    pressure = required.of_curve.rated_pressure
    fan["curve"] = [{"flow": 0, "pressure": 2 * pressure}, {"flow": 500, "pressure": pressure},
                    {"flow": 1000, "pressure": 0}]  # fmt: skip
    assert ask("operating-point", body).system.flow == pytest.approx(500, rel=1e-9)
