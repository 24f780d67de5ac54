"""Which computation answers which `what` of the cases of single values; every one is asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from airbough_service import catalogue
from airbough_service.core.laws import (
    make_up_air,
    measurement,
    transport,
)
from handbook.case_units import Inputs, to_unit
from handbook.single_values import (
    chart_friction,
    corrected_flow,
    dry_at_altitude,
    entry_of,
    exhaust_flow,
    fan_power,
    fan_power_by_size,
    fan_static,
    fan_total,
    fanning,
    fitting,
    flow_ratio,
    friction_loss,
    from_total_and_static,
    gauge,
    hood_flow,
    hood_suction,
    hose_multiplier,
    kinematic,
    leak,
    leak_by_coefficient,
    moist,
    power_law_against_colebrook,
    power_law_loss,
    power_law_per_length,
    pressure_of,
    relative_density,
    resultant,
    scaled,
    square_duct_factor,
    static_pressure,
    symmetrical,
    total_at_inlet,
    traverse_depth,
    traverse_mean,
    traverse_points,
    viscosity,
    wright,
)

COMPUTE: Final[dict[str, Callable[[Inputs], Any]]] = {
    **{
        word: fitting(word)
        for word in (
            "elbow", "taper", "abrupt-change", "plain-opening", "flanged-opening", "bellmouth", "wheel-hood-straight",
            "wheel-hood-tapered", "sharp-orifice", "slide-gate",
        )
    },
    "entry-angle": lambda i: catalogue.entry_factor(i["angle"]).coefficient,
    "flow-ratio-branch": flow_ratio(0),
    "flow-ratio-straight": flow_ratio(1),
    "symmetrical-wye": symmetrical,
    "standard-atmosphere": lambda i: catalogue.standard_pressure(i.si("altitude")),
    "air-density": moist,
    "air-viscosity": viscosity,
    "air-kinematic-viscosity": kinematic,
    "relative-density-at-fixed-temperature": relative_density,
    "density relative to sea level at the same temperature": relative_density,
    "density of dry air at 70 degF by altitude": dry_at_altitude,
    "velocity-pressure": lambda i: pressure_of(i.si("velocity"), i.si("density")),
    "velocity pressure from velocity": lambda i: pressure_of(i.si("velocity"), i.printed_density()),
    "velocity pressure from velocity, V = 1.29 sqrt(VP)": lambda i: pressure_of(i.si("velocity"), 2.0 / 1.29**2),
    "velocity pressure from flow and diameter": lambda i: pressure_of(
        transport.velocity_in(i.si("flow"), i.si("diameter")), i.printed_density()
    ),
    "velocity from velocity pressure, V = 4005 sqrt(VP)": lambda i: measurement.velocity(
        i.si("velocity_pressure"), i.printed_density()
    ),
    "velocity through an opening by V = 4005 sqrt(dp), no discharge coefficient": lambda i: make_up_air.opening_flow(
        1.0, 1.0, i.si("pressure"), i.printed_density()
    ),
    "velocity from flow and diameter": lambda i: transport.velocity_in(i.si("flow"), i.si("diameter")),
    "velocity after a change of diameter, same flow": lambda i: transport.velocity_in(
        transport.flow_at(i.si("velocity"), i.si("diameter")), i.si("new_diameter")
    ),
    "flow-from-velocity": lambda i: transport.flow_at(i.si("velocity"), i.si("diameter")),
    "flow from total and static pressure": from_total_and_static,
    "static pressure from total and velocity pressure": static_pressure,
    "total pressure from static and velocity pressure": total_at_inlet,
    "hood-static-pressure": lambda i: hood_suction(i.si("velocity_pressure"), i["entry_coefficient"]),
    "hood static pressure = (1 + F) VP": lambda i: hood_suction(i.si("velocity_pressure"), i["entry_factor"]),
    "hood static pressure from velocity pressure and coefficient of entry": lambda i: hood_suction(
        i.si("velocity_pressure"), measurement.entry_coefficient(i["coefficient_of_entry"])
    ),
    "coefficient of entry = sqrt(VP/SPh)": entry_of,
    "flow from hood static pressure": hood_flow,
    "flow from hood static pressure at density factor 0.95": hood_flow,
    "exhaust-flow": exhaust_flow,
    "transport-velocity": lambda i: catalogue.dust(i["dust"]).transport_velocity,
    "roughness": lambda i: catalogue.duct(i["duct"]).roughness,
    "resultant velocity pressure of two merging streams": resultant,
    "flow correction by the square root of the pressure ratio": corrected_flow,
    "friction-loss": friction_loss,
    "friction-loss-at-velocity": friction_loss,
    "friction of round galvanized duct at standard air, read from a chart; Colebrook with 0.0005 ft roughness": (
        chart_friction
    ),
    "hose-friction-multiplier": hose_multiplier,
    "hose-friction-loss": lambda i: hose_multiplier(i) * friction_loss(i),
    "friction-velocity-pressures-per-foot": power_law_per_length,
    "friction in velocity pressures per foot, galvanized, 0.0307 V^0.533 / Q^0.612": power_law_per_length,
    "friction of a straight length in velocity pressures": lambda i: power_law_per_length(i) * i.si("length"),
    "friction loss of a straight length, galvanized": power_law_loss,
    "friction-factor-from-power-law": power_law_against_colebrook,
    "loss of the discharge piece: 10 ft and one elbow of 0.13": lambda i: (
        catalogue.fitting_loss("known-coefficient", {"coefficient": i["coefficient"]}, 0.2).coefficient
        * i.si("velocity_pressure")
    ),
    "friction by h = 2.74 (V/1000)^1.9 / D^1.22": wright,
    "friction factor, square duct by effective diameter 64/56.91 Dh": square_duct_factor,
    "pressure drop with a Fanning factor (Darcy = 4 times it)": fanning,
    "fan law: flow in proportion to speed": lambda i: float(scaled(i)[0, 1]),
    "fan law: pressure with the square of speed": lambda i: float(scaled(i)[0, 2]),
    "fan law: power with the cube of speed": fan_power,
    "fan law: power in proportion to density, 20 to 40 degC": fan_power,
    "fan law: power with the fifth power of size": fan_power_by_size,
    "fan static pressure = SP out - SP in - VP in": fan_static,
    "fan total pressure = TP out - TP in": fan_total,
    "gauge-nominal": gauge("nominal"),
    "gauge-minimum": gauge("minimum"),
    "leakage": leak,
    "leakage-coefficient": leak_by_coefficient,
    "traverse-points": traverse_points,
    "traverse-depth": traverse_depth,
    "third of ten points on a diameter, equal areas": traverse_depth,
    "traverse-mean": traverse_mean,
    "air changes per hour": lambda i: make_up_air.air_changes(i.si("flow"), i.si("volume")),
}  # fmt: skip


def computed(check: dict[str, Any]) -> Any:
    """Return our value of a check, in its unit; a list where the check has several."""
    value = COMPUTE[check["what"]](Inputs(check["inputs"]))
    if isinstance(value, list):
        return [to_unit(one, check["unit"]) for one in value]
    return to_unit(value, check["unit"])
