"""Every state that a request asks for, judged."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.network.judged_states import Noted
from airbough_service.questions.gate_states.judge import (
    Judge,
    Judged,
    tally,
)
from airbough_service.questions.gate_states.states_asked import (
    AskedStates,
    State,
)
from airbough_service.shop.gates import shut_off

Floats = NDArray[np.float64]
KINDS: Final = ("settling", "starving", "suction", "motor_power")
AT_ONCE: Final = 10_000


@dataclass(slots=True)
class Examined:
    """Every state, judged.

    Attributes:
        judge: what judged them.
        asked: what was asked for.
        first: all gates shut, and the named states.
        judged: arrays by state.
        noted: which runs fail.
    """

    judge: Judge
    asked: AskedStates
    first: tuple[State, ...]
    judged: Judged
    noted: Noted

    def state(self, number: int) -> State:
        """Return a state by its number."""
        if number < len(self.first):
            return self.first[number]
        if number >= self.asked.count:
            raise IndexError(number)
        return self.asked.at(number - len(self.first))

    def all(self) -> Iterator[State]:
        """Yield every state in order."""
        yield from self.first
        for flags in self.asked.sets(AT_ONCE):
            yield from map(self.asked.of_set, flags)

    def worst(self) -> dict[str, int]:
        """Return the number of the worst state by kind, where anything was judged; the first of equal ones."""
        judged = self.judged
        power = np.where(np.isfinite(judged.power), judged.power, -np.inf)
        scores = (judged.margin, judged.share, -judged.suction, -power)
        return {
            kind: int(np.argmin(score)) for kind, score in zip(KINDS, scores, strict=True) if np.isfinite(score).any()
        }


def examine(judge: Judge, asked: AskedStates) -> Examined:
    """Judge every state."""
    first = asked.first()
    noted = tally(len(judge.shop.runs))
    opening = np.array([[state.openings[int(gate)] for gate in judge.gates] for state in first])
    opening = opening.reshape(len(first), len(judge.gates))
    parts = [judge.judge(_quadratic(judge, opening), opening, noted=noted)]
    rest = np.array([asked.document.get(int(gate), 0.0) for gate in judge.gates])
    full = np.array([asked.full[int(gate)] for gate in judge.gates])
    shut_loss, full_loss = _quadratic(judge, np.array([rest, full]))
    member = np.full(len(judge.gates), -1)
    for number, group in enumerate(asked.combined):
        member[[judge.column[gate] for gate in group.gates]] = number
    for flags in asked.sets(AT_ONCE):
        is_open = np.where(member[None, :] >= 0, flags[:, member], False)
        parts.append(judge.judge(np.where(is_open, full_loss, shut_loss), np.where(is_open, full, rest), noted=noted))
    judged = Judged(*(np.concatenate([getattr(part, name.name) for part in parts]) for name in fields(Judged)))
    for number, state in enumerate(first):  # a machine without gates is cut off only where a state names it
        judged.cut_off[number] |= bool(shut_off(judge.shop, state.openings, state.gates.named))
    return Examined(judge, asked, first, judged, noted.by_run)


def _quadratic(judge: Judge, opening: Floats) -> Floats:
    """Return the coefficient of each gate at its opening, Pa per (m3/s)^2; both of shape (states, gates)."""
    out = np.empty_like(opening)
    for column, gate in enumerate(judge.gates):
        shares, where = np.unique(opening[:, column], return_inverse=True)
        out[:, column] = np.array([judge.quadratic(int(gate), float(share)) for share in shares])[where]
    return out
