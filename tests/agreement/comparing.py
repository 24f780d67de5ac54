"""Where tellers of one fact tell different things."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from agreement.facts import Fact, Pool

CLOSE = 1.0e-9
SIZES = {
    "pressure": 1000.0,
    "suction": 1000.0,
    "power": 1000.0,
    "loss": 1000.0,
    "flow": 0.1,
    "total": 0.1,
    "exhaust": 0.1,
}
"""Usual size of a fact in SI by a word of its name, for values near nothing; else 1."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two tellers of one fact that tell different things."""

    fact: Fact
    one: str
    told: Any
    other: str
    other_told: Any

    def __str__(self) -> str:
        what, state, of = self.fact
        return f"{what} [{state}] {of}: {self.one} {self.told!r}, {self.other} {self.other_told!r}"


def alike(what: str, one: Any, other: Any, close: float = CLOSE) -> bool:
    """Return whether two values of a fact are the same, numbers within `close`."""
    if isinstance(one, float) and isinstance(other, float):
        size = next((size for word, size in SIZES.items() if word in what), 1.0)
        return math.isclose(one, other, rel_tol=close, abs_tol=close * size)
    return bool(one == other)


def disagreements(pool: Pool, close: float = CLOSE) -> list[Disagreement]:
    """Return every pair of tellers that do not tell the same of a fact."""
    out = []
    for fact, tellers in pool.items():
        what, first = fact[0], tellers[0][1]
        if all(first == told for _, told in tellers):
            continue
        for (one, told), (other, other_told) in combinations(tellers, 2):
            if not alike(what, told, other_told, close):
                out.append(Disagreement(fact, one, told, other, other_told))
    return out


def between(pool: Pool, other: Pool, how: str, close: float, but: Iterable[str] = ()) -> list[Disagreement]:
    """Return where each teller tells one thing of a case and another of one that should be the same."""
    out, left_out = [], set(but)
    for fact, tellers in pool.items():
        there = dict(other.get(fact, ()))
        for teller, told in tellers:
            if fact[0] in left_out:
                continue
            if teller not in there:
                out.append(Disagreement(fact, teller, told, f"{teller}, {how}", "nothing"))
            elif not alike(fact[0], told, there[teller], close):
                out.append(Disagreement(fact, teller, told, f"{teller}, {how}", there[teller]))
    return out
