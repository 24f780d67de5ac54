"""How each kind of published single value is computed by our code: `what` of a case -> function of its inputs."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pytest

from airbough_service import catalogue
from airbough_service.catalogue import air as constants
from airbough_service.catalogue.ducts import _power_law
from airbough_service.catalogue.gauges import sheet
from airbough_service.catalogue.power import power_shape
from airbough_service.catalogue.reading import read
from airbough_service.catalogue.traverse import rule
from airbough_service.core.laws import (
    air,
    fan,
    friction,
    leakage,
    measurement,
    power,
    transport,
)
from airbough_service.core.laws.curve import curve_at
from airbough_service.core.network import columns
from airbough_service.core.network.coefficients import flow_ratio_coefficients
from airbough_service.core.network.governing import Limits, Way, balance
from airbough_service.core.network.junction import junction_losses
from airbough_service.core.network.losses import Losses, losses
from airbough_service.core.network.operating import flows_at, operate
from airbough_service.core.network.tree import Arm, Run, Tree, dynamic, pack
from handbook.case_units import STANDARD, UNITS, Inputs

GALVANIZED: Final = "spiral-galvanized"


def pressure_of(velocity: float, density: float) -> float:
    return float(friction.velocity_pressure(velocity, density))


def fitting(type_: str) -> Callable[[Inputs], float]:
    def compute(i: Inputs) -> float:
        given = dict(i)
        bore = given.pop("diameter", math.nan)
        return catalogue.fitting_loss(type_, given, bore).coefficient

    return compute


def moist(i: Inputs) -> float:
    return catalogue.moist_air(i.si("temperature"), i.si("pressure"), i["humidity"]).density


def viscosity(i: Inputs) -> float:
    return float(air.viscosity(i.si("temperature"), constants.sutherland()))


def kinematic(i: Inputs) -> float:
    dry = catalogue.moist_air(i.si("temperature"), i.si("pressure"), 0.0)
    return dry.viscosity / dry.density


def dry_at_altitude(i: Inputs) -> float:
    return catalogue.moist_air(i.si("temperature"), catalogue.standard_pressure(i.si("altitude")), 0.0).density


def relative_density(i: Inputs) -> float:
    return catalogue.standard_pressure(i.si("altitude")) / catalogue.standard_pressure(0.0)


def friction_loss(i: Inputs) -> float:
    density = i.density()
    viscous = i.si("viscosity") if i.has("viscosity") else STANDARD.viscosity
    bore = i.si("diameter")
    flow = i.si("flow") if i.has("flow") else transport.flow_at(i.si("velocity"), bore)
    return float(friction.friction_loss(flow, bore, i.si("length"), i.si("roughness"), density, viscous))


def chart_friction(i: Inputs) -> float:
    return friction_loss(Inputs(i | {"length_m": 1.0}))


def hose_multiplier(i: Inputs) -> float:
    return catalogue.hose_slack(catalogue.duct("flexible-duct"), i["stretch"], i.si("diameter")).multiplier


def power_law(i: Inputs) -> friction.PowerLaw:
    law = _power_law(i) if "a" in i else catalogue.duct(GALVANIZED).power_law
    assert law is not None
    return law


def power_law_per_length(i: Inputs) -> float:
    """Velocity pressures lost in a metre; the printed velocity counts where a rounded area was used."""
    velocity = i.si("velocity")
    law = power_law(i)
    flow = i.si("flow") if i.has("flow") else transport.flow_at(velocity, i.si("diameter"))
    bore = math.sqrt(4.0 * flow / (math.pi * velocity))
    return friction.power_law_loss(flow, bore, 1.0, law, 1.2) / pressure_of(velocity, 1.2)


def power_law_loss(i: Inputs) -> float:
    return friction.power_law_loss(i.si("flow"), i.si("diameter"), i.si("length"), power_law(i), i.density())


def power_law_against_colebrook(i: Inputs) -> float:
    bore = i.si("diameter")
    flow = transport.flow_at(i.si("velocity"), bore)
    straight = friction.friction_loss(flow, bore, 1.0, i.si("roughness"), STANDARD.density, STANDARD.viscosity)
    return friction.power_law_loss(flow, bore, 1.0, power_law(i), STANDARD.density) / float(straight)


def branch_of(law: catalogue.BranchLaw, ratio: float) -> Arm:
    return Arm(
        is_branch=True,
        cosine=law.cosine,
        area_ratio=1.0 / ratio,
        factor=law.factor,
        lift=law.lift,
        linear=law.linear,
        drag=law.drag,
        constants=law.constants,
    )


def flow_ratio(which: int) -> Callable[[Inputs], float]:
    def compute(i: Inputs) -> float:
        common = i["common_diameter"]
        ratio = (i["branch_diameter"] / common) ** 2
        assert i["straight_diameter"] == common
        law = catalogue.branch_law(i["angle"], ratio, "wye", i.get("edition", "flow-ratio"))
        straight = Arm(constants=law.constants)
        flows = np.array([i["branch_flow"], i["straight_flow"]])
        return flow_ratio_coefficients([branch_of(law, ratio), straight], list(flows / flows.sum()))[which]

    return compute


def symmetrical(i: Inputs) -> float:
    branch = branch_of(catalogue.branch_law(i["angle"], i["area_ratio"], "symmetrical"), i["area_ratio"])
    return flow_ratio_coefficients([branch, branch], [i["flow_ratio"], 1.0 - i["flow_ratio"]])[0]


def gauge(which: str) -> Callable[[Inputs], float]:
    def compute(i: Inputs) -> float:
        found = sheet(f"{i['sheet']}-steel", i["gauge"])
        assert found is not None
        return float(getattr(found, which))

    return compute


def leak(i: Inputs) -> float:
    law = read("leakage")["law"]
    coefficient = leakage.leak_coefficient(
        i["leakage_class"], law["coefficient_of_class_one"], i.si("area") / math.pi, 1.0
    )
    return leakage.leak_flow(coefficient, i.si("pressure"), law["exponent"])


def leak_by_coefficient(i: Inputs) -> float:
    area = i.si("area")
    coefficient = leakage.leak_coefficient(1.0, i.si("coefficient"), area / math.pi, 1.0)
    return leakage.leak_flow(coefficient, i.si("pressure"), read("leakage")["law"]["exponent"])


def traverse_points(i: Inputs) -> list[float]:
    return list(rule(i["rule"]).fractions[i["per_diameter"]])


def traverse_depth(i: Inputs) -> float:
    fractions = rule(i.get("rule", "equal-area")).fractions[i.get("per_diameter", i.get("points"))]
    return fractions[i["point"] - 1] * i.si("diameter")


def traverse_mean(i: Inputs) -> float:
    velocities = [measurement.velocity(vp, i.density()) for vp in i["velocity_pressures_Pa"]]
    return measurement.traverse([velocities], 0.1).mean_velocity


def exhaust_flow(i: Inputs) -> float:
    (name,) = (key for key in i if key != "machine")
    parameter, _, _ = name.rpartition("_")
    sizes = catalogue.machine(i["machine"]).sizes
    assert {size.parameter for size in sizes} == {parameter}
    return next(size.flow for size in sizes if size.maximum is None or i.si(parameter) <= size.maximum * 1.000001)


def hood_flow(i: Inputs) -> float:
    entry = measurement.entry_coefficient(i["coefficient_of_entry"])
    pressure = measurement.hood_velocity_pressure(i.si("hood_static_pressure"), entry)
    density = i.printed_density() * i.get("density_factor", 1.0)
    return measurement.velocity(pressure, density) * i.area()


def one_run(velocity_pressure: float, loss: float) -> Tree:
    """Return a run with this velocity pressure and entry loss, Pa, at a flow of 1."""
    run = Run(parent=-1, start=0.2, end=0.2, length=0.0, roughness=0.0, entry=loss)
    return pack([run], velocity_pressure / dynamic(1.0, 0.2), STANDARD.viscosity, columns.MEET)


def told(tree: Tree, at_fan: float) -> Losses:
    return losses(tree, tree.gate, np.ones(tree.gate.size), at_fan)


def hood_suction(velocity_pressure: float, entry: float) -> float:
    loss = entry * velocity_pressure
    return -float(told(one_run(velocity_pressure, loss), loss).at_hood[0])


def static_pressure(i: Inputs) -> float:
    """Static pressure at the end of a run, where the fan brings about the total pressure given."""
    return float(told(one_run(i.si("velocity_pressure"), 0.0), -i.si("total_pressure")).static_pressure[0])


def total_at_inlet(i: Inputs) -> float:
    """Total pressure that a fan rated by its inlet's static pressure brings about."""
    suction = -i.si("static_pressure")
    flat = fan.curve_pieces([0.0, 2.0], [suction, suction], True)
    return -fan.Fan(flat, np.zeros((0, 2)), i.si("velocity_pressure")).left_for_tree(1.0)


def ducts(before: float, after: float) -> Tree:
    """Return a duct before and one after the fan with these losses at a flow of 1, Pa."""
    pipe = {"start": 0.2, "end": 0.2, "length": 0.0, "roughness": 0.0}
    return pack(
        [Run(parent=-1, fittings=after, **pipe), Run(parent=0, entry=before, **pipe)], 1.2, 1.8e-5, columns.MEET
    )


def fan_static(i: Inputs) -> float:
    """What the engine says that the system needs of a fan whose curve ends at the flow of the readings."""
    at_outlet = 100.0  # velocity pressure there, Pa: any will do, as the discharge receives what it carries
    tree = ducts(-(i.si("static_in") + i.si("velocity_pressure_in")), i.si("static_out") + at_outlet)
    strong = fan.curve_pieces([0.0, 1.0], [1.0e5, 1.0e5], True)
    found = operate(tree, fan.Fan(strong, np.zeros((0, 2)), 0.0, at_outlet), tree.gate)
    assert found.flow_at_least == 1.0
    assert found.pressure_needed is not None
    return found.pressure_needed


def fan_total(i: Inputs) -> float:
    tree = ducts(-i.si("total_in"), i.si("total_out"))
    return flows_at(tree, tree.gate, 1.0)[1]


def resultant(i: Inputs) -> float:
    """What an arm without an entry factor gets back, where the streams are to be sped up beyond it."""
    flows = np.array([i.si("flow_1"), i.si("flow_2")])
    pressures = np.array([i.si("velocity_pressure_1"), i.si("velocity_pressure_2")])
    runs = [Run(parent=parent, start=0.1, end=0.1, length=0.0, roughness=0.0) for parent in (-1, 0, 0)]
    table = pack(runs, 1.2, 1.8e-5, columns.ENTRY)
    table.table[1:, columns.VP_END] = pressures / flows**2
    table.table[0, columns.VP_START] = 2.0 * pressures.max() / flows.sum() ** 2
    lost = junction_losses(table.table, table.links, np.array([flows.sum(), *flows]))
    return float(pressures[0] - lost[1])


def corrected_flow(i: Inputs) -> float:
    """Flow of the weaker of two branches, balanced by flow as the manuals print it."""
    flow, other = i.si("flow"), 0.5
    needs = i.si("static_pressure") / flow**2, i.si("governing_static_pressure") / other**2
    pipe = {"start": 0.2, "end": 0.2, "length": 0.0, "roughness": 0.0}
    runs = [Run(parent=-1, **pipe), *(Run(parent=0, entry=need, **pipe) for need in needs)]
    tree = pack(runs, 1.2, 1.8e-5, columns.MEET)
    design = np.array([0.0, flow, other])
    return float(balance(tree, tree.gate, design, Way("flow", "square-root", Limits(1.05, 100.0))).flow[1])


def scaled(i: Inputs) -> Any:
    """Return a fan curve through the point given, at the new speed."""
    flow = i.si("flow") if i.has("flow") else 1.0
    pressure = i.si("pressure") if i.has("pressure") else 1.0
    pieces = fan.curve_pieces([0.0, flow], [pressure, pressure], True)
    return fan.scale(pieces, i["new_speed_rpm"] / i["speed_rpm"], 1.0)


def fan_power(i: Inputs) -> float:
    speed = i["new_speed_rpm"] / i["speed_rpm"] if "speed_rpm" in i else 1.0
    density = i.si("temperature") / i.si("new_temperature") if i.has("temperature") else 1.0
    shaft = i.si("power")
    pieces = power.power_pieces([0.5, 1.0], [shaft, shaft], speed, density)
    return float(curve_at(pieces, speed)[0])


def fan_power_by_size(i: Inputs) -> float:
    """At one speed flow goes with size^3 and pressure with size^2; power is their product at one efficiency."""
    flow, pressure, size = 2.0, i.si("power") / 2.0, i["size_ratio"]
    assert at_best_point(flow, pressure) == pytest.approx(i.si("power"), rel=1e-12)
    return at_best_point(flow * size**3, pressure * size**2)


def at_best_point(flow: float, pressure: float) -> float:
    """Return the shaft power of a fan of efficiency 1 at its best point."""
    best, shape = power.BestPoint(flow, pressure), power_shape().shape
    return float(power.power_of_efficiency(np.array([flow]), np.array([pressure]), 1.0, best, shape)[0])


def square_duct_factor(i: Inputs) -> float:
    side = i.si("side")
    hydraulic = side  # 4 area / perimeter of a square
    effective = 64.0 / 56.91 * hydraulic
    reynolds = i.si("flow") / side**2 * effective / i.si("kinematic_viscosity")
    return float(friction.friction_factor(reynolds, i.si("roughness") / effective))


def fanning(i: Inputs) -> float:
    velocity = transport.velocity_in(i.si("flow"), i.si("diameter"))
    darcy = 4.0 * i["fanning_factor"]
    return darcy * i.si("length") / i.si("diameter") * pressure_of(velocity, i.si("density"))


def wright(i: Inputs) -> float:
    """2.74 (V/1000)^1.9 / D^1.22 in inH2O on 100 ft, V in ft/min and D in inches, as a law of velocity and flow."""
    velocity, bore = i.si("velocity"), i.si("diameter")
    in_si = 2.74 * UNITS["inH2O/100ft"][0] * (60.0 / 0.3048 / 1000.0) ** 1.9 * 0.0254**1.22
    by_flow = 0.5 * 1.22  # D^2 goes with Q / V
    law = friction.PowerLaw(in_si / 0.6 * (math.pi / 4.0) ** by_flow, 1.9 + by_flow - 2.0, by_flow)
    return friction.power_law_loss(transport.flow_at(velocity, bore), bore, 1.0, law, 1.2)


def from_total_and_static(i: Inputs) -> float:
    pressure = i.si("total_pressure") - i.si("static_pressure")
    return measurement.velocity(pressure, i.printed_density()) * i.area()


def entry_of(i: Inputs) -> float:
    """Coefficient of entry from both pressures, by way of the entry loss that they imply."""
    implied = i.si("hood_static_pressure") / i.si("velocity_pressure") - 1.0
    found = measurement.hood_velocity_pressure(i.si("hood_static_pressure"), implied)
    assert math.isclose(found, i.si("velocity_pressure"))
    return measurement.coefficient_of_entry(implied)
