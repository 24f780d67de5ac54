"""Weights of losses that raise the bound, step by step, and trees that turn up on the way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from airbough_service.combined.layout.narrowing import Narrowed, cheap, fewer
from airbough_service.combined.layout.pressing import Pressing
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.search import Search
from airbough_service.combined.layout.trying import PRESSURE
from airbough_service.core.choosing.placing import relaxed
from airbough_service.core.choosing.placing.program import Floats
from airbough_service.core.choosing.placing.trace import Traced

STEPS: Final = 20  # along the subgradient
FURTHER: Final = 10  # of them from weights that were found before, for which there must be time
FINEST: Final = 0.1  # of a step, below which there are no more
PATIENCE: Final = 2  # steps without a higher bound, until they are halved
LEAST_STEP: Final = 1.0e-3  # of the bound, which a step aims above it at least
TRIED: Final = 4  # trees sized on the way
FAR_OFF: Final = 0.1  # of the pressure that there is, by which a layout may pass it until it seems that all do
ABOVE: Final = 1.1  # times the price to aim at where no layout holds
NEAR: Final = 0.05  # of the pressure that there is, by which a tree may pass it and still be sized once one holds
DOWN: Final = (1.0, 0.6, 0.4, 0.25, 0.1, 0.0)  # of what lies above the bound, as far as the program looks at once


@dataclass(frozen=True, slots=True)
class Climbed:
    """The highest bound so far.

    Attributes:
        bound: no arrangement that keeps the rules is cheaper.
        weight: of losses, shape (states, machines), that prove it.
        narrow: what was looked at.
        press: its losses.
    """

    bound: float
    weight: Floats
    narrow: Narrowed
    press: Pressing


@dataclass(slots=True)
class _Step:
    """Where the climb stands: a bound, its weights, and the tree that is cheapest by them."""

    bound: float
    weight: Floats
    traced: Traced


@dataclass(slots=True)
class _Program:
    """What each step works on: trees up to a price."""

    work: Priced
    press: Pressing
    most: float = -math.inf


def climbed(search: Search, narrow: Narrowed, press: Pressing, before: Climbed | None = None) -> Climbed:
    """Return the bound raised by what pressure costs, by Polyak's steps along the subgradient.

    Args:
        search: what it works on; it is paid from, and on the way trees are tried.
        narrow: what is looked at.
        press: its losses.
        before: where to go on from; None: from no weights, at what `narrow` was solved at.
    """
    none = np.zeros(press.opened.shape)
    best = Climbed(narrow.at.bound, none, narrow, press) if before is None else before
    here = _Step(narrow.at.bound, none, narrow.at.traced) if before is None else None
    highest, size, failed, program = here, 1.0, 0, _Program(narrow.priced, press)
    steps = STEPS if before is None else FURTHER
    for _ in range(steps):
        if here is not None and (search.proven(best.bound) or not _over(search, narrow, press, here).any()):
            break
        _widened(search, narrow, press, best.bound, program, steps)
        if best.bound >= program.most or search.left < 2.0 * search.sums(program.work.rows) + _held_back(search):
            break
        weight = best.weight if here is None else _onward(search, narrow, press, here, size, aimed=before is not None)
        here = _solved(search, press, program, weight)
        if here is None:
            return Climbed(max(best.bound, program.most), best.weight, narrow, press)
        if before is None and len(search.pool) < TRIED and _may_gain(search, narrow.priced, press, here):
            search.try_(here.traced)
        if here.bound > best.bound:
            best = Climbed(here.bound, here.weight, narrow, press)
        if highest is None or here.bound > highest.bound:
            highest, failed = here, 0
            continue
        failed += 1
        if failed == PATIENCE:
            here, size, failed = highest, size / 2.0, 0
        if size < FINEST:
            break
    return Climbed(best.bound, best.weight, narrow, press)


def _solved(search: Search, press: Pressing, program: _Program, weight: Floats) -> _Step | None:
    """Return the bound at some weights, no more than what was looked up to; None where no tree is as cheap."""
    prices = program.press.prices(program.work, weight)
    found = search.traced(search.solve(program.work, prices), prices)
    if found is None:
        return None
    return _Step(min(found.price + program.work.hoses - press.allowed(weight), program.most), weight, found)


def _over(search: Search, narrow: Narrowed, press: Pressing, here: _Step) -> Floats:
    """Return by how much the tree's losses pass what there is, Pa, where weights may go up or down."""
    lost = press.lost(search.where, narrow.priced, here.weight, here.traced) - press.available[:, None]
    return np.asarray(
        np.where(press.opened & np.isfinite(lost) & ((lost > 0.0) | (here.weight > 0.0)), lost, 0.0), float
    )


def _onward(search: Search, narrow: Narrowed, press: Pressing, here: _Step, size: float, *, aimed: bool) -> Floats:
    """Return the weights one step on; `aimed`: toward the price up to which is looked."""
    over = _over(search, narrow, press, here)
    aim = min(search.holding(), narrow.most) if aimed else _aim(search, here.bound)
    far = max(aim - here.bound, LEAST_STEP * here.bound)
    return np.asarray(np.maximum(0.0, here.weight + size * far / float((over**2).sum()) * over), float)


def _widened(search: Search, narrow: Narrowed, press: Pressing, bound: float, program: _Program, steps: int) -> None:
    """Let the program work on trees up to a price, as far as so many steps can be paid for."""
    top = min(search.holding(), narrow.most)
    if bound < program.most <= top:
        return
    for share in DOWN:
        program.most = bound + share * (top - bound) if math.isfinite(top) else math.inf
        program.work = fewer(narrow.priced, narrow.by_point, program.most)
        if not math.isfinite(top) or search.sums(program.work.rows) * steps <= search.left:
            break
    program.press = press.kept(cheap(narrow.priced, narrow.by_point, program.most))


def _held_back(search: Search) -> float:
    """Return how many sums are left for telling what pressure is missing, where so much is that it may be in all."""
    if math.isfinite(search.holding()) or not search.pool:
        return 0.0
    missed = max((item.share or 0.0 for item in search.best.sized.broken if item.rule in PRESSURE), default=0.0)
    return relaxed.work(search.where.lattice, len(search.where.machines)) if missed > FAR_OFF else 0.0


def _may_gain(search: Search, priced: Priced, press: Pressing, here: _Step) -> bool:
    """Return whether a tree costs less, without its weighted losses, than the best that holds, and may hold."""
    lost = press.lost(search.where, priced, here.weight, here.traced)
    lost = np.where(np.isfinite(lost), lost, 0.0)
    known = np.where(np.isfinite(press.available), press.available, np.inf)[:, None]
    if math.isfinite(search.holding()) and (lost > (1.0 + NEAR) * known).any():
        return False
    plain = here.traced.price - float((here.weight * lost).sum())
    return plain + priced.hoses < search.holding()


def _aim(search: Search, bound: float) -> float:
    """Return the price of the best layout that keeps the rules, else a little more than of any, else than the bound."""
    holding = [float(one.price) for one in search.pool if not one.broken]
    return min(holding, default=ABOVE * min((float(one.price) for one in search.pool), default=bound))
