"""Shaft power of a fan and load of its motor; SI units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.compiled import compiled, inner
from airbough_service.core.laws.fan import curve_pieces

Floats = NDArray[np.float64]
LEAST_PRESSURE: Final = 1.0e-9  # share of the best point's: below it the Euler number has no logarithm


def power_pieces(flows: Sequence[float], powers: Sequence[float], speed: float, density: float) -> Floats:
    """Return the shaft power's curve through points, by the fan laws, shape (points - 1, 6).

    Args:
        flows: of the points [m3/s], rising.
        powers: shaft power at the points [W].
        speed: speed over that of the points; flow goes with it, power with its cube.
        density: of the air over that of the points; power goes with it.

    Raises:
        CurveError: fewer than two points, or flows that do not rise.

    References:
        Fan laws, ISO 5801 and AMCA 201.
    """
    return curve_pieces([flow * speed for flow in flows], [power * speed**3 * density for power in powers], False)


def motor_current(
    output: Floats, rated: float, voltage: float, phases: int, efficiency: float, power_factor: float
) -> Floats:
    """Return the current in each line of an induction motor [A], shape of `output`.

    At the rated output it is output / (efficiency voltage power_factor), with three phases over the root of 3 as well.
    Below it the efficiency is taken to stay, and the current that magnetises the motor too, which keeps the current
    from going to nothing with the load.

    Args:
        output: at the shaft [W].
        rated: output at which efficiency and power factor hold [W].
        voltage: of the supply, between two lines where it has three phases [V].
        phases: 1 or 3.
        efficiency: output over input, 0..1.
        power_factor: of the whole motor, above 0.

    References:
        Input power of a motor: US Department of Energy, Determining Electric Motor Load and Efficiency, equation 1
        (three phases); the magnetising current that stays: common practice, the motor's equivalent circuit.
    """
    full = efficiency * voltage * (math.sqrt(3.0) if phases == 3 else 1.0)
    lag = math.sqrt(1.0 - power_factor * power_factor) / power_factor
    return np.hypot(output / full, rated / full * lag)


@dataclass(frozen=True, slots=True)
class EfficiencyShape:
    """How efficiency goes with the Euler number, and the power that is left without flow.

    Attributes:
        a, b, c, d: of the law.
        floor: least shaft power, as a share of that at the best point.
        law_from: share of the best point's flow below which power goes in a line to the floor.
    """

    a: float
    b: float
    c: float
    d: float
    floor: float
    law_from: float


@dataclass(frozen=True, slots=True)
class BestPoint:
    """Where a fan's flow times static pressure is greatest [m3/s, Pa]."""

    flow: float
    pressure: float


@compiled
def greatest_useful(pieces: np.ndarray, quadratic: float) -> tuple[float, float]:
    """Return the greatest flow * (curve + quadratic * flow^2) of a piecewise cubic, and its flow.

    In d = flow - start of a piece that is a quartic; its slope, a cubic, is monotone between its own extremes, and
    is halved to nothing where it goes from above to below 0.
    """
    best, at = -np.inf, 0.0
    for k in range(pieces.shape[0]):
        start, length = pieces[k, 0], pieces[k, 1] - pieces[k, 0]
        a0, a1 = pieces[k, 2] + quadratic * start * start, pieces[k, 3] + 2.0 * quadratic * start
        a2, a3 = pieces[k, 4] + quadratic, pieces[k, 5]
        s0, s1, s2, s3 = a0 + start * a1, 2.0 * (a1 + start * a2), 3.0 * (a2 + start * a3), 4.0 * a3
        for low, high in monotone_parts(s1, 2.0 * s2, 3.0 * s3, length):
            if s0 + low * (s1 + low * (s2 + low * s3)) > 0.0 >= s0 + high * (s1 + high * (s2 + high * s3)):
                while low < 0.5 * (low + high) < high:
                    middle = 0.5 * (low + high)
                    if s0 + middle * (s1 + middle * (s2 + middle * s3)) > 0.0:
                        low = middle
                    else:
                        high = middle
            for d in (low, high):
                power = (start + d) * (a0 + d * (a1 + d * (a2 + d * a3)))
                if power > best:
                    best, at = power, start + d
    return best, at


@inner
def monotone_parts(
    b0: float, b1: float, b2: float, length: float
) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    """Return the parts of 0..length between the roots of b0 + b1 d + b2 d^2."""
    one, two = 0.0, 0.0
    root = b1 * b1 - 4.0 * b2 * b0
    if b2 == 0.0:
        one = -b0 / b1 if b1 != 0.0 else 0.0
    elif root > 0.0:
        q = -0.5 * (b1 + math.copysign(math.sqrt(root), b1))
        one, two = q / b2, b0 / q if q != 0.0 else 0.0
    one, two = min(max(min(one, two), 0.0), length), min(max(max(one, two), 0.0), length)
    return (0.0, one), (one, two), (two, length)


def best_point(pieces: Floats, quadratic: float) -> BestPoint:
    """Return where flow times static pressure is greatest on a fan's curve.

    Args:
        pieces: of the curve [Pa over m3/s], shape (pieces, 6), as `curve_pieces`.
        quadratic: what makes static pressure of the curve's: curve + quadratic * flow^2 [Pa per (m3/s)^2].

    References:
        Common practice, no source: of one efficiency it is not said at which flow it holds.
    """
    power, flow = greatest_useful(pieces, quadratic)
    return BestPoint(flow, power / flow if flow > 0.0 else 0.0)


def efficiency_share(shape: EfficiencyShape, euler_ratio: Floats) -> Floats:
    """Static efficiency over that at the best point, by the Euler number p D^4 / (rho Q^2) over that at the best point.

    References:
        Wray and Sherman's fit to fans of many kinds, normalised at its peak, as carried by an open library of a public
        laboratory (see the catalogue).
    """
    return np.array([share_at((shape.a, shape.b, shape.c, shape.d), ratio) for ratio in euler_ratio.tolist()])


@compiled
def share_at(law: tuple[float, float, float, float], euler_ratio: float) -> float:
    """Return `efficiency_share` at one ratio; law: a, b, c and d of the shape."""
    a, b, c, d = law
    x = math.log10(euler_ratio)
    z1, z3 = (x - a) / b, -a / b
    z2 = (math.exp(c * x) * d * x - a) / b
    skew = 1.0 + math.erf(z2 / math.sqrt(2.0))
    return math.exp(0.5 * (z3 * z3 - z1 * z1)) * skew / (1.0 + math.erf(z3 / math.sqrt(2.0)))


@compiled
def fill_powers(
    flow: np.ndarray,
    pressure: np.ndarray,
    best: tuple[float, float],
    law: tuple[float, float, float, float],
    ends: tuple[float, float],
    out: np.ndarray,
) -> None:
    """Fill shaft power over that at the best point; best: flow and pressure there; ends: floor and `law_from`."""
    floor, law_from = ends
    for k in range(flow.size):
        share = flow[k] / best[0]
        counted = np.maximum(share, law_from)
        ratio = np.maximum(pressure[k] / best[1], LEAST_PRESSURE)
        power = counted * ratio / share_at(law, ratio / (counted * counted))
        above = np.maximum(power, 1.0 if share > 1.0 else floor) - floor
        out[k] = floor + above * np.minimum(share / law_from, 1.0)


def power_of_efficiency(
    flow: Floats, pressure: Floats, efficiency: float, best: BestPoint, shape: EfficiencyShape
) -> Floats:
    """Shaft power of a fan whose best static efficiency is known [W], shape (S,).

    At the best point it is Q p / efficiency; elsewhere the efficiency follows the Euler number; it never falls below
    the floor, to which it goes in a line where hardly anything flows, nor at more flow below that of the best point:
    with the outlet free the law goes to nothing, and measured fans do not.

    Args:
        flow: through the fan [m3/s], shape (S,).
        pressure: fan static pressure at this flow [Pa], shape (S,).
        efficiency: fan static efficiency at its best point.
        best: that point.
        shape: of the efficiency.

    References:
        See `efficiency_share` and the catalogue.
    """
    power, law = np.empty(flow.size), (shape.a, shape.b, shape.c, shape.d)
    fill_powers(flow, pressure, (best.flow, best.pressure), law, (shape.floor, shape.law_from), power)
    power *= best.flow * best.pressure / efficiency
    return power
