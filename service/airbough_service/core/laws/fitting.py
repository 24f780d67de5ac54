"""The laws of fittings and entries: one function each; tables and constants are handed in by the catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.table import Table

_MOST_STEPS = 80  # of Newton's; a blade that is all but open takes one for each third of what is left


def included_angle(upstream: float, downstream: float, length: float) -> float:
    """Return the full angle of a cone between two bores [deg]; 180 where it has no length."""
    return 2.0 * math.degrees(math.atan2(abs(upstream - downstream) / 2.0, length))


def area_ratio(upstream: float, downstream: float) -> float:
    """Return the smaller bore's area over the larger's."""
    return (min(upstream, downstream) / max(upstream, downstream)) ** 2


def elbow_coefficient(at_right_angle: float, angle: float, multiplier: Table) -> float:
    """Coefficient of a turn: that of the right angle times the share for this angle [deg]."""
    return at_right_angle * multiplier.at(angle)


def elbow_pair_coefficient(each: float, interaction: float) -> float:
    """Coefficient of two equal elbows: their sum times the factor for what they do to one another."""
    return 2.0 * each * interaction


def expansion_coefficient(ratio: float, exponent: float) -> float:
    """Sudden expansion, on the smaller bore's velocity pressure: (1 - n)^exponent, n the ratio of areas."""
    return (1.0 - ratio) ** exponent


def taper_coefficient(cone: Table, abrupt: float, ratio: float, angle: float) -> float:
    """Coefficient of a cone on the smaller bore's velocity pressure, running into the abrupt change at 180 deg.

    Args:
        cone: coefficient over (area_ratio, included_angle); its last column, at 180 deg, gives way to `abrupt`.
        abrupt: coefficient of the abrupt change between the same bores.
        ratio: smaller area over larger.
        angle: full angle of the cone [deg].
    """
    steepest = cone.axes[1].values[-2]
    if angle <= steepest:
        return cone.at(ratio, angle)
    share = (angle - steepest) / (180.0 - steepest)
    return (1.0 - share) * cone.at(ratio, steepest) + share * abrupt


def contraction_coefficient(cone: Table, abrupt: float, ratio: float, angle: float) -> float:
    """Coefficient of a narrowing cone, arguments as `taper_coefficient`; never more than that of no cone at all.

    The cone's table is linear in the ratio of areas from 0.5 to 1 where the abrupt change's falls faster, so that it
    would let a short cone lose more than a step.
    """
    return min(taper_coefficient(cone, abrupt, ratio, angle), abrupt)


def blade_share(travel: float) -> float:
    """Open share of a round bore's area behind a blade with the bore's own edge.

    1 - (2/pi)(acos x - x sqrt(1 - x^2)), x the travel from shut over the diameter: the bore less its overlap with a
    circle of the same size moved by x diameters; geometry.
    """
    return 1.0 - 2.0 / math.pi * (math.acos(travel) - travel * math.sqrt(1.0 - travel * travel))


def blade_travel(share: float) -> float:
    """Travel of such a blade from shut, over the diameter, at which this share of the area is open, 0 to 1."""
    if share >= 1.0:
        return 1.0
    travel = math.pi / 4.0 * share  # too little, for the share rises by 4 / pi at first, and ever more slowly:
    for _ in range(_MOST_STEPS):  # so Newton's steps lead up to it and never beyond
        more = (share - blade_share(travel)) * math.pi / 4.0 / math.sqrt(1.0 - travel * travel)
        if travel + more <= travel or travel + more >= 1.0:
            break
        travel += more
    return travel


def stack_head_coefficient(outlet_ratio: float, exponent: float) -> float:
    """Velocity pressure of the outlet over that of the run: outlet_ratio^exponent, the ratio of bores."""
    return outlet_ratio**exponent


def slot_coefficient(area_share: float, slot: float, duct_entry: float) -> float:
    """Slot and plenum on the port's velocity pressure: slot / area_share^2 + duct_entry."""
    return slot / area_share**2 + duct_entry


def _line(table: Table) -> tuple[float, ...]:
    """Return the values of a table of one axis."""
    assert isinstance(table.values, tuple)
    return tuple([float(value) for value in table.values])


@dataclass(frozen=True)
class Opening:
    """A blade or plate across a bore: tabulated by open share, below the table a sharp orifice scaled to meet it.

    The orifice's law is scale ((reach + bend sqrt(1 - f) - f) / f)^2, f the open share; a gate has reach 1, an
    orifice at an entry has bend 0. It falls steadily as f grows, so every coefficient has one opening.

    Attributes:
        table: logarithmic, coefficient over the open share.
        bend: factor of sqrt(1 - f).
        reach: what f is taken from.
        least: least open share that is answered.
    """

    table: Table
    bend: float
    reach: float
    least: float

    @cached_property
    def scale(self) -> float:
        """Factor that makes the orifice meet the table's first point."""
        first = self.table.axes[0].values[0]
        return self.table.at(first) / self._orifice(first) ** 2

    def _orifice(self, share: float) -> float:
        return (self.reach + self.bend * math.sqrt(1.0 - share) - share) / share

    def coefficient(self, share: float) -> float:
        """Return the coefficient at this open share, on the whole bore's velocity pressure.

        Raises:
            OutsideTableError: outside least..1.
        """
        axis = self.table.axes[0]
        if not self.least <= share <= 1.0:
            raise OutsideTableError(axis.name, share, self.least, 1.0)
        if share < axis.values[0]:
            return self.scale * self._orifice(share) ** 2
        return self.table.at(share)

    def coefficients(self, shares: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the coefficients of many open shares, any shape; infinite at 0, which is shut.

        Raises:
            OutsideTableError: outside least..1 and not 0.
        """
        axis = self.table.axes[0]
        wrong = ((shares < self.least) & (shares != 0.0)) | (shares > 1.0) | np.isnan(shares)
        if np.any(wrong):
            raise OutsideTableError(axis.name, float(shares[wrong][0]), self.least, 1.0)
        inside = np.maximum(shares, self.least)
        read = np.exp(np.interp(np.log(inside), np.log(axis.values), np.log(np.asarray(self.table.values))))
        orifice = self.scale * ((self.reach + self.bend * np.sqrt(1.0 - inside) - inside) / inside) ** 2
        answer = np.where(inside < axis.values[0], orifice, read)
        return np.where(shares == 0.0, np.inf, answer)

    def share(self, coefficient: float) -> float:
        """Return the open share that has this coefficient; the inverse of `coefficient`.

        Raises:
            OutsideTableError: where no open share has it.
        """
        lowest, highest = self._ends
        if not lowest * (1.0 - 1.0e-12) <= coefficient <= highest * (1.0 + 1.0e-12):
            raise OutsideTableError("coefficient", coefficient, lowest, highest)
        points, values = self.table.axes[0].values, self._values
        if coefficient > values[0]:
            return max(self._orifice_share(coefficient), self.least)
        for index in range(len(points) - 1):
            if coefficient >= values[index + 1]:
                power = math.log(coefficient / values[index]) / math.log(values[index + 1] / values[index])
                return min(points[index] * (points[index + 1] / points[index]) ** power, 1.0)
        return 1.0

    @cached_property
    def _ends(self) -> tuple[float, float]:
        """Coefficients fully open, and at the least share."""
        return self.table.at(1.0), self.coefficient(self.least)

    @cached_property
    def _values(self) -> tuple[float, ...]:
        return _line(self.table)

    def _orifice_share(self, coefficient: float) -> float:
        # With u = sqrt(1 - f) the law is a quadratic in u: (1 + g) u^2 + bend u + (reach - 1) - g = 0.
        g = math.sqrt(coefficient / self.scale)
        constant = self.reach - 1.0 - g
        u = (-self.bend + math.sqrt(self.bend**2 - 4.0 * (1.0 + g) * constant)) / (2.0 * (1.0 + g))
        return 1.0 - u * u
