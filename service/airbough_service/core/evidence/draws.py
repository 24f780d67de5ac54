"""Random factors by name, and what their ranks tell."""

from __future__ import annotations

import math
from hashlib import sha256
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.core import deadline

Floats = NDArray[np.float64]
HALF_WIDTH: Final = 1.6448536269514722  # of the central 90 % range of the standard normal distribution


def factors(seed: int, names: list[str], spreads: list[float], samples: int) -> Floats:
    """Return lognormal factors, shape (samples, terms): exp(spread / 1.6449 * z).

    Each term has a stream of its own, seeded by the hash of seed and name, so that a further term or further samples
    leave the others' draws as they are. Normal deviates by Box and Muller (Ann. Math. Stat. 29, 1958) from PCG64.
    """
    out = np.ones((samples, len(names)))
    for k, (name, spread) in enumerate(zip(names, spreads, strict=True)):
        deadline.check()
        if spread > 0.0:
            out[:, k] = np.exp(spread / HALF_WIDTH * normal(seed, name, samples))
    return out


def normal(seed: int, name: str, samples: int) -> Floats:
    """Return standard normal deviates of one stream, shape (samples,)."""
    word = sha256(f"{seed}/{name}".encode()).digest()
    bits = np.random.PCG64(int.from_bytes(word[:16], "big")).random_raw(2 * samples)
    uniform = ((bits >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53
    radius = np.sqrt(-2.0 * np.log(uniform[0::2]))
    return np.asarray(radius * np.cos(2.0 * math.pi * uniform[1::2]))


def rank_correlations(factor: Floats, value: Floats) -> Floats:
    """Return Spearman's rank correlation of each term with a quantity, shape (terms,); 0 where either is constant."""
    ranks = _ranks(value)
    out = np.zeros(factor.shape[1])
    if ranks is None:
        return out
    for k in range(factor.shape[1]):
        deadline.check()
        own = _ranks(factor[:, k])
        if own is not None:
            out[k] = float(np.mean(own * ranks))
    return out


def _ranks(value: Floats) -> Floats | None:
    """Return ranks with mean 0 and variance 1; None where the values do not differ."""
    if value.size < 3 or float(np.ptp(value)) <= 1.0e-13 * float(np.max(np.abs(value))):
        return None
    ranks = np.empty(value.size)
    ranks[np.argsort(value, kind="stable")] = np.arange(value.size)
    ranks -= ranks.mean()
    return np.asarray(ranks / ranks.std())
