"""Where a cheap tree may join its runs: a quick bound leaves out other places, and sets that share no duct in one."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.combined.layout.pressing import Pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import ALIKE, At, Search
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats
from airbough_service.core.choosing.placing.relaxed import Relaxed

EASY: Final = 2.0e8  # sums up to which the program runs on everything; about a tenth of a second
HARD: Final = 2.5e8  # sums up to which it runs on what is not too dear
MOST_STATES: Final = 1.0e7  # up to which it does
TOO_DEAR: Final = (1.08, 1.06, 1.04, 1.02, 1.01, 1.0)  # times a known price, what need not be looked at
FAR: Final = 0.7  # of all that may be spent is left where dearer trees are looked at besides
GUESSED: Final = (1.04, 1.12, 1.3, 1.7)  # times the quick bound, up to which a first tree is looked for


@dataclass(frozen=True, slots=True)
class Narrowed:
    """What the program works on.

    Attributes:
        priced: without what is dearer than `most`.
        at: solved so, its bound without pressure.
        by_point: shape (sets, n), what no tree costs less than in which runs become one of a set at a point, 0 where
            nobody asked; hoses not counted.
        most: price of a tree beyond which nothing was looked at; infinite where all was.
    """

    priced: Priced
    at: At
    by_point: Floats
    most: float


def narrowed(search: Search) -> Narrowed | None:
    """Return the cheapest tree without pressure, on as much as time allows; None where there is no tree."""
    work, where = search.priced, search.where
    all_of_it = np.zeros((len(work.rows.number), where.lattice.x.size))
    if search.sums(work.rows) <= EASY:
        return _solved(search, work, all_of_it, math.inf)
    quick = relaxed.solve(where.lattice, where.machines, work.rows, work.prices)
    search.left -= relaxed.work(where.lattice, len(where.machines))
    least = relaxed.least(quick, work.rows, work.prices, where.inlet)
    for times in GUESSED if math.isfinite(least) else ():
        found = _up_to(search, work, quick, times * least)
        if found is not None:
            return _farther(search, work, quick, found)
    del quick
    return _solved(search, work, all_of_it, math.inf)


def anew(search: Search, narrow: Narrowed, press: Pressing, weight: Floats, top: float) -> Narrowed:
    """Return what is left to look at of all trees that keep the rules and cost no more than so much, by weights.

    Args:
        search: what it works on; it is paid from.
        narrow: what was looked at without weights.
        press: losses of everything.
        weight: of them.
        top: price, with hoses.
    """
    work, where = search.priced, search.where
    prices, beside = press.prices(work, weight), work.hoses - press.allowed(weight)
    quick = relaxed.solve(where.lattice, where.machines, work.rows, prices)
    most = (top - beside) * (1.0 + ALIKE)
    found = relaxed.least_by_point(where.lattice, where.machines, work.rows, prices, where.inlet, quick, most)
    search.left -= relaxed.work(where.lattice, len(where.machines))
    search.left -= relaxed.work_back(where.lattice, len(where.machines), found)
    joined = work.rows.number.shape[0]
    several = np.array([group & (group - 1) != 0 for group in range(joined)])
    by_point = np.where(several[:, None], found + beside - work.hoses, found)
    return Narrowed(fewer(work, by_point, top), narrow.at, by_point, top)


def cheap(work: Priced, by_point: Floats, most: float) -> NDArray[np.bool_]:
    """Return which rows a tree may have that costs no more than so much, shape (rows,)."""
    kept: NDArray[np.bool_] = np.asarray(worth(work, by_point, most).any(axis=1))
    return kept[work.rows.group]


def worth(work: Priced, by_point: Floats, most: float) -> NDArray[np.bool_]:
    """Return where runs of such a tree may become one of a set, shape (sets, n)."""
    return np.asarray(by_point + work.hoses <= most * (1.0 + ALIKE), np.bool_)


def fewer(work: Priced, by_point: Floats, most: float) -> Priced:
    """Return what the program works on for trees that cost no more than so much."""
    kept = work.kept(cheap(work, by_point, most))
    return replace(kept, rows=kept.rows._replace(worth=worth(work, by_point, most)))


def _up_to(search: Search, work: Priced, quick: Relaxed, most: float) -> Narrowed | None:
    """Return the cheapest tree that costs no more than so much without hoses; None where there is none."""
    by_point = _by_point(search, work, quick, most)
    found = _solved(search, fewer(work, by_point, most + work.hoses), by_point, most)
    return found if found is not None and found.at.bound <= found.most * (1.0 + ALIKE) else None


def _farther(search: Search, work: Priced, quick: Relaxed, found: Narrowed) -> Narrowed:
    """Return the same, and what is dearer than the cheapest tree, as far as time allows."""
    if search.left < FAR * search.given:
        return found
    known = found.at.bound - work.hoses
    by_point = _by_point(search, work, quick, TOO_DEAR[0] * known)
    for times in TOO_DEAR:
        more = fewer(work, by_point, times * known + work.hoses)
        if search.sums(more.rows) <= HARD and more.rows.group.size * search.where.lattice.to.size <= MOST_STATES:
            break
    return _solved(search, more, by_point, times * known) or found


def _by_point(search: Search, work: Priced, quick: Relaxed, most: float) -> Floats:
    where = search.where
    found = relaxed.least_by_point(
        where.lattice, where.machines, work.rows, work.prices, where.inlet, quick, most * (1.0 + ALIKE)
    )
    search.left -= relaxed.work_back(where.lattice, len(where.machines), found)
    return found


def _solved(search: Search, work: Priced, by_point: Floats, most: float) -> Narrowed | None:
    solved = search.solve(work, work.prices)
    traced = search.traced(solved, work.prices)
    if traced is None:
        return None
    return Narrowed(work, At(solved, work.prices, traced, traced.price + work.hoses), by_point, most + work.hoses)
