"""The tree as sizing sees it: each run's bores, and every set of bores that may meet at its upstream end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEP: Final = 0.1
MOST_STEPS: Final = 10
Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Choice:
    """One bore of a run, with every set of its arms' bores that may meet there.

    Attributes:
        own: shape (states,), the run's own loss, Pa.
        cost: of its own pieces.
        broken: what the places count where it breaks rules by itself.
        arms: shape (rows, arms), choice number of each arm; a leaf has one row without arms.
        join: shape (rows, arms, states), loss from the arm's end to this run's beginning, Pa; -inf without flow.
        meeting: same shape, added to an arm's need to compare it with the others, Pa.
        row_cost, row_broken: shape (rows,), of the junction's pieces.
    """

    own: Floats
    cost: float
    broken: float
    arms: Integers
    join: Floats
    meeting: Floats
    row_cost: Floats
    row_broken: Floats


@dataclass(frozen=True, slots=True)
class Site:
    """A run: the sites that flow into it, and its bores; the last site is the collector's inlet, with one choice."""

    arms: tuple[int, ...]
    choices: tuple[Choice, ...]


def first_groups(sites: Sequence[Site]) -> list[int]:
    """Return the number of each site's first group; a group is a run's bore."""
    out = [0]
    for site in sites:
        out.append(out[-1] + len(site.choices))
    return out


def steps(share: float | None) -> int:
    """Return how often a place counts whose limit is missed by a share of it: once for each step begun, up to a most.

    None: there is no limit to miss by a share; it counts the most.
    """
    return MOST_STEPS if share is None else int(counted(np.array(share)))


def counted(shares: Floats) -> Floats:
    """Return how often each of several places counts, as of ``steps``."""
    return np.minimum(np.floor(shares / STEP) + 1.0, float(MOST_STEPS))
