"""The smallest set of further gates that fixes a failing state, by trying sets with the engine."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough.wire.gate_states import GateFix
from airbough_service.core.network.states import sets_of
from airbough_service.questions.gate_states.judge import (
    Judge,
    Judged,
)
from airbough_service.questions.gate_states.states_asked import (
    AskedStates,
    Group,
    State,
)
from airbough_service.shop.gates import open_hoods
from airbough_service.shop.opening import is_shut

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_SETS: Final = 20_000  # sets of further gates tried for one state before the search turns greedy
MOST_SETS_SEARCHED: Final = 500  # the same where the fan's curve may be crossed more than once
MOST_RUN_SETS: Final = 1_000_000  # sets times runs for one state
MOST_RUN_SETS_SEARCHED: Final = 10_000
MOST_SETS_IN_ALL: Final = 4  # times the sets of one state, for all of a request; after that states are left out
AT_ONCE: Final = 2_000


def most_sets(judge: Judge) -> int:
    """Return how many sets are tried for one state before the search turns greedy."""
    rows = len(judge.shop.runs)
    if judge.fan.crosses_once:
        return min(MOST_SETS, MOST_RUN_SETS // rows)
    return min(MOST_SETS_SEARCHED, MOST_RUN_SETS_SEARCHED // rows)


def most_in_all(judge: Judge) -> int:
    """Return how many sets are tried for all states of a request before the others are left out."""
    return MOST_SETS_IN_ALL * most_sets(judge)


@dataclass(frozen=True, slots=True)
class Fix:
    """What was found for a state.

    Attributes:
        further: the groups to open as well; None where no set that was tried fixes.
        proven: whether every smaller set was tried, or every set there is.
        tried: how many sets were.
        judged: the state with them; one state.
    """

    further: tuple[Group, ...] | None
    proven: bool
    tried: int
    judged: Judged | None = None

    def told(self) -> GateFix:
        """Return it for the answer."""
        if self.further is None or self.judged is None:
            return GateFix(fixes=False, proven=self.proven, tried=self.tried)
        names = tuple(group.name for group in self.further)
        margin, share = float(self.judged.margin[0]), float(self.judged.share[0])
        return GateFix(
            fixes=True,
            proven=self.proven,
            open=names,
            tried=self.tried,
            transport_margin=margin if np.isfinite(margin) else None,
            share_of_design=share if np.isfinite(share) else None,
        )


class Search:
    """Looks for further gates for one state."""

    def __init__(self, judge: Judge, asked: AskedStates, state: State, spent: int = 0) -> None:
        """Prepare the search; `spent`: sets tried for other states of the request."""
        self.judge, self.asked, self.state = judge, asked, state
        self.opening = np.array([state.openings[int(gate)] for gate in judge.gates])
        self.quadratic = np.array([judge.quadratic(int(gate), state.openings[int(gate)]) for gate in judge.gates])
        self.wide = np.array([judge.quadratic(int(gate), asked.full[int(gate)]) for gate in judge.gates])
        self.further = [group for group in asked.groups if any(is_shut(state.openings[gate]) for gate in group.gates)]
        most = most_sets(judge)
        self.running = np.array(open_hoods(judge.shop, state.openings))
        self.most = max(len(self.further), min(most, most_in_all(judge) - spent))
        self.tried = 0

    def find(self) -> Fix:
        """Return the smallest set that fixes: every set of 1, of 2 and so on while they are few, then greedily."""
        members = len(self.further)
        best: Flags = np.zeros(members, np.bool_)
        for size in range(1, members + 1):
            if self.tried + comb(members, size) > self.most:
                return self._greedy(best)
            found, best = self._tried(sets_of(members, range(size, size + 1), AT_ONCE))
            if found is not None:
                return self._fix(found, proven=True)
        return Fix(None, True, self.tried)

    def _greedy(self, best: Flags) -> Fix:
        """Add gates one by one to the best set so far, each time the one that leaves least wrong."""
        while not best.all():
            free = np.flatnonzero(~best)
            flags = np.repeat(best[None, :], len(free), axis=0)
            flags[np.arange(len(free)), free] = True
            found, best = self._tried([flags])
            if found is not None:
                return self._fix(found, proven=False)
        return Fix(None, False, self.tried)

    def _tried(self, sets: Iterable[Flags]) -> tuple[Flags | None, Flags]:
        """Return the best set that fixes, or None, and the set that leaves least wrong."""
        fixes: tuple[float, Flags | None] = (-np.inf, None)
        least: tuple[float, Flags] = (-np.inf, np.zeros(len(self.further), np.bool_))
        for flags in sets:
            self.tried += len(flags)
            judged = self._judged(flags)
            score = np.where(judged.known, np.minimum(judged.margin, judged.share), -1.0)
            top = int(np.argmax(score))
            if least[0] < score[top]:
                least = (float(score[top]), flags[top])
            score = np.where(judged.holds, score, -np.inf)
            top = int(np.argmax(score))
            if judged.holds[top] and (fixes[1] is None or fixes[0] < score[top]):
                fixes = (float(score[top]), flags[top])
        return fixes[1], least[1]

    def _judged(self, flags: Flags) -> Judged:
        """Judge the state with each set of further gates open; design flows count for what was open before."""
        opening = np.repeat(self.opening[None, :], len(flags), axis=0)
        quadratic = np.repeat(self.quadratic[None, :], len(flags), axis=0)
        for chosen, group in zip(flags.T, self.further, strict=True):
            for gate in group.gates:
                column = self.judge.column[gate]
                if is_shut(self.opening[column]):
                    opening[chosen, column] = self.asked.full[gate]
                    quadratic[chosen, column] = self.wide[column]
        return self.judge.judge(quadratic, opening, self.running)

    def _fix(self, flags: Flags, *, proven: bool) -> Fix:
        further = tuple(group for group, flag in zip(self.further, flags, strict=True) if flag)
        return Fix(further, proven, self.tried, self._judged(flags[None, :]))

    def changes(self, further: tuple[Group, ...]) -> list[tuple[int, float]]:
        """Return run number and opening of each gate to open."""
        return [
            (gate, self.asked.full[gate])
            for group in further
            for gate in group.gates
            if is_shut(self.state.openings[gate])
        ]
