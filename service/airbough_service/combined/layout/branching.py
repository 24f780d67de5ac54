"""Further layouts where the program's cheapest do not do: kept off a place where runs cross, or joined otherwise.

Best first: the cheapest tree without some ducts is tried, and then what it may not have besides. Of two runs that share
a place without joining there, one stays away from it; where nothing overlaps, some machines share no duct alone.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import count
from typing import Final

from airbough_service.combined.layout.search import At, Search
from airbough_service.core.choosing.placing import program
from airbough_service.core.choosing.placing.program import ANYWHERE, Apart
from airbough_service.core.choosing.placing.trace import Traced

SHARE: Final = 0.25  # of all that may be spent
LESS: Final = 2.0 / 3.0  # of the program's sums are left for each machine of a set whose ducts change


def branched(search: Search, at: At, beside: float) -> None:
    """Try further trees, as long as they may cost less than what holds.

    Args:
        search: what it works on; it is paid from.
        at: the program solved, and its tree.
        beside: what a layout costs at least beside the program's price.
    """
    where, number = search.where, count()
    until = max(search.left - SHARE * search.given, 0.0)
    waiting = [(at.traced.price, next(number), frozenset[Apart](), at.traced)]
    seen = {waiting[0][2]}
    while waiting:
        price, _, without, traced = heapq.heappop(waiting)
        if price + beside >= search.holding():
            return
        for more in _apart(traced):
            apart = without | {more}
            if apart in seen:
                continue
            seen.add(apart)
            share = search.sums(at.solved.rows) * min(sum(LESS ** one.group.bit_count() for one in apart), 1.0)
            if search.left - share - search.trying < until:
                return
            search.left -= share
            other, saved = program.solve_apart(where.lattice, where.machines, at.solved, at.prices, apart)
            found = search.traced(other, at.prices)
            program.restore(at.solved, saved)
            if found is not None and found.price + beside < search.holding():
                search.try_(found)
                heapq.heappush(waiting, (found.price, next(number), apart, found))


def _apart(traced: Traced) -> Iterator[Apart]:
    """Yield what a tree may have no longer, one of them at a time."""
    for point in traced.overlaps[:1]:
        groups = {run.machines for run in traced.root.runs() if point in run.points}
        yield from (Apart(group, point) for group in sorted(groups))
    whole = traced.root.machines
    joined = {run.machines for run in traced.root.runs() if run.machines & (run.machines - 1)} - {whole}
    yield from (Apart(group, ANYWHERE) for group in sorted(joined, key=lambda one: (-one.bit_count(), one)))
