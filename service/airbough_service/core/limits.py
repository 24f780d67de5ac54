"""Whether a value reaches its limit: a comparison within a millionth of its limit holds; numbers or arrays of them."""

from __future__ import annotations

from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

HOLDS: Final = 1.0e-6  # share of a limit by which a value may miss it and still hold

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@overload
def below(value: float, least: float) -> bool: ...
@overload
def below(value: Floats, least: float | Floats) -> Flags: ...
def below(value: float | Floats, least: float | Floats) -> bool | Flags:
    """Return whether a value does not reach the least that it ought to; of arrays, where."""
    return value < least_held(least)


@overload
def above(value: float, most: float) -> bool: ...
@overload
def above(value: Floats, most: float | Floats) -> Flags: ...
def above(value: float | Floats, most: float | Floats) -> bool | Flags:
    """Return whether a value passes the most that it ought to; of arrays, where."""
    return value > most_held(most)


@overload
def least_held(least: float) -> float: ...
@overload
def least_held(least: Floats) -> Floats: ...
@overload
def least_held(least: float | Floats) -> float | Floats: ...
def least_held(least: float | Floats) -> float | Floats:
    """Return the least value that still holds, for compiled code to compare with."""
    return least * (1.0 - HOLDS)


@overload
def most_held(most: float) -> float: ...
@overload
def most_held(most: Floats) -> Floats: ...
@overload
def most_held(most: float | Floats) -> float | Floats: ...
def most_held(most: float | Floats) -> float | Floats:
    """Return the greatest value that still holds, for compiled code to compare with."""
    return most * (1.0 + HOLDS)
