"""A fan's curve: shape-preserving cubic or straight lines, fan laws, and what the collector leaves for the tree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled
from airbough_service.core.errors import CoreError
from airbough_service.core.laws.curve import curve_at

Floats = NDArray[np.float64]


class CurveError(CoreError):
    """The points do not make a fan curve."""


@compiled
def fan_pressure(fan: np.ndarray, terms: np.ndarray, quadratic: float, flow: float) -> tuple[float, float]:
    """Return what the fan leaves for the tree at this flow, and its slope.

    fan[pieces, 6]: start, end, and the cubic in (flow - start); terms[m, 2]: collector losses c * flow^n.
    """
    pressure, slope = curve_at(fan, flow)
    pressure -= quadratic * flow * flow
    slope -= 2.0 * quadratic * flow
    for j in range(terms.shape[0]):
        if flow > 0.0:
            exponent = terms[j, 1]
            if exponent == 2.0:  # most are; a power costs ten times as much
                over = terms[j, 0] * flow
            elif exponent == 1.0:
                over = terms[j, 0]
            else:
                over = terms[j, 0] * flow ** (exponent - 1.0)
            pressure -= over * flow
            slope -= over * exponent
    return pressure, slope


@dataclass(frozen=True, slots=True)
class Fan:
    """What a fan leaves for the tree: curve(flow) - quadratic * flow^2 - sum of terms, in Pa with flow in m3/s.

    Attributes:
        pieces: shape (pieces, 6): start and end flow, then the cubic's four coefficients in (flow - start).
        terms: shape (losses, 2): a and n of each collector loss a * flow^n.
        quadratic: velocity pressure taken off the curve (inlet or outlet) to leave fan static, Pa per (m3/s)^2.
        recovery: outlet velocity pressure that a discharge duct receives, Pa per (m3/s)^2.
    """

    pieces: Floats
    terms: Floats
    quadratic: float
    recovery: float = 0.0

    @property
    def net_quadratic(self) -> float:
        """What the solver takes off the curve, Pa per (m3/s)^2."""
        return self.quadratic - self.recovery

    @property
    def lowest(self) -> float:
        """Least flow of the curve, m3/s."""
        return float(self.pieces[0, 0])

    @property
    def highest(self) -> float:
        """Greatest flow of the curve, m3/s."""
        return float(self.pieces[-1, 1])

    def left_for_tree(self, flow: float) -> float:
        """Return the fall of total pressure from the room to the inlet that the fan affords at this flow, Pa."""
        return float(fan_pressure(self.pieces, self.terms, self.net_quadratic, flow)[0])

    def static_pressure(self, flow: float) -> float:
        """Return the fan static pressure at this flow, Pa: the curve, before the collector's losses."""
        return float(fan_pressure(self.pieces, self.terms[:0], self.quadratic, flow)[0])

    def collector_loss(self, flow: float) -> float:
        """Return the losses of cyclone, filter and the like at this flow, Pa."""
        return float(sum(a * flow**n for a, n in self.terms)) if flow > 0.0 else 0.0

    def always_falls(self) -> bool:
        """Return whether what is left for the tree falls all along the curve; then at most one crossing exists."""
        slack = 1.0e-12 * float(np.max(np.abs(self.pieces[:, 2]))) / self.highest
        for start, end, _, first, second, third in self.pieces:
            reach = [0.0, end - start]
            if third != 0.0:
                reach.append(min(max(-second / (3.0 * third), 0.0), end - start))
            steepest = max(first + d * (2.0 * second + 3.0 * third * d) for d in reach)
            lowest_pull = 2.0 * self.net_quadratic * (start if self.net_quadratic > 0.0 else end)
            if steepest - lowest_pull > slack:
                return False
        return True


def curve_pieces(flows: Sequence[float], pressures: Sequence[float], linear: bool) -> Floats:
    """Return the pieces of a curve through points, shape (points - 1, 6).

    The cubic is the shape-preserving one of Fritsch and Carlson (SIAM J. Numer. Anal. 17, 1980) with the
    three-point end slopes of the usual PCHIP implementations; it makes no hump that the points do not have.

    Raises:
        CurveError: fewer than two points, or flows that do not rise.
    """
    q, p = np.asarray(flows, float), np.asarray(pressures, float)
    if q.size < 2 or np.any(np.diff(q) <= 0.0):
        raise CurveError("a curve needs at least two points whose flows rise")
    step, chord = np.diff(q), np.diff(p) / np.diff(q)
    pieces = np.zeros((q.size - 1, 6))
    pieces[:, 0], pieces[:, 1], pieces[:, 2] = q[:-1], q[1:], p[:-1]
    if linear or q.size == 2:
        pieces[:, 3] = chord
        return pieces
    slope = _slopes(step, chord)
    pieces[:, 3] = slope[:-1]
    pieces[:, 4] = (3.0 * chord - 2.0 * slope[:-1] - slope[1:]) / step
    pieces[:, 5] = (slope[:-1] + slope[1:] - 2.0 * chord) / step**2
    return pieces


def _slopes(step: Floats, chord: Floats) -> Floats:
    """Return the shape-preserving slopes at the points."""
    slope = np.zeros(step.size + 1)
    same = chord[:-1] * chord[1:] > 0.0
    left, right = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (left + right) / (left / chord[:-1] + right / chord[1:])
    slope[1:-1] = np.where(same, mean, 0.0)
    slope[0] = _end_slope(step[0], step[1], chord[0], chord[1])
    slope[-1] = _end_slope(step[-1], step[-2], chord[-1], chord[-2])
    return slope


def _end_slope(step: float, following: float, chord: float, next_chord: float) -> float:
    """Return the three-point slope at an end, held where it would break the shape."""
    slope = ((2.0 * step + following) * chord - step * next_chord) / (step + following)
    if slope * chord <= 0.0:
        return 0.0
    if chord * next_chord <= 0.0 and abs(slope) > 3.0 * abs(chord):
        return 3.0 * chord
    return slope


def scale(pieces: Floats, speed: float, density: float) -> Floats:
    """Return the curve by the fan laws: flow with speed, pressure with speed squared and density ratio."""
    out = pieces.copy()
    out[:, :2] *= speed
    out[:, 2:] *= speed * speed * density
    out[:, 3] /= speed
    out[:, 4] /= speed**2
    out[:, 5] /= speed**3
    return out
