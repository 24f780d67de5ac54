"""The tree as sizing sees it: each run's bores, and every set of bores that may meet at its upstream end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.limits import HOLDS

Floats = NDArray[np.float64]
STEP: Final = 0.1
MOST_STEPS: Final = 10
Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Site:
    """A run in each of its bores, with every set of its arms' bores that may meet there: rows, bore by bore.

    The last site is the collector's inlet, with one choice.

    Attributes:
        arms: the sites that flow into it.
        own: shape (choices, states), the run's own loss, Pa.
        cost: shape (choices,), of its own pieces.
        broken: shape (choices,), what the places count where it breaks rules by itself.
        begins: shape (choices + 1,), where the rows of each choice begin, and where the last one's end.
        sets: shape (rows, arms), choice number of each arm; a leaf has one row without arms for each choice.
        join: shape (rows, arms, states), loss from the arm's end to this run's beginning, Pa; -inf without flow.
        meeting: same shape, added to an arm's need to compare it with the others, Pa.
        row_cost, row_broken: shape (rows,), of the junction's pieces.
    """

    arms: tuple[int, ...]
    own: Floats
    cost: Floats
    broken: Floats
    begins: Integers
    sets: Integers
    join: Floats
    meeting: Floats
    row_cost: Floats
    row_broken: Floats

    @property
    def count(self) -> int:
        """How many bores there are."""
        return len(self.own)

    def row(self, choice: int, row: int) -> int:
        """Return the number of a row among all, by its number within a choice."""
        return int(self.begins[choice]) + row


class Packed(NamedTuple):
    """A site for the compiled loops.

    Attributes:
        first: its first group; a group is a run's bore.
        groups: shape (rows, arms), the group of each arm.
        begins, own, cost, broken, join, meeting, row_cost, row_broken: as of a site.
    """

    first: int
    groups: Integers
    begins: Integers
    own: Floats
    cost: Floats
    broken: Floats
    join: Floats
    meeting: Floats
    row_cost: Floats
    row_broken: Floats


def packed(sites: Sequence[Site]) -> list[Packed]:
    """Return the sites for the compiled loops."""
    firsts = np.array(first_groups(sites))
    return [
        Packed(
            int(firsts[number]), site.sets + firsts[list(site.arms)], site.begins, site.own, site.cost, site.broken,
            site.join, site.meeting, site.row_cost, site.row_broken,
        )
        for number, site in enumerate(sites)
    ]  # fmt: skip


def first_groups(sites: Sequence[Site]) -> list[int]:
    """Return the number of each site's first group, and of all of them; a group is a run's bore."""
    out = [0]
    for site in sites:
        out.append(out[-1] + site.count)
    return out


def steps(share: float | None) -> int:
    """Return how often a place counts whose limit is missed by a share of it: once for each step begun, up to a most.

    None: there is no limit to miss by a share; it counts the most.
    """
    return MOST_STEPS if share is None else int(counted(np.array(share)))


def counted(shares: Floats) -> Floats:
    """Return how often each of several places counts, as of ``steps``; a step that rounding begins is none."""
    return np.clip(np.ceil(shares / STEP - HOLDS), 1.0, float(MOST_STEPS))
