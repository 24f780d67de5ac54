"""A fan's curve: shape-preserving cubic or straight lines, fan laws, and what the collector leaves for the tree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import overload

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled, inner
from airbough_service.core.errors import CoreError
from airbough_service.core.laws.curve import curve_at, power_loss

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
            loss, steeper = power_loss(terms[j, 0], terms[j, 1], flow)
            pressure -= loss
            slope -= steeper
    return pressure, slope


HALVINGS = 40  # of a piece, before a curve that only just fails to be proved is searched
SLACK = 1.0e-12  # share of the greatest pressure on the curve, of rounding


@inner
def pressure_bound(piece: np.ndarray, terms: np.ndarray, quadratic: float, start: float, end: float) -> float:
    """Return a bound that what is left, p, does not pass between two flows of a piece, Pa; tight as they near."""
    a, b = start - piece[0], end - piece[0]
    at_a = piece[2] + a * (piece[3] + a * (piece[4] + a * piece[5]))
    at_b = piece[2] + b * (piece[3] + b * (piece[4] + b * piece[5]))
    bend = max(abs(2.0 * piece[4] + 6.0 * piece[5] * a), abs(2.0 * piece[4] + 6.0 * piece[5] * b))
    bound = max(at_a, at_b) + 0.125 * bend * (end - start) * (end - start)  # no chord is missed by more
    bound -= quadratic * (start * start if quadratic > 0.0 else end * end)
    for j in range(terms.shape[0]):
        bound -= terms[j, 0] * start ** terms[j, 1]
    return bound


@inner
def steepness_bound(piece: np.ndarray, terms: np.ndarray, quadratic: float, start: float, end: float) -> float:
    """Return a bound that p'(q) q - p(q) does not pass between two flows of a piece, Pa; tight as they near.

    Of the cubic it is a cubic itself, with its extremes at the ends and where the curve's second derivative is 0. Of
    -b q^2 it is -b q^2, and of a term -a q^n it is -a (n - 1) q^n: above 0 for n below 1; none has an extreme inside.
    """
    a, b = start - piece[0], end - piece[0]
    bound = -np.inf
    inside = -piece[4] / (3.0 * piece[5]) if piece[5] != 0.0 else a
    for d in (a, b, min(max(inside, a), b)):
        slope = piece[3] + d * (2.0 * piece[4] + d * 3.0 * piece[5])
        value = piece[2] + d * (piece[3] + d * (piece[4] + d * piece[5]))
        bound = max(bound, slope * (piece[0] + d) - value)
    bound -= quadratic * (start * start if quadratic > 0.0 else end * end)
    for j in range(terms.shape[0]):
        above = terms[j, 0] * (1.0 - terms[j, 1])
        bound += above * (end if above > 0.0 else start) ** terms[j, 1]
    return bound


@compiled
def crosses_once(pieces: np.ndarray, terms: np.ndarray, quadratic: float) -> bool:
    """Return whether no tree can meet what a fan leaves for it, p, at more than one flow; False where it may.

    It cannot where the elasticity p'(q) q / p(q) is below 1 wherever p is above 0. For then p(q)/q falls there, by
    its derivative (p' q - p)/q^2, and p, once 0, does not come back, since it would have to rise through 0. The tree's
    need s(q) is above 0 and s(q)/q never falls, so that p/q - s/q falls and vanishes at one flow at most.

    s/q never falls, since the loss of each run goes with an exponent of 1 (laminar flow, some filters) or more and a
    junction's with the square of the flows. For take t times the flow, t above 1. If each run took t times its own,
    every path would need at least t times its pressure; and what the arms really share lies between the least and the
    greatest of what the paths need in any distribution of the flow, since in another one some arm has more air and
    some has less. (A path that gains nearly as much at its junctions as it loses in laminar runs is left out here:
    t^2 of the gain may outweigh t of the loss. The tests search random trees for a second crossing.)

    Collector losses belong to p, whatever their exponent, and a discharge's recovery too, as a quadratic below 0: so
    nothing is asked of them beyond the elasticity of what is left. Each piece is halved until bounds prove it.
    """
    greatest = 0.0
    for piece in range(pieces.shape[0]):
        greatest = max(greatest, abs(pieces[piece, 2]))
    slack = SLACK * greatest
    starts, ends = np.empty(HALVINGS + 1), np.empty(HALVINGS + 1)
    for piece in range(pieces.shape[0]):
        starts[0], ends[0] = pieces[piece, 0], pieces[piece, 1]
        waiting = 1
        while waiting > 0:
            waiting -= 1
            start, end = starts[waiting], ends[waiting]
            if pressure_bound(pieces[piece], terms, quadratic, start, end) <= slack:
                continue
            if steepness_bound(pieces[piece], terms, quadratic, start, end) < -slack:
                continue
            middle = 0.5 * (start + end)
            fails = steepness_bound(pieces[piece], terms, quadratic, middle, middle) >= -slack
            if fails and pressure_bound(pieces[piece], terms, quadratic, middle, middle) > slack:
                return False
            if waiting == HALVINGS or not start < middle < end:
                return False
            starts[waiting], ends[waiting] = middle, end
            starts[waiting + 1], ends[waiting + 1] = start, middle
            waiting += 2
    return True


@dataclass(frozen=True, slots=True)
class Fan:
    """What a fan leaves for the tree: curve(flow) - quadratic * flow^2 - sum of terms, in Pa with flow in m3/s.

    Attributes:
        pieces: shape (pieces, 6): start and end flow, then the cubic's four coefficients in (flow - start).
        terms: shape (losses, 2): a and n of each collector loss a * flow^n.
        quadratic: velocity pressure taken off the curve (inlet or outlet) to leave fan static, Pa per (m3/s)^2.
        recovery: outlet velocity pressure that a discharge duct receives, Pa per (m3/s)^2.
        crosses_once: whether no tree can meet what is left at more than one flow (see `crosses_once`).
    """

    pieces: Floats
    terms: Floats
    quadratic: float
    recovery: float = 0.0
    crosses_once: bool = field(init=False, compare=False)

    def __post_init__(self) -> None:
        """Look at the curve once, for all states that it will be solved for."""
        object.__setattr__(self, "crosses_once", bool(crosses_once(self.pieces, self.terms, self.net_quadratic)))

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

    @overload
    def begins_beyond(self, flow: float) -> bool: ...
    @overload
    def begins_beyond(self, flow: NDArray[np.float64]) -> NDArray[np.bool_]: ...
    def begins_beyond(self, flow: float | NDArray[np.float64]) -> bool | NDArray[np.bool_]:
        """Return whether the curve's first point has more than a flow [m3/s], no flow included; of an array, where."""
        return flow < self.lowest

    def left_for_tree(self, flow: float) -> float:
        """Return the fall of total pressure from the room to the inlet that the fan affords at this flow, Pa."""
        return float(fan_pressure(self.pieces, self.terms, self.net_quadratic, flow)[0])

    def static_pressure(self, flow: float) -> float:
        """Return the fan static pressure at this flow, Pa: the curve, before the collector's losses."""
        return float(fan_pressure(self.pieces, self.terms[:0], self.quadratic, flow)[0])

    def collector_loss(self, flow: float) -> float:
        """Return the losses of cyclone, filter and the like at this flow, Pa."""
        return float(sum([a * flow**n for a, n in self.terms.tolist()])) if flow > 0.0 else 0.0


def curve_pieces(flows: Sequence[float], pressures: Sequence[float], linear: bool) -> Floats:
    """Return the pieces of a curve through points, shape (points - 1, 6).

    The cubic is the shape-preserving one of Fritsch and Carlson (SIAM J. Numer. Anal. 17, 1980) with the
    three-point end slopes of the usual PCHIP implementations; it makes no hump that the points do not have.

    Raises:
        CurveError: fewer than two points, or flows that do not rise.
    """
    q, p = np.array(flows, float), np.array(pressures, float)
    if q.size < 2 or any(after <= before for before, after in pairwise(flows)):
        raise CurveError("a curve needs at least two points whose flows rise")
    pieces = np.zeros((q.size - 1, 6))
    fill_pieces(q, p, linear, pieces)
    return pieces


@compiled
def fill_pieces(q: np.ndarray, p: np.ndarray, linear: bool, pieces: np.ndarray) -> None:
    """Fill the pieces through points, all zeros; arguments as of `curve_pieces`."""
    count = pieces.shape[0]
    for k in range(count):
        pieces[k, 0], pieces[k, 1], pieces[k, 2] = q[k], q[k + 1], p[k]
        pieces[k, 3] = (p[k + 1] - p[k]) / (q[k + 1] - q[k])
    if linear or count == 1:
        return
    step, chord = pieces[:, 1] - pieces[:, 0], pieces[:, 3].copy()
    slope = np.zeros(count + 1)
    for k in range(1, count):
        if chord[k - 1] * chord[k] > 0.0:
            left, right = 2.0 * step[k] + step[k - 1], step[k] + 2.0 * step[k - 1]
            slope[k] = (left + right) / (left / chord[k - 1] + right / chord[k])
    slope[0] = end_slope(step[0], step[1], chord[0], chord[1])
    slope[count] = end_slope(step[count - 1], step[count - 2], chord[count - 1], chord[count - 2])
    for k in range(count):
        pieces[k, 3] = slope[k]
        pieces[k, 4] = (3.0 * chord[k] - 2.0 * slope[k] - slope[k + 1]) / step[k]
        pieces[k, 5] = (slope[k] + slope[k + 1] - 2.0 * chord[k]) / step[k] ** 2


@inner
def end_slope(step: float, following: float, chord: float, next_chord: float) -> float:
    """Return the three-point slope at an end, held where it would break the shape."""
    slope = ((2.0 * step + following) * chord - step * next_chord) / (step + following)
    if slope * chord <= 0.0:
        return 0.0
    if chord * next_chord <= 0.0 and abs(slope) > 3.0 * abs(chord):
        return 3.0 * chord
    return slope


def scale(pieces: Floats, speed: float, density: float) -> Floats:
    """Return the curve by the fan laws: flow with speed, pressure with speed squared and density ratio."""
    pressure = speed * speed * density
    return pieces * np.array([speed, speed, pressure, pressure / speed, pressure / speed**2, pressure / speed**3])
