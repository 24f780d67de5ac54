"""Curves against flow, compiled for all that read one: a piecewise cubic, and a power of the flow."""

from __future__ import annotations

import numpy as np

from airbough_service.core.compiled import compiled, inlined, inner


@inner
def curve_at(pieces: np.ndarray, flow: float) -> tuple[float, float]:
    """Return the curve's value and slope at a flow; the end pieces go on beyond the ends, which callers look at.

    pieces[n, 6]: start, end, and the cubic's four coefficients in (flow - start).
    """
    piece = 0
    while piece < pieces.shape[0] - 1 and flow > pieces[piece, 1]:
        piece += 1
    d = flow - pieces[piece, 0]
    value = pieces[piece, 2] + d * (pieces[piece, 3] + d * (pieces[piece, 4] + d * pieces[piece, 5]))
    slope = pieces[piece, 3] + d * (2.0 * pieces[piece, 4] + d * 3.0 * pieces[piece, 5])
    return value, slope


@compiled
def curve_values(pieces: np.ndarray, flows: np.ndarray) -> np.ndarray:
    """Return the curve's value at each flow, shape as `flows`; not a number beyond the curve's ends."""
    out = np.full(flows.shape[0], np.nan)
    for k in range(flows.shape[0]):
        if pieces[0, 0] <= flows[k] <= pieces[-1, 1]:
            out[k] = curve_at(pieces, flows[k])[0]
    return out


@inlined
def power_loss(coefficient: float, exponent: float, flow: float) -> tuple[float, float]:
    """Loss as coefficient * flow^exponent [Pa, flow above 0 in m3/s], and its slope."""
    if exponent == 2.0:  # most are; a power costs ten times as much
        over = coefficient * flow
    elif exponent == 1.0:
        over = coefficient
    else:
        over = coefficient * flow ** (exponent - 1.0)
    return over * flow, over * exponent
