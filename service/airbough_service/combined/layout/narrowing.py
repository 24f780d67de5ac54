"""Which sets of machines a cheap tree may share ducts by: a quick bound leaves the others out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import ALIKE, At, Search
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats

EASY: Final = 1.0e9  # sums up to which the program runs on everything; about half a second
HARD: Final = 1.5e9  # sums up to which it runs on what is not too dear
TOO_DEAR: Final = (1.1, 1.06, 1.03, 1.01, 1.0)  # times a known price, what need not be looked at


@dataclass(frozen=True, slots=True)
class Narrowed:
    """What the program works on.

    Attributes:
        priced: without what is dearer than `most`.
        at: solved so, its bound without pressure.
        by_set: shape (sets,), what no tree costs less than that shares a duct by a set, 0 where nobody asked; hoses
            not counted.
        most: price of a tree beyond which rows are left out; infinite where none is.
    """

    priced: Priced
    at: At
    by_set: Floats
    most: float


def narrowed(search: Search) -> Narrowed | None:
    """Return the cheapest tree without pressure, on as many sets as time allows; None where there is no tree."""
    work, where = search.priced, search.where
    if search.sums(work) <= EASY:
        return _solved(search, work, np.zeros(len(work.rows.number)), math.inf)
    known = _known(search)
    quick = relaxed.solve(where.lattice, where.machines, work.rows, work.prices)
    search.left -= where.lattice.to.size * 3.0 ** len(where.machines)
    limit = TOO_DEAR[0] * known
    by_set = relaxed.least_by_set(where.lattice, where.machines, work.rows, work.prices, where.inlet, quick, limit)
    del quick
    if not math.isfinite(known):
        return _solved(search, work, by_set, math.inf)
    for times in TOO_DEAR:
        fewer = work.kept(cheap(work, by_set, times * known + work.hoses))
        if search.sums(fewer) <= HARD:
            break
    return _solved(search, fewer, by_set, times * known)


def cheap(work: Priced, by_set: Floats, most: float) -> NDArray[np.bool_]:
    """Return which rows a tree may have that costs no more than so much, shape (rows,)."""
    return np.asarray(by_set[work.rows.group] + work.hoses <= most * (1.0 + ALIKE), np.bool_)


def _known(search: Search) -> float:
    """Return the price of some tree: the cheapest in which each set has its narrowest diameter."""
    work = search.priced
    number = work.rows.number
    first = np.where(number >= 0, number, np.iinfo(number.dtype).max).min(axis=1)
    keep = np.zeros(work.rows.group.size, np.bool_)
    keep[first[first < keep.size]] = True
    one = work.kept(keep)
    traced = search.traced(search.solve(one, one.prices), one.prices)
    return math.inf if traced is None else traced.price


def _solved(search: Search, work: Priced, by_set: Floats, most: float) -> Narrowed | None:
    solved = search.solve(work, work.prices)
    traced = search.traced(solved, work.prices)
    if traced is None:
        return None
    return Narrowed(work, At(solved, work.prices, traced, traced.price + work.hoses), by_set, most + work.hoses)
