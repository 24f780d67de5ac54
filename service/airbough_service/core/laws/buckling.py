"""Collapse of a thin round duct under suction: elastic buckling of a cylinder under outside pressure; SI units."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Shell:
    """The wall of a round duct.

    Attributes:
        elastic_modulus: of the wall's material [Pa].
        poisson_ratio: of the wall's material.
        thickness: of the wall [m].
        bore: inside diameter [m].
    """

    elastic_modulus: float
    poisson_ratio: float
    thickness: float
    bore: float

    @property
    def slenderness(self) -> float:
        """Wall thickness over the mean diameter."""
        return self.thickness / (self.bore + self.thickness)


def long_tube_pressure(shell: Shell) -> float:
    """Buckling pressure of a long unstiffened tube: p = 2 E / (1 - nu^2) (t / D)^3 [Pa].

    References:
        Bresse; Roark's Formulas for Stress and Strain, elastic stability table, long thin tube under lateral pressure.
    """
    stiffness = 2.0 * shell.elastic_modulus / (1.0 - shell.poisson_ratio**2)
    return stiffness * shell.slenderness**3


def short_tube_pressure(shell: Shell, spacing: float) -> float:
    """Buckling pressure between rings: p = 2.42 E / (1 - nu^2)^0.75 (t/D)^2.5 / (L/D - 0.45 (t/D)^0.5) [Pa].

    Args:
        shell: the wall.
        spacing: distance between rings that keep the duct round [m]; infinite pressure where the formula has no value.

    References:
        Windenburg and Trilling, Trans. ASME 56 (1934), from von Mises' solution.
    """
    diameter, slender = shell.bore + shell.thickness, shell.slenderness
    span = spacing / diameter - 0.45 * math.sqrt(slender)
    if span <= 0.0:
        return math.inf
    return 2.42 * shell.elastic_modulus / (1.0 - shell.poisson_ratio**2) ** 0.75 * slender**2.5 / span


def buckling_pressure(shell: Shell, spacing: float | None = None) -> float:
    """Outside pressure at which an ideally round duct buckles [Pa]; the greater of the two laws, as they cross once.

    Args:
        shell: the wall.
        spacing: distance between stiffening rings [m]; None: an unstiffened long tube.
    """
    long = long_tube_pressure(shell)
    return long if spacing is None else max(long, short_tube_pressure(shell, spacing))


def greatest_spacing(shell: Shell, pressure: float) -> float | None:
    """Ring spacing at which the buckling pressure equals `pressure` [m]; None where no rings are needed."""
    if long_tube_pressure(shell) >= pressure:
        return None
    diameter, slender = shell.bore + shell.thickness, shell.slenderness
    numerator = 2.42 * shell.elastic_modulus / (1.0 - shell.poisson_ratio**2) ** 0.75 * slender**2.5
    return diameter * (numerator / pressure + 0.45 * math.sqrt(slender))
