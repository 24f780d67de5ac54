"""Quantities of handbook cases: inputs carry their unit in the key, answers in the field `unit`."""

from __future__ import annotations

from typing import Any, Final

from airbough_service import catalogue
from airbough_service.core.laws import friction
from airbough_service.terms.units import TABLE

FLOW, VELOCITY, PRESSURE, BORE = TABLE["flow"], TABLE["velocity"], TABLE["pressure"], TABLE["diameter"]

SUFFIXES: Final = {
    "ft3_min": FLOW["ft^3/min"], "ft3_s": (0.3048**3, 0.0), "L_s": FLOW["L/s"], "m3_s": FLOW["m^3/s"],
    "ft_min": VELOCITY["ft/min"], "m_s": VELOCITY["m/s"], "inH2O": PRESSURE["inH2O"], "Pa": PRESSURE["Pa"],
    "in": BORE["in"], "ft": BORE["ft"], "mm": BORE["mm"], "m": BORE["m"], "ft2": TABLE["area"]["ft^2"],
    "m2": TABLE["area"]["m^2"], "ft3": TABLE["volume"]["ft^3"], "kg_m3": TABLE["density"]["kg/m^3"],
    "Pa_s": TABLE["viscosity"]["Pa*s"], "ft2_s": (0.3048**2, 0.0), "degC": TABLE["temperature"]["degC"],
    "degF": TABLE["temperature"]["degF"], "K": TABLE["temperature"]["K"], "hp": TABLE["power"]["hp"],
    "kW": TABLE["power"]["kW"], "W": TABLE["power"]["W"], "L_s_m2": (1.0e-3, 0.0),
}  # fmt: skip
UNITS: Final[dict[str, tuple[float, float]]] = {
    **dict.fromkeys(("-", "ratio", "VP", "branch VP", "common VP", "share of the bore", "1/h"), (1.0, 0.0)),
    **dict.fromkeys(("1/ft", "VP/ft"), (1.0 / 0.3048, 0.0)),
    "inH2O/100ft": (249.08891 / 30.48, 0.0), "psi": (0.45359237 * 9.80665 / 0.0254**2, 0.0),
    "kPa": PRESSURE["kPa"], "Pa": PRESSURE["Pa"], "inH2O": PRESSURE["inH2O"], "1e-6 m2/s": (1.0e-6, 0.0),
    "uPa s": (1.0e-6, 0.0), "m3/h": FLOW["m^3/h"], "ft3/min": FLOW["ft^3/min"], "ft^3/min": FLOW["ft^3/min"],
    "m^3/s": FLOW["m^3/s"], "L/s": FLOW["L/s"], "m/s": VELOCITY["m/s"], "ft/min": VELOCITY["ft/min"],
    "in": BORE["in"], "mm": BORE["mm"], "degC": TABLE["temperature"]["degC"], "kg/m3": TABLE["density"]["kg/m3"],
    "kg/m^3": TABLE["density"]["kg/m^3"], "lb/ft^3": TABLE["density"]["lb/ft^3"], "hp": TABLE["power"]["hp"],
    "kW": TABLE["power"]["kW"],
}  # fmt: skip
STANDARD: Final = catalogue.standard_air()


class Inputs(dict[str, Any]):
    """The inputs of a case."""

    def si(self, name: str) -> float:
        """Return a quantity in SI by its name without the unit."""
        for suffix, (factor, offset) in SUFFIXES.items():
            if f"{name}_{suffix}" in self:
                return float(self[f"{name}_{suffix}"]) * factor + offset
        raise KeyError(name)

    def has(self, name: str) -> bool:
        """Return whether the quantity is given."""
        return any(f"{name}_{suffix}" in self for suffix in SUFFIXES)

    def density(self) -> float:
        """Return the density given, else that of standard air."""
        return self.si("density") if self.has("density") else STANDARD.density

    def printed_density(self) -> float:
        """Return the density given, else the one that a printed V = 4005 sqrt(VP) [ft/min, inH2O] stands for."""
        return self.si("density") if self.has("density") else 2.0 * 249.08891 / (4005 * 0.3048 / 60) ** 2

    def area(self) -> float:
        """Return the area given, or that of the bore."""
        return self.si("area") if self.has("area") else float(friction.area(self.si("diameter")))


def to_unit(si: float, unit: str) -> float:
    """Return an SI value in the unit of a case."""
    factor, offset = UNITS[unit]
    return (si - offset) / factor
