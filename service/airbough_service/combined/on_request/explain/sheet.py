"""The sheet on which an explanation is written: formulas in the preset's units, inputs converted, sources named."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final, TypeAlias

from airbough.wire.answer import Term
from airbough.wire.collector import CollectorLoss
from airbough.wire.quantity import Preset
from airbough.wire.tree import Resistance
from airbough_service.catalogue import Passport
from airbough_service.shop.air import air_of
from airbough_service.terms import units

Input: TypeAlias = float | tuple[str, float]
"""A plain number, or a kind of quantity and its SI value."""

_READ: Final = {"read": True, "memory": False}
_AREA: Final = repr(math.pi / 4.0)


def _root_density(preset: Preset) -> float:
    """Return the velocity whose velocity pressure is 1 at density 1, all in the preset's units."""
    pressure, density, velocity = (
        units.TABLE[kind][units.unit(kind, preset)][0] for kind in ("pressure", "density", "velocity")
    )
    return math.sqrt(2.0 * pressure / density) / velocity


FORMULAS: Final[dict[str, dict[str, str]]] = {
    "us": {
        "velocity": f"flow / ({_AREA} * (diameter / 12)^2)",
        "velocity-pressure": f"density * (velocity / {_root_density('us')!r})^2",
        "pressure-in-bore": f"density * (flow / ({_AREA} * (diameter / 12)^2) / {_root_density('us')!r})^2",
        "reynolds": "density * velocity / 60 * diameter / 12 / viscosity",
        "relative-roughness": "roughness * 12 / diameter",
        "length-over-diameter": "length * 12 / diameter",
        "outlet": f"density * (flow / ({_AREA} * (outlet_diameter / 12)^2) / {_root_density('us')!r})^2",
    },
    "metric": {
        "velocity": f"flow / 3600 / ({_AREA} * (diameter / 1000)^2)",
        "velocity-pressure": "density * velocity^2 / 2",
        "pressure-in-bore": f"density * (flow / 3600 / ({_AREA} * (diameter / 1000)^2))^2 / 2",
        "reynolds": "density * velocity * diameter / 1000 / viscosity",
        "relative-roughness": "roughness / diameter",
        "length-over-diameter": "length * 1000 / diameter",
        "outlet": f"density * (flow / 3600 / ({_AREA} * (outlet_diameter / 1000)^2))^2 / 2",
    },
}
"""Preset -> what -> formula, with the factors between the preset's own units."""


@dataclass(slots=True)
class Sheet:
    """Terms written so far.

    Attributes:
        preset: of the answer.
        density: of the tree's air, kg/m3.
        viscosity: Pa*s.
        terms: in the order in which a person would redo them.
    """

    preset: Preset
    density: float
    viscosity: float
    terms: list[Term] = field(default_factory=list)

    def write(
        self,
        term: str,
        formula: str,
        value: Input,
        run: str | None,
        at: str | None = None,
        passport: Passport | None = None,
        /,
        **inputs: Input,
    ) -> None:
        """Write one term; `formula` is arithmetic, or the name of one of the preset's own formulas."""
        kind = None if isinstance(value, float | int) else value[0]
        known = passport is not None and passport.source != ""
        self.terms.append(
            Term(
                run=run,
                term=term,
                at=at,
                formula=FORMULAS[self.preset].get(formula, formula),
                inputs={name: self._turned(one) for name, one in inputs.items()},
                value=self._turned(value),
                unit="" if kind is None else units.unit(kind, self.preset),
                source=passport.source if passport is not None and known else None,
                place=passport.place if passport is not None and known else None,
                read=_READ.get(passport.how) if passport is not None and known else None,
            )
        )

    def _turned(self, number: Input) -> float:
        """Return an input in the preset's unit."""
        if isinstance(number, float | int):
            return float(number)
        return float(units.value(number[0], number[1], self.preset))

    def per_flow(self, pressure: float, power: int) -> float:
        """Return pressure per flow^power, given in SI, in the preset's units."""
        flow = units.TABLE["flow"][units.unit("flow", self.preset)][0]
        return pressure * flow**power / units.TABLE["pressure"][units.unit("pressure", self.preset)][0]

    def pressure_in_bore(self, flow: float, bore: float, value: float, run: str | None, at: str | None) -> None:
        """Write the velocity pressure in a bore that is not the run's own."""
        self.write(
            "velocity-pressure", "pressure-in-bore", ("pressure", value), run, at,
            density=("density", self.density), flow=("flow", flow), diameter=("diameter", bore),
        )  # fmt: skip

    def rated_loss(
        self, term: str, one: CollectorLoss | Resistance, solved: tuple[float, float], run: str | None, at: str
    ) -> None:
        """Write a loss that is rated at a flow and in an air; `solved` is its pressure, Pa, and the flow, m3/s."""
        rated, (value, flow) = air_of(one.rated_air, "")[0], solved
        self.write(
            term,
            "pressure * (flow / rated_flow)^exponent"
            " * (density / rated_density)^(exponent - 1) * (viscosity / rated_viscosity)^(2 - exponent)",
            ("pressure", value), run, at,
            pressure=("pressure", float(one.pressure)), flow=("flow", flow), rated_flow=("flow", float(one.flow)),
            exponent=one.exponent, density=("density", self.density), rated_density=("density", float(rated.density)),
            viscosity=("viscosity", self.viscosity), rated_viscosity=("viscosity", float(rated.viscosity)),
        )  # fmt: skip
