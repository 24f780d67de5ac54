"""Weighing measured against computed: chi-square with correlated errors, one unknown at a time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Predict = Callable[[float], Floats | None]
"""Readings computed with one unknown set to a value; None where nothing can be computed."""

NINETY: Final = 2.705543454095404  # chi-square with one degree of freedom, central 90 %
GOLDEN: Final = (math.sqrt(5.0) - 1.0) / 2.0


def chi_square_limit(freedom: int, deviate: float = 1.6448536269514722) -> float:
    """Return the value that chi-square stays below with the chance of the normal deviate (95 % for 1.645).

    References:
        E. B. Wilson, M. M. Hilferty, Proc. Natl. Acad. Sci. 17 (1931), 684; within 1 % of the tables from 1 up.
    """
    if freedom <= 0:
        return 0.0
    part = 2.0 / (9.0 * freedom)
    return freedom * (1.0 - part + deviate * math.sqrt(part)) ** 3


@dataclass(frozen=True, slots=True)
class Weights:
    """The inverse of the readings' covariance, shape (m, m)."""

    inverse: Floats

    def square(self, difference: Floats) -> float:
        """Return chi-square of measured less computed."""
        return float(difference @ self.inverse @ difference)

    def alike(self, one: Floats, two: Floats) -> float:
        """Return the cosine between two signatures, -1 to 1; 0 where either is nothing."""
        sizes = self.square(one) * self.square(two)
        return float(one @ self.inverse @ two) / math.sqrt(sizes) if sizes > 0.0 else 0.0

    def shares(self, signature: Floats, difference: Floats) -> Floats:
        """Return each reading's share in what a signature explains of a difference, shape (m,); they sum to 1."""
        parts = signature * (self.inverse @ difference)
        whole = float(parts.sum())
        return parts / whole if whole != 0.0 else np.zeros_like(parts)


def weights(values: Floats, spreads: Floats, model: Floats) -> Weights:
    """Return the weights of readings.

    Args:
        values: computed readings, shape (m,).
        spreads: of the readings, absolute half-widths of the central 90 % range, shape (m,), above 0.
        model: what one spread of each uncertain term does to the readings, shape (terms, m), one standard deviation.
    """
    own = np.diag((spreads / 1.6448536269514722) ** 2)
    return Weights(np.asarray(np.linalg.inv(own + model.T @ model), np.float64))


@dataclass(frozen=True, slots=True)
class Fit:
    """One unknown fitted.

    Attributes:
        at: its value.
        left: chi-square left.
        low, high: where chi-square is 2.71 more than the least, the central 90 % range; None where it is open.
        computed: the readings there, shape (m,).
    """

    at: float
    left: float
    low: float | None
    high: float | None
    computed: Floats


def scan(predict: Predict, values: Floats, by: Weights, grid: Floats) -> tuple[int, float]:
    """Return the grid's best place and its chi-square; infinite where nothing could be computed."""
    squares = [_square(predict, float(point), values, by) for point in grid]
    best = int(np.argmin(squares))
    return best, squares[best]


def _square(predict: Predict, at: float, values: Floats, by: Weights) -> float:
    computed = predict(at)
    return math.inf if computed is None else by.square(values - computed)


def fit(predict: Predict, values: Floats, by: Weights, grid: Floats, best: int) -> Fit | None:
    """Refine the best place of a grid by golden sections on it, and find its range.

    Args:
        predict: readings for a value of the unknown.
        values: measured, shape (m,).
        by: weights.
        grid: rising values of the unknown, all of one sign; its ends bound the search.
        best: place of the least chi-square on it.
    """
    left, right = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)])
    a, b = math.log(left), math.log(right)

    def square(at: float) -> float:
        return _square(predict, math.exp(at), values, by)

    c, d = b - GOLDEN * (b - a), a + GOLDEN * (b - a)
    at_c, at_d = square(c), square(d)
    for _ in range(34):
        if at_c < at_d:
            b, d, at_d = d, c, at_c
            c = b - GOLDEN * (b - a)
            at_c = square(c)
        else:
            a, c, at_c = c, d, at_d
            d = a + GOLDEN * (b - a)
            at_d = square(d)
    middle = 0.5 * (a + b)
    computed = predict(math.exp(middle))
    if computed is None:
        return None
    least = by.square(values - computed)
    low = _edge(square, middle, math.log(float(grid[0])), least + NINETY)
    high = _edge(square, middle, math.log(float(grid[-1])), least + NINETY)
    return Fit(
        math.exp(middle),
        least,
        None if low is None else math.exp(low),
        None if high is None else math.exp(high),
        computed,
    )


def _edge(square: Callable[[float], float], inside: float, end: float, limit: float) -> float | None:
    """Return where chi-square reaches a limit between a place inside and an end; None where it does not."""
    step, here = 0.01 * (1.0 if end > inside else -1.0), inside
    while True:  # at most a thousand times further than the first step, so a dozen rounds
        there = here + step
        beyond = (there - end) * step >= 0.0
        there = end if beyond else there
        if square(there) > limit:
            break
        if beyond:
            return None
        here, step = there, 2.0 * step
    for _ in range(26):
        middle = 0.5 * (here + there)
        if square(middle) > limit:
            there = middle
        else:
            here = middle
    return 0.5 * (here + there)
