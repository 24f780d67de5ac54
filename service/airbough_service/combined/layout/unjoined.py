"""Which machines no pieces of the stock bring together, where there is no arrangement at all."""

from __future__ import annotations

import numpy as np

from airbough.wire.layout import LayoutUnjoined
from airbough_service.combined.layout.search import Search
from airbough_service.core.choosing.placing import sets
from airbough_service.core.limits import below

MOST = 20


def unjoined(search: Search) -> tuple[LayoutUnjoined, ...]:
    """Return the smallest sets of machines whose sub-tree arrives nowhere; else all, which do not enter the inlet."""
    work = search.priced
    came = np.isfinite(search.solve(work, work.prices).arrived).any(axis=(1, 2))
    joined = np.zeros(len(work.rows.number), np.bool_)
    joined[work.rows.group[came]] = True
    names = [machine.id for machine in search.asked.request.machines]
    least: list[int] = []
    for group in sorted(range(1, joined.size), key=lambda one: (one.bit_count(), one)):
        if not joined[group] and not any(group & one == one for one in least):
            least.append(group)
    sizes = np.array(search.asked.shopping.sizes)

    def too_wide(group: int) -> tuple[float | None, str | None]:
        if group & (group - 1) != 0:
            return None, None
        trial, machine = search.asked.trial, group.bit_length() - 1
        port = float(search.asked.port[machine])
        if trial.hosed(machine):
            port = max(trial.shop.runs[hood].end for hood in trial.hoods[machine])
        mine = sizes[work.rows.diameter[work.rows.group == group]]
        slow = sets.clash(work.flows, joined.size - 1)[0]
        return (port, search.asked.opened[slow][0]) if mine.size and below(mine.max(), port) else (None, None)

    def named(group: int, *, to_inlet: bool = False) -> LayoutUnjoined:
        port, state = too_wide(group)
        return LayoutUnjoined(
            port=port,
            state=state,
            machines=tuple(name for number, name in enumerate(names) if group >> number & 1),
            diameters=tuple(map(float, sizes[work.rows.diameter[work.rows.group == group]])),
            to_inlet=to_inlet,
        )

    return tuple(map(named, least[:MOST])) or (named(joined.size - 1, to_inlet=True),)
