"""How each kind of published single value is computed by our code: `what` of a case -> function of its inputs."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final

from airbough_service import catalogue
from airbough_service.catalogue import air as constants
from airbough_service.catalogue.capture import capture
from airbough_service.catalogue.ducts import _power_law
from airbough_service.catalogue.gauges import sheet
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
from airbough_service.core.laws import capture as reach
from airbough_service.core.laws import velocity_pressure as method
from airbough_service.core.laws.junction import (
    Arm,
    BranchFactor,
    flow_ratio_coefficients,
)
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
    return catalogue.hose_slack(catalogue.duct("flexible-hose-ribbed"), i["stretch"], i.si("diameter")).multiplier


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


def branch_arms(i: Inputs) -> tuple[list[Arm], float]:
    common = i["common_diameter"]
    ratio = (i["branch_diameter"] / common) ** 2
    law = catalogue.branch_law(i["angle"], ratio, "wye")
    factor = BranchFactor(law.factor_low, law.factor_slope, law.factor_high, law.factor_step)
    straight = (common / i["straight_diameter"]) ** 2
    arms = [Arm(i["branch_flow"], 1.0 / ratio, law.cosine, factor), Arm(i["straight_flow"], straight, 1.0)]
    return arms, law.tee


def flow_ratio(which: int) -> Callable[[Inputs], float]:
    def compute(i: Inputs) -> float:
        arms, tee = branch_arms(i)
        return flow_ratio_coefficients(arms, tee)[which]

    return compute


def symmetrical(i: Inputs) -> float:
    law = catalogue.branch_law(i["angle"], i["area_ratio"], "symmetrical")
    factor = BranchFactor(law.factor_low, law.factor_slope, law.factor_high, law.factor_step)
    arms = [Arm(q, 1.0 / i["area_ratio"], law.cosine, factor) for q in (i["flow_ratio"], 1.0 - i["flow_ratio"])]
    return flow_ratio_coefficients(arms)[0]


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


def reach_of(word: str) -> Callable[[Inputs], float]:
    law = capture(word)

    def compute(i: Inputs) -> float:
        if word.endswith("opening"):
            return reach.opening_velocity(i.si("flow"), i.si("distance"), i.si("area"), law.factor, law.reach)
        return reach.slot_velocity(i.si("flow"), i.si("distance"), i.si("slot_length"), law.factor)

    return compute


def canopy(i: Inputs) -> float:
    perimeter = 2.0 * (i.si("length") + i.si("width"))
    return reach.canopy_flow(perimeter, i.si("height"), i.si("velocity"), capture("canopy").factor)


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
    return power.power_at(power.power_pieces([0.5, 1.0], [shaft, shaft], speed, density), speed)


def fan_power_by_size(i: Inputs) -> float:
    """At one speed flow goes with size^3 and pressure with size^2; power is their product at one efficiency."""
    flow, pressure, size = 2.0, i.si("power") / 2.0, i["size_ratio"]
    assert power.power_of_efficiency(flow, pressure, 1.0) == i.si("power")
    return power.power_of_efficiency(flow * size**3, pressure * size**2, 1.0)


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
    inches = method.empirical_friction(i["velocity_ft_min"] / 1000.0, i["diameter_in"], 2.74, 1.9, 1.22)
    return inches * UNITS["inH2O/100ft"][0]


def from_total_and_static(i: Inputs) -> float:
    pressure = i.si("total_pressure") - i.si("static_pressure")
    return measurement.velocity(pressure, i.printed_density()) * i.area()


def entry_of(i: Inputs) -> float:
    """Coefficient of entry from both pressures, by way of the entry loss that they imply."""
    implied = i.si("hood_static_pressure") / i.si("velocity_pressure") - 1.0
    assert method.hood_suction(i.si("velocity_pressure"), implied) == i.si("hood_static_pressure")
    return measurement.coefficient_of_entry(implied)
