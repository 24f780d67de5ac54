"""The bound with pressure: by weights of losses first, then by labels on what those leave."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from airbough.wire.layout import LayoutLack
from airbough_service.combined.layout import closing
from airbough_service.combined.layout.lacking import lacking
from airbough_service.combined.layout.narrowing import Narrowed, cheap
from airbough_service.combined.layout.pressing import Pressing, pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import ALIKE, At, Search
from airbough_service.core.choosing.placing.program import Floats

STEPS: Final = 40  # along the subgradient
PATIENCE: Final = 3  # steps without a higher bound, until they are halved
LEAST_STEP: Final = 1.0e-3  # of the bound, which a step aims above it at least
TRIED: Final = 8  # trees sized on the way
BACK: Final = 4.0  # as many sums as one run of the program takes the way back
UP: Final = (1.0 / 16.0, 1.0 / 8.0, 1.0 / 4.0, 1.0 / 2.0, 1.0)  # of the gap, which labels close step by step
ABOVE: Final = 1.1  # times the price to aim at where no layout holds
UNKNOWN: Final = 1.16  # times the bound, up to which labels look where no layout holds


@dataclass(frozen=True, slots=True)
class _Weighed:
    """A bound, and the weights that prove it."""

    at: At
    weight: Floats


def weighed(search: Search, fewer: Narrowed, work: Priced) -> tuple[At, tuple[LayoutLack, ...]]:
    """Return the highest bound, and the states for which no arrangement has pressure; trees on the way are tried.

    Args:
        search: what was tried so far.
        fewer: what the program works on.
        work: the same with nothing left out.
    """
    press = pressing(search.asked, search.where, fewer.priced)
    if not press.binds:
        return fewer.at, ()
    best = _stepped(search, fewer, press)
    lack = () if math.isfinite(search.holding()) else lacking(search, work)
    if lack:
        return replace(best.at, bound=math.inf), lack
    if search.proven(best.at.bound):
        return best.at, ()
    return replace(best.at, bound=_closed(search, fewer, press, best)), ()


def _stepped(search: Search, fewer: Narrowed, press: Pressing) -> _Weighed:
    """Raise the bound by what pressure costs, by Polyak's steps along the subgradient."""
    work, sums = fewer.priced, search.sums(fewer.priced)
    here = best = _Weighed(fewer.at, np.zeros(press.opened.shape))
    step, failed = 1.0, 0
    for _ in range(STEPS):
        lost = press.lost(search.where, work, here.weight, here.at.traced) - press.available[:, None]
        over = np.where(press.opened & np.isfinite(lost) & ((lost > 0.0) | (here.weight > 0.0)), lost, 0.0)
        if not over.any() or search.left < 2.0 * sums or search.proven(best.at.bound):
            break
        far = max(_aim(search, here.at.bound) - here.at.bound, LEAST_STEP * here.at.bound)
        weight = np.maximum(0.0, here.weight + step * far / float((over**2).sum()) * over)
        prices = press.prices(work, weight)
        solved = search.solve(work, prices)
        traced = search.traced(solved, prices)
        if traced is None:
            break
        bound = min(traced.price + work.hoses - press.allowed(weight), fewer.most)
        here = _Weighed(At(solved, prices, traced, bound), weight)
        if len(search.pool) < TRIED:
            search.try_(traced)
        if here.at.bound > best.at.bound:
            best, failed = here, 0
            continue
        failed += 1
        if failed == PATIENCE:
            here, step, failed = best, step / 2.0, 0
    return best


def _aim(search: Search, bound: float) -> float:
    """Return the price of the best layout that keeps the rules, else a little more than of any, else than the bound."""
    holding = [float(one.price) for one in search.pool if not one.broken]
    return min(holding, default=ABOVE * min((float(one.price) for one in search.pool), default=bound))


def _closed(search: Search, fewer: Narrowed, press: Pressing, best: _Weighed) -> float:
    """Raise the bound as far as labels can tell, and try the cheapest trees that they find."""
    bound = best.at.bound
    top = min(search.holding(), fewer.most, UNKNOWN * bound)
    if top <= bound:
        return bound
    left = _left(search, fewer, press, best.weight, top)
    if left is None:
        return bound
    for share in UP:
        most = best.at.bound + share * (top - best.at.bound)
        found, whole = closing.cheapest(search.where, left, best.weight, most)
        if not whole:
            break
        for one in found:
            if not search.proven(found[0].price + left.priced.hoses):
                search.try_(one)
        if found:
            return found[0].price + left.priced.hoses
        bound = most
    return bound


def _left(search: Search, fewer: Narrowed, press: Pressing, weight: Floats, top: float) -> closing.Left | None:
    """Return what is left of the rows by both bounds; None where finding it takes too long."""
    keep = cheap(fewer.priced, fewer.by_set, top)
    work, press = fewer.priced.kept(keep), press.kept(keep)
    if (1.0 + BACK) * search.sums(work) > search.left:
        return None
    prices = press.prices(work, weight)
    solved = search.solve(work, prices)
    search.left -= BACK * search.sums(work)
    still = closing.still_of(search.where, solved, prices)
    whole = (solved.arrived + still).min(axis=(1, 2)) + work.hoses - press.allowed(weight)
    keep = (whole <= top * (1.0 + ALIKE)) | (work.rows.group & (work.rows.group - 1) == 0)
    return closing.Left(work.kept(keep), press.kept(keep), still[keep])
