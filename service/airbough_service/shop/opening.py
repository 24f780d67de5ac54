"""The opening of a gate, as a share of its bore's area: when it is shut, and how far air then passes."""

from __future__ import annotations

from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from airbough.wire.tree import Gate

SMALLEST_OPENING: Final = 1.0e-4  # by the wire's definition; what is less is shut


@overload
def is_shut(opening: float) -> bool: ...
@overload
def is_shut(opening: NDArray[np.float64]) -> NDArray[np.bool_]: ...
def is_shut(opening: float | NDArray[np.float64]) -> bool | NDArray[np.bool_]:
    """Return whether an opening, or each of an array, is none: below a ten-thousandth of the area."""
    return opening < SMALLEST_OPENING


def too_small(opening: float) -> bool:
    """Return whether an opening is neither 0 nor one that can be told from shut."""
    return 0.0 < opening < SMALLEST_OPENING


def unclear(gate: Gate) -> bool:
    """Return whether a gate's opening, or how much it lets pass when shut, can not be told from shut."""
    return too_small(float(gate.opening)) or too_small(float(gate.leakage))


def passing(gate: Gate, opening: float | None = None) -> float:
    """Return the share through which air passes a gate at an opening, by default the document's: no less than leaks."""
    return max(float(gate.opening) if opening is None else opening, float(gate.leakage))
