"""The bound with pressure: by weights of losses first, then by labels on what those leave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from airbough.wire.layout import LayoutLack
from airbough_service.combined.layout import closing
from airbough_service.combined.layout.lacking import lacking
from airbough_service.combined.layout.narrowing import Narrowed, cheap, fewer
from airbough_service.combined.layout.pressing import Pressing, pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import ALIKE, At, Search
from airbough_service.combined.layout.trying import PRESSURE
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats
from airbough_service.core.choosing.placing.trace import Traced

STEPS: Final = 40  # along the subgradient
PATIENCE: Final = 3  # steps without a higher bound, until they are halved
LEAST_STEP: Final = 1.0e-3  # of the bound, which a step aims above it at least
TRIED: Final = 8  # trees sized on the way
BACK: Final = 4.0  # as many sums as one run of the program takes the way back
UP: Final = (1.0 / 16.0, 1.0 / 8.0, 1.0 / 4.0, 1.0 / 2.0, 1.0)  # of the gap, which labels close step by step
FAR_OFF: Final = 0.1  # of the pressure that there is, by which a layout may pass it until it seems that all do
ABOVE: Final = 1.1  # times the price to aim at where no layout holds
UNKNOWN: Final = 1.16  # times the bound, up to which labels look where no layout holds
DOWN: Final = (1.0, 0.6, 0.4, 0.25, 0.1, 0.0)  # of what lies above the bound, as far as the program looks at once


@dataclass(frozen=True, slots=True)
class Weighed:
    """What pressure says.

    Attributes:
        bound: no arrangement that keeps the rules is cheaper; infinite where none has the pressure.
        weight: of losses, which prove it but for what labels add; shape (states, machines).
        press: the losses.
        lack: states for which no arrangement has pressure.
    """

    bound: float
    weight: Floats
    press: Pressing
    lack: tuple[LayoutLack, ...] = ()


def weighed(search: Search, narrow: Narrowed, work: Priced) -> Weighed | None:
    """Return the highest bound; trees on the way are tried. None where no state has a limit.

    Args:
        search: what was tried so far.
        narrow: what the program works on.
        work: the same with nothing left out.
    """
    press = pressing(search.asked, search.where, narrow.priced)
    if not press.binds:
        return None
    bound, weight = _stepped(search, narrow, press)
    lack = () if math.isfinite(search.holding()) else lacking(search, work)
    if lack:
        return Weighed(math.inf, weight, press, lack)
    if not search.proven(bound):
        bound = _closed(search, narrow, press, bound, weight)
    return Weighed(bound, weight, press)


def weighted(search: Search, narrow: Narrowed, found: Weighed) -> At | None:
    """Return the program solved at the weights that were found; None where that takes too long."""
    work = narrow.priced
    if search.sums(work.rows) > search.left:
        return None
    prices = found.press.prices(work, found.weight)
    solved = search.solve(work, prices)
    traced = search.traced(solved, prices)
    return None if traced is None else At(solved, prices, traced, found.bound)


def _stepped(search: Search, narrow: Narrowed, press: Pressing) -> tuple[float, Floats]:
    """Return the bound raised by what pressure costs, and its weights, by Polyak's steps along the subgradient."""
    none = np.zeros(press.opened.shape)
    here = best = (narrow.at.bound, none, narrow.at.traced)
    step, failed, work, own, most = 1.0, 0, narrow.priced, press, -math.inf
    for _ in range(STEPS):
        bound, weight, traced = here
        lost = press.lost(search.where, narrow.priced, weight, traced) - press.available[:, None]
        over = np.where(press.opened & np.isfinite(lost) & ((lost > 0.0) | (weight > 0.0)), lost, 0.0)
        if not over.any() or search.proven(best[0]):
            break
        top = min(search.holding(), narrow.most)
        if best[0] >= most or most > top:
            work, own, most = _affordable(search, narrow, press, best[0], top)
        if search.left < 2.0 * search.sums(work.rows) + _held_back(search):
            break
        far = max(_aim(search, bound) - bound, LEAST_STEP * bound)
        weight = np.maximum(0.0, weight + step * far / float((over**2).sum()) * over)
        prices = own.prices(work, weight)
        found = search.traced(search.solve(work, prices), prices)
        if found is None:
            break
        here = (min(found.price + work.hoses - press.allowed(weight), most), weight, found)
        if len(search.pool) < TRIED and _may_gain(search, narrow.priced, press, weight, found):
            search.try_(found)
        if here[0] > best[0]:
            best, failed = here, 0
            continue
        failed += 1
        if failed == PATIENCE:
            here, step, failed = best, step / 2.0, 0
    return best[0], best[1]


def _held_back(search: Search) -> float:
    """Return how many sums are left for telling what pressure is missing, where so much is that it may be in all."""
    if math.isfinite(search.holding()) or not search.pool:
        return 0.0
    missed = max((item.share or 0.0 for item in search.best.sized.broken if item.rule in PRESSURE), default=0.0)
    return relaxed.work(search.where.lattice, len(search.where.machines)) if missed > FAR_OFF else 0.0


def _affordable(
    search: Search, narrow: Narrowed, press: Pressing, bound: float, top: float
) -> tuple[Priced, Pressing, float]:
    """Return what the program works on for trees up to a price, as far as all steps together can be paid for."""
    for share in DOWN:
        most = bound + share * (top - bound) if math.isfinite(top) else math.inf
        work = fewer(narrow.priced, narrow.by_point, most)
        if not math.isfinite(top) or search.sums(work.rows) * STEPS <= search.left:
            break
    return work, press.kept(cheap(narrow.priced, narrow.by_point, most)), most


def _may_gain(search: Search, priced: Priced, press: Pressing, weight: Floats, traced: Traced) -> bool:
    """Return whether a tree costs less, without its weighted losses, than the best that holds."""
    lost = press.lost(search.where, priced, weight, traced)
    plain = traced.price - float((weight * np.where(np.isfinite(lost), lost, 0.0)).sum())
    return plain + priced.hoses < search.holding()


def _aim(search: Search, bound: float) -> float:
    """Return the price of the best layout that keeps the rules, else a little more than of any, else than the bound."""
    holding = [float(one.price) for one in search.pool if not one.broken]
    return min(holding, default=ABOVE * min((float(one.price) for one in search.pool), default=bound))


def _closed(search: Search, narrow: Narrowed, press: Pressing, bound: float, weight: Floats) -> float:
    """Raise the bound as far as labels can tell, and try the cheapest trees that they find."""
    first, top = bound, min(search.holding(), narrow.most, UNKNOWN * bound)
    left = _left(search, narrow, press, weight, top) if top > bound else None
    if left is None:
        return bound
    for share in UP:
        most = first + share * (top - first)
        found, whole = closing.cheapest(search, left, weight, most)
        if not whole:
            break
        for one in found:
            if not search.proven(found[0].price + left.priced.hoses):
                search.try_(one)
        if found:
            return found[0].price + left.priced.hoses
        bound = most
    return bound


def _left(search: Search, narrow: Narrowed, press: Pressing, weight: Floats, top: float) -> closing.Left | None:
    """Return what is left of the rows by both bounds; None where finding it takes too long."""
    work = fewer(narrow.priced, narrow.by_point, top)
    press = press.kept(cheap(narrow.priced, narrow.by_point, top))
    if (1.0 + BACK) * search.sums(work.rows) > search.left:
        return None
    prices = press.prices(work, weight)
    solved = search.solve(work, prices)
    search.left -= BACK * search.sums(work.rows)
    still = closing.still_of(search.where, solved, prices)
    whole = (solved.arrived + still).min(axis=(1, 2)) + work.hoses - press.allowed(weight)
    keep = (whole <= top * (1.0 + ALIKE)) | (work.rows.group & (work.rows.group - 1) == 0)
    return closing.Left(work.kept(keep), press.kept(keep), still[keep])
