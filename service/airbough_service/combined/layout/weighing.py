"""The bound with pressure: by weights of losses first, then by labels on what those leave."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from airbough.wire.layout import LayoutLack
from airbough_service.combined.layout import closing
from airbough_service.combined.layout.climbing import Climbed, climbed
from airbough_service.combined.layout.lacking import beyond, lacking
from airbough_service.combined.layout.narrowing import Narrowed, anew, cheap, fewer
from airbough_service.combined.layout.pressing import Pressing, pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import ALIKE, At, Search
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats
from airbough_service.core.choosing.placing.trace import Traced

BACK: Final = 4.0  # as many sums as one run of the program takes the way back
UP: Final = (1.0 / 16.0, 1.0 / 8.0, 1.0 / 4.0, 1.0 / 2.0, 1.0)  # of the gap, which labels close step by step
GROWS: Final = 4.0  # times as much as one of these steps the next one takes at least
AS_MUCH: Final = 2.0  # times what the quick bound takes must be left for what weights leave to be looked for
FARTHER: Final = (1.02, 1.02, 1.04, 1.08)  # times the bound, up to which that is done, one after the other
FARTHEST: Final = (1.16, 1.32, math.inf)  # times it, where none holds so far
FOR_FARTHEST: Final = 0.08  # of all that may be spent, at most, for those


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

    A state beyond the fan's curve has one that no arrangement keeps.

    Args:
        search: what was tried so far.
        narrow: what the program works on.
        work: the same with nothing left out.
    """
    press = pressing(search.asked, search.where, narrow.priced)
    if not press.binds:
        lack = beyond(search.asked)
        return Weighed(math.inf, np.zeros(press.opened.shape), press, lack) if lack else None
    found = climbed(search, narrow, press)
    nothing = not math.isfinite(search.holding())
    if nothing and (lack := lacking(search, work, quickly=True)):
        return Weighed(math.inf, found.weight, press, lack)
    found = _farther(search, narrow, work, found, FARTHER)
    if nothing and not math.isfinite(search.holding()) and (lack := lacking(search, work)):
        return Weighed(math.inf, found.weight, press, lack)
    found = _farthest(search, narrow, work, found)
    return Weighed(found.bound, found.weight, press)


def weighted(search: Search, narrow: Narrowed, found: Weighed) -> At | None:
    """Return the program solved at the weights that were found; None where that takes too long."""
    work = narrow.priced
    if not found.weight.any():
        return narrow.at
    if search.sums(work.rows) > search.left:
        return None
    prices = found.press.prices(work, found.weight)
    solved = search.solve(work, prices)
    traced = search.traced(solved, prices)
    return None if traced is None else At(solved, prices, traced, found.bound)


def _farther(search: Search, narrow: Narrowed, work: Priced, found: Climbed, shares: tuple[float, ...]) -> Climbed:
    """Return the bound raised by what weights leave of all that is not too dear, by better ones and by labels."""
    quick = relaxed.work(search.where.lattice, len(search.where.machines))
    for share in shares:
        top = min(search.holding(), share * found.bound)
        if search.proven(found.bound) or search.left < AS_MUCH * quick:
            break
        everything = pressing(search.asked, search.where, work)
        again = anew(search, narrow, everything, found.weight, top)
        own = everything.kept(cheap(work, again.by_point, top))
        all_of_it = math.isinf(top)  # no price to climb to: where labels find none, there is none
        found = replace(found, narrow=again, press=own) if all_of_it else climbed(search, again, own, found)
        found = replace(found, bound=max(found.bound, _closed(search, found, top)))
        if found.bound < top * (1.0 - ALIKE):
            break
    return found


def _farthest(search: Search, narrow: Narrowed, work: Priced, found: Climbed) -> Climbed:
    """Return the same, where none holds so far, of ever dearer trees and at last of all; a part of the work pays."""
    if math.isfinite(search.holding()):
        return found
    kept = max(search.left - FOR_FARTHEST * search.given, 0.0)
    search.left -= kept
    found = _farther(search, narrow, work, found, FARTHEST)
    search.left += kept
    return found


def _closed(search: Search, found: Climbed, top: float) -> float:
    """Return the bound raised as far as labels can tell, and try the cheapest trees that they find.

    A tree that is found may cost more than what was looked up to, since pressure that it leaves makes it cheaper by
    weight; only up to there, and then up to it, is none left out.
    """
    first = bound = found.bound
    left = _left(search, found, top) if top > bound else None
    if left is None:
        return bound
    least, trees, early = math.inf, list[Traced](), list[Traced]()
    for share in UP:
        before, most = search.left, min(first + share * (top - first), least)
        cheapest, whole = closing.cheapest(search, left, found.weight, most)
        if not whole:
            break
        if cheapest:
            early = early or cheapest[:1]
            trees, least = cheapest, cheapest[0].price + left.priced.hoses
        bound = max(bound, min(most, least))
        if bound >= least or GROWS * (before - search.left) > search.left - closing.SIZED * search.trying:
            break
    for one in [*early, *trees[: closing.SIZED - 1]]:  # what was found first leaves pressure
        if not search.proven(bound) and search.left > 0.0:
            search.try_(one)
    return bound


def _left(search: Search, found: Climbed, top: float) -> closing.Left | None:
    """Return what is left of the rows by both bounds; None where finding it takes too long."""
    narrow, weight = found.narrow, found.weight
    work = fewer(narrow.priced, narrow.by_point, top)
    press = found.press.kept(cheap(narrow.priced, narrow.by_point, top))
    if (1.0 + BACK) * search.sums(work.rows) > search.left:
        return None
    prices = press.prices(work, weight)
    solved = search.solve(work, prices)
    search.left -= BACK * search.sums(work.rows)
    still = closing.still_of(search.where, solved, prices)
    whole = (solved.arrived + still).min(axis=(1, 2)) + work.hoses - press.allowed(weight)
    keep = (whole <= top * (1.0 + ALIKE)) | (work.rows.group & (work.rows.group - 1) == 0)
    return closing.Left(work.kept(keep), press.kept(keep), still[keep])
