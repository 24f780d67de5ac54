"""Which layouts are another one: whose shared ducts lie elsewhere, not a little aside."""

from __future__ import annotations

import math
from typing import Final

from airbough_service.catalogue.checks import check
from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.trying import Tried, shared
from airbough_service.core.choosing.placing.trace import Stretch as Run

Spot = tuple[float, float]
Stretch = tuple[Spot, Spot]
STEP: Final = 0.1  # m, at which a duct is looked at


def chosen(pool: list[Tried], where: Places, most: int) -> list[Tried]:
    """Return the best layouts, each another one than those before it."""
    out: list[Tried] = []
    for one in sorted(pool, key=lambda tried: tried.rank):
        if len(out) < most and (not out or elsewhere(one, out, where) >= check("layout-differs").value):
            out.append(one)
    return out


def another(root: Run, best: Tried, where: Places) -> bool:
    """Return whether a tree is another layout than one."""
    return _apart(shared(root, where), shared(best.traced.root, where)) >= check("layout-differs").value


def elsewhere(one: Tried, others: list[Tried], where: Places) -> float:
    """Return what share of a layout's shared ducts lies elsewhere than those of others: the least over them."""
    mine = shared(one.traced.root, where)
    return min((_apart(mine, shared(other.traced.root, where)) for other in others), default=1.0)


def _apart(mine: list[Stretch], theirs: list[Stretch]) -> float:
    """Return what share of stretches of duct is farther from others than what counts as beside them."""
    limit, far, whole = check("layout-elsewhere").value, 0.0, 0.0
    for start, end in mine:
        length = math.dist(start, end)
        pieces = max(1, round(length / STEP))
        for piece in range(pieces):
            share = (piece + 0.5) / pieces
            spot = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
            whole += length / pieces
            if all(_distance(spot, other) > limit for other in theirs):
                far += length / pieces
    return far / whole if whole > 0.0 else 0.0


def _distance(spot: Spot, stretch: Stretch) -> float:
    (x1, y1), (x2, y2) = stretch
    size = (x2 - x1) ** 2 + (y2 - y1) ** 2
    along = 0.0 if size == 0.0 else ((spot[0] - x1) * (x2 - x1) + (spot[1] - y1) * (y2 - y1)) / size
    along = min(max(along, 0.0), 1.0)
    return math.dist(spot, (x1 + along * (x2 - x1), y1 + along * (y2 - y1)))
