"""Friction of a straight round duct: Colebrook's equation, and the power law of the velocity-pressure method."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from airbough_service.core.network.kernel import (
    LAMINAR_END,
    TURBULENT_START,
    TWO_OVER_LN10,
)

Floats = NDArray[np.float64]


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


def colebrook(reynolds: ArrayLike, relative_roughness: ArrayLike) -> Floats:
    """Darcy friction factor of Colebrook's equation: 1/sqrt(f) = -2 log10(e/3.7 + 2.51/(Re sqrt(f))).

    Args:
        reynolds: Reynolds number, above 0.
        relative_roughness: roughness over diameter.

    Returns:
        Darcy factor, shape broadcast from the arguments, to full precision (Newton's method on 1/sqrt(f)).

    Notes:
        Made for turbulent flow, Reynolds above 4000.

    References:
        C. F. Colebrook, J. Inst. Civil Eng. 11 (1939), 133-156, equation as commonly printed.
    """
    re, rough = np.broadcast_arrays(np.asarray(reynolds, float), np.asarray(relative_roughness, float) / 3.7)
    slope = 2.51 / re
    y = -TWO_OVER_LN10 * np.log(rough + 5.74 / re**0.9)
    for _ in range(20):
        argument = rough + slope * y
        step = (y + TWO_OVER_LN10 * np.log(argument)) / (1.0 + TWO_OVER_LN10 * slope / argument)
        y = y - step
        if np.all(np.abs(step) < 1.0e-13 * y):
            break
    return np.asarray(1.0 / (y * y))


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike) -> Floats:
    """Darcy friction factor over all of flow: laminar, transition, turbulent.

    Args:
        reynolds: Reynolds number, above 0.
        relative_roughness: roughness over diameter.

    Returns:
        64/Re to Re 2000, Colebrook from 4000, and between them a straight line in Re, as no law holds there.
    """
    re, rough = np.broadcast_arrays(np.asarray(reynolds, float), np.asarray(relative_roughness, float))
    turbulent = colebrook(np.maximum(re, TURBULENT_START), rough)
    low = 64.0 / LAMINAR_END
    between = low + (turbulent - low) * (re - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)
    slow = np.where(re <= LAMINAR_END, 64.0 / re, between)
    return np.asarray(np.where(re < TURBULENT_START, slow, turbulent))


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


def effective_roughness(roughness: float, diameter: float, multiplier: float, reynolds: float) -> float:
    """Roughness whose friction factor at this Reynolds number is `multiplier` times that of `roughness` [m].

    Notes:
        Colebrook's equation solved for the roughness: e/3.7 D = 10^(-1/(2 sqrt(f))) - 2.51/(Re sqrt(f)).
    """
    root = math.sqrt(multiplier * float(colebrook(reynolds, roughness / diameter)))
    return 3.7 * diameter * (10.0 ** (-0.5 / root) - 2.51 / (reynolds * root))
