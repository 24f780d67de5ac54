"""Which computation answers which `what` of the cases of strength, make-up air and measuring."""

from airbough_service.catalogue.rooms import appliance
from airbough_service.catalogue.traverse import rule
from airbough_service.core.laws.buckling import (
    Shell,
    long_tube_pressure,
    short_tube_pressure,
)
from airbough_service.core.laws.make_up_air import opening_flow

PSI = 0.45359237 * 9.80665 / 0.0254**2
INCH = 0.0254
INCH_OF_WATER = 249.08891
PRINTED_DENSITY = 2.0 * INCH_OF_WATER / (4005 * 0.3048 / 60) ** 2  # that of V = 4005 sqrt(VP)


def shell(i):
    thickness = i["thickness_in"] * INCH
    bore = 2.0 * i["mean_radius_in"] * INCH - thickness
    return Shell(i["elastic_modulus_psi"] * PSI, i["poisson_ratio"], thickness, bore)


def classic(i):
    """The formula with its end term put back, over E (t/R)^2.5 (R/L)."""
    slender, span = i["slenderness"], i["spacing_ratio"]
    pressure = short_tube_pressure(Shell(1.0, i["poisson_ratio"], slender, 1.0 - slender), span)
    without_end = pressure * (span - 0.45 * slender**0.5) / span
    return without_end / ((2.0 * slender) ** 2.5 * 0.5 / span)


COMPUTE = {
    "long-tube": lambda i: long_tube_pressure(shell(i)) / PSI,
    "short-tube": lambda i: short_tube_pressure(shell(i), i["spacing_in"] * INCH) / PSI,
    "short-tube-classic": classic,
    "equal-area-rule": lambda i: [100.0 * share for share in rule("equal-area").fractions[i["per_diameter"]]],
    "log-tchebycheff-rule": lambda i: [100.0 * share for share in rule("log-tchebycheff").fractions[i["per_diameter"]]],
    "appliance-limit": lambda i: appliance(i["appliance"]).limit,
    "opening-ideal": lambda i: (
        opening_flow(i["area_ft2"] * 0.3048**2, 1.0, i["pressure_inH2O"] * INCH_OF_WATER, PRINTED_DENSITY)
        / (0.3048**3 / 60)
    ),
}


def computed(check):
    """Return our value of a check, in its unit."""
    return COMPUTE[check["what"]](check["inputs"])
