"""Friction of a straight round duct: Colebrook's equation, and the power law of the velocity-pressure method."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from airbough_service.core.compiled import compiled, inlined, inner

Floats = NDArray[np.float64]
LAMINAR_END = 2000.0
TURBULENT_START = 4000.0
TWO_OVER_LN10 = 2.0 / math.log(10.0)
COLEBROOK = 2.51  # over the Reynolds number, beside 1/sqrt(f)


@dataclass(frozen=True, slots=True)
class PowerLaw:
    """Friction in velocity pressures per metre: scale V^velocity_exponent / Q^flow_exponent, V in m/s, Q in m3/s."""

    scale: float
    velocity_exponent: float
    flow_exponent: float


def area(diameter: ArrayLike) -> Floats:
    """Return the area of a round bore [m2]."""
    return np.asarray(math.pi / 4.0 * np.square(diameter))


def velocity_pressure(velocity: ArrayLike, density: float) -> Floats:
    """Velocity pressure: density V^2 / 2 [Pa], velocity in m/s."""
    return np.asarray(0.5 * density * np.square(velocity))


def reynolds_number(flow: ArrayLike, diameter: ArrayLike, density: float, viscosity: float) -> Floats:
    """Reynolds number of a round bore: 4 density Q / (pi viscosity D)."""
    return np.asarray(4.0 * density * np.asarray(flow) / (math.pi * viscosity * np.asarray(diameter)))


@inlined
def root_step(rough: float, per_flow: float, y: float) -> tuple[float, float]:
    """Return Newton's step of y = 1/sqrt(f) in Colebrook's equation, to be taken off y, and its steepness.

    Args:
        rough: roughness / (3.7 diameter).
        per_flow: COLEBROOK / Reynolds number.
        y: 1/sqrt(f) as it stands.

    Returns:
        Step and steepness; with y settled, d(f Q^2)/dQ = 2 f Q steepness.
    """
    argument = rough + per_flow * y
    steep = argument / (argument + TWO_OVER_LN10 * per_flow)
    return (y + TWO_OVER_LN10 * math.log(argument)) * steep, steep


SETTLED = 1.0e-8  # relative step of 1/sqrt(f) after which the next, less than half its square, is below rounding


@inner
def inverse_root(rough: float, reynolds: float, start: float) -> float:
    """1/sqrt(f) of Colebrook's equation: 1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f))), to full precision.

    Args:
        rough: roughness / (3.7 diameter).
        reynolds: Reynolds number, above 0; the equation is made for turbulent flow, above 4000.
        start: a first guess of 1/sqrt(f).

    References:
        C. F. Colebrook, J. Inst. Civil Eng. 11 (1939), 133-156, equation as commonly printed.
    """
    y = start
    for _ in range(20):
        step = root_step(rough, COLEBROOK / reynolds, y)[0]
        y -= step
        if abs(step) < SETTLED * y:
            break
    return y


@inner
def slow_friction(rough: float, reynolds: float, start: float) -> tuple[float, float]:
    """Return the Darcy factor below TURBULENT_START, and its logarithmic slope d(ln f)/d(ln Re)."""
    if reynolds <= LAMINAR_END:
        return 64.0 / reynolds, -1.0
    low = 64.0 / LAMINAR_END
    y = inverse_root(rough, TURBULENT_START, start)
    high = 1.0 / (y * y)
    gradient = (high - low) / (TURBULENT_START - LAMINAR_END)
    factor = low + gradient * (reynolds - LAMINAR_END)
    return factor, gradient * reynolds / factor


@compiled
def darcy(rough: float, reynolds: float, start: float) -> float:
    """Return the Darcy factor at any Reynolds number above zero; arguments as of `inverse_root`."""
    if reynolds > TURBULENT_START:
        y = inverse_root(rough, reynolds, start)
        return 1.0 / (y * y)
    return slow_friction(rough, reynolds, start)[0]


@compiled
def _factors(reynolds: np.ndarray, relative_roughness: np.ndarray, out: np.ndarray) -> None:
    """Fill the Darcy factor of each pair."""
    for k in range(reynolds.shape[0]):
        rough = relative_roughness[k] / 3.7
        high = max(reynolds[k], TURBULENT_START)
        out[k] = darcy(rough, reynolds[k], -TWO_OVER_LN10 * math.log(rough + 5.74 / high**0.9))


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> Floats:
    """Darcy friction factor over all of flow: laminar, transition, turbulent.

    Args:
        reynolds: Reynolds number, above 0.
        relative_roughness: roughness over diameter.

    Returns:
        64/Re to Re 2000, Colebrook from 4000, and between them a straight line in Re, as no law holds there.
    """
    re, rough = np.broadcast_arrays(np.asarray(reynolds, float), np.asarray(relative_roughness, float))
    out = np.empty(re.size)
    _factors(re.ravel(), rough.ravel(), out)
    return out.reshape(re.shape)


def friction_loss(
    flow: ArrayLike, diameter: ArrayLike, length: ArrayLike, roughness: ArrayLike, density: float, viscosity: float
) -> Floats:
    """Friction loss of a straight round duct: f L/D density V^2/2 [Pa] (Darcy-Weisbach).

    Args:
        flow: [m3/s], above 0.
        diameter: [m].
        length: [m].
        roughness: [m].
        density: [kg/m3].
        viscosity: dynamic [Pa*s].
    """
    bore = np.asarray(diameter, float)
    factor = friction_factor(reynolds_number(flow, bore, density, viscosity), np.asarray(roughness, float) / bore)
    pressure = velocity_pressure(np.asarray(flow, float) / area(bore), density)
    return np.asarray(factor * np.asarray(length, float) / bore * pressure)


def power_law_loss(flow: float, diameter: float, length: float, law: PowerLaw, density: float) -> float:
    """Friction loss by the power law of the velocity-pressure method [Pa]; arguments as `friction_loss`."""
    coefficient, exponent = power_law_terms(diameter, length, law, density)
    return coefficient * flow**exponent


def power_law_terms(diameter: float, length: float, law: PowerLaw, density: float) -> tuple[float, float]:
    """Return coefficient and exponent of the power law's loss as coefficient * flow^exponent [Pa, m3/s]."""
    bore = math.pi / 4.0 * diameter * diameter
    coefficient = law.scale * length * density / (2.0 * bore ** (2.0 + law.velocity_exponent))
    return coefficient, 2.0 + law.velocity_exponent - law.flow_exponent
