"""The search: the program's cheapest tree, others that share ducts otherwise, each sized and solved by the engine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from airbough.wire.problem import Fault
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.branching import branched
from airbough_service.combined.layout.clashing import clashes
from airbough_service.combined.layout.different import another, chosen
from airbough_service.combined.layout.narrowing import Narrowed, narrowed
from airbough_service.combined.layout.places import Places, corridors
from airbough_service.combined.layout.pressing import limits
from airbough_service.combined.layout.pricing import priced
from airbough_service.combined.layout.search import At, Found, Search
from airbough_service.combined.layout.trying import unsized
from airbough_service.combined.layout.unjoined import unjoined
from airbough_service.combined.layout.weighing import weighed, weighted
from airbough_service.core.choosing.placing import outside, program, relaxed
from airbough_service.core.choosing.placing.program import Apart
from airbough_service.core.choosing.placing.trace import Traced
from airbough_service.terms.refusal import Refusal

MOST_NUMBERS: Final = 8.0e7  # floats that the program may hold
MOST_WORK: Final = 4.0e9  # sums in one quick run of the program
OUTSIDE: Final = 4.0  # as many sums as one run of the program takes the way back


def searched(asked: Asked, where: Places) -> Found:
    """Return what was found."""
    work = priced(asked, where)
    search = Search(asked, where, work)
    sets, size = len(work.rows.number), where.lattice.to.size
    quick = relaxed.work(where.lattice, len(where.machines))
    if 7.0 * sets * size > MOST_NUMBERS or quick > MOST_WORK * asked.request.effort:
        detail = "so many machines and lines cannot be searched; give fewer corners or boxes, headings of 90, or parts"
        raise Refusal("not-computable", [Fault(path="machines", code="too-large", detail=detail)])
    why = clashes(asked, work)
    narrow = narrowed(search)
    if narrow is None:
        return Found([], math.inf, why, unjoined=() if why else unjoined(search))
    free = narrow.at
    search.try_(free.traced)
    along = _corridors(search, narrow)
    pressed = None if search.proven(free.bound) else weighed(search, narrow, work)
    bound = free.bound if pressed is None else pressed.bound
    if not search.proven(bound) or asked.request.alternatives > 1:
        at = free if pressed is None else weighted(search, narrow, pressed)
        for traced in () if at is None else _others(search, at):
            if not search.proven(bound) or another(traced.root, search.best, where):
                search.try_(traced)
        if at is not None and not search.proven(bound) and math.isfinite(bound):
            branched(search, at, work.hoses - (0.0 if pressed is None else pressed.press.allowed(pressed.weight)))
    layouts = chosen(search.pool, where, asked.request.alternatives)
    left = () if layouts else unsized(asked, where, free.traced)
    lack = () if pressed is None else pressed.lack
    unlimited = not np.isfinite(limits(asked)[1]).any()
    return Found(layouts, bound, why, along, narrow.most, free.bound, lack, unsized=left, unlimited=unlimited)


def _corridors(search: Search, narrow: Narrowed) -> list[tuple[str, float]]:
    """Return the least price with some duct along each wall and corridor; none where that takes too long."""
    work, where = narrow.priced, search.where
    spent = OUTSIDE * search.sums(work.rows)
    if spent > search.left:
        return []
    search.left -= spent
    still = outside.still(where.lattice, where.machines, narrow.at.solved, work.prices, where.inlet)
    return [
        (name, outside.least_along(where.lattice, narrow.at.solved, still, along) + work.hoses)
        for name, along in corridors(search.asked.request, where.lattice)
    ]


def _others(search: Search, at: At) -> Iterator[Traced]:
    """Yield the cheapest trees in which some machines share no duct alone that do in the best."""
    where, sums = search.where, search.sums(at.solved.rows)
    joined = {run.machines for run in at.traced.root.runs() if run.machines & (run.machines - 1)}
    whole = (1 << len(where.machines)) - 1
    for group in sorted(joined - {whole}, key=lambda one: (-one.bit_count(), one)):
        share = sums * (2.0 / 3.0) ** group.bit_count()
        if share > search.left:
            break
        search.left -= share
        apart = [Apart(group, program.ANYWHERE)]
        other, saved = program.solve_apart(where.lattice, where.machines, at.solved, at.prices, apart)
        traced = search.traced(other, at.prices)
        program.restore(at.solved, saved)
        if traced is not None:
            yield traced
