"""The sets of bores that may meet in a run, as rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.questions.sizing.kits import Kits, joined, no_kits

Floats = NDArray[np.float64]


class SiteRows(NamedTuple):
    """Sets of bores that may meet in a run: n rows, one bore's behind another's.

    Attributes:
        of: shape (n,), which bore the run has.
        sets, join, meeting, cost, broken: as of a site.
        kits: the pieces of the junction.
    """

    of: NDArray[np.int64]
    sets: NDArray[np.int64]
    join: Floats
    meeting: Floats
    cost: Floats
    broken: Floats
    kits: Kits


def together(parts: Sequence[SiteRows]) -> SiteRows:
    """Return the rows of several parts of a run's bores as one."""
    if len(parts) == 1:
        return parts[0]
    of, sets, join, meeting, cost, broken, kits = (list(column) for column in zip(*parts, strict=True))
    return SiteRows(
        *(np.concatenate(of), np.concatenate(sets), np.concatenate(join), np.concatenate(meeting)),
        *(np.concatenate(cost), np.concatenate(broken), joined(kits)),
    )


def alone(rows: int, arms: int, states: int) -> SiteRows:
    """Return rows without anything that meets, one for each bore."""
    none, zero = np.empty((rows, arms, states)), np.zeros(rows)
    return SiteRows(np.arange(rows), np.empty((rows, arms), np.int64), none, none, zero, zero, no_kits(rows))
