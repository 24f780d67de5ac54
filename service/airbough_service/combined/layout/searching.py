"""The search: the program's cheapest tree, others that share ducts otherwise, each sized and solved by the engine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from airbough.wire.layout import LayoutClash
from airbough.wire.problem import Fault
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.clashing import clashes
from airbough_service.combined.layout.different import chosen
from airbough_service.combined.layout.places import Places, corridors
from airbough_service.combined.layout.pressing import pressing
from airbough_service.combined.layout.pricing import Priced, priced
from airbough_service.combined.layout.trying import Tried, tried
from airbough_service.core.choosing.placing import outside, program
from airbough_service.core.choosing.placing.program import Prices, Solved
from airbough_service.core.choosing.placing.trace import Traced, trace
from airbough_service.terms.refusal import Refusal

ALIKE: Final = 1.0e-9  # share by which two sums of the same prices may differ
MOST_NUMBERS: Final = 8.0e7  # floats that the program may hold
MOST_WORK: Final = 2.0e10  # sums in one run of the program; about ten seconds
WORK: Final = 1.1e10  # sums in all runs together
OUTSIDE: Final = 4.0  # as many sums as one run of the program takes the way back
STEPS: Final = 40  # along the subgradient
PATIENCE: Final = 3  # steps without a higher bound, until they are halved
LEAST_STEP: Final = 1.0e-3  # of the bound, which a step aims above it at least
TRIED: Final = 16  # trees sized on the way


@dataclass(slots=True)
class Found:
    """What was found.

    Attributes:
        layouts: the best first, each another one than those before it.
        bound: no arrangement that keeps the rules is cheaper; infinite where there is none.
        clashes: why there is none, or which machines share no duct.
        corridors: least price with some duct along each wall or corridor; infinite where none has one.
    """

    layouts: list[Tried]
    bound: float
    clashes: tuple[LayoutClash, ...] = ()
    corridors: list[tuple[str, float]] = field(default_factory=list)

    @property
    def exact(self) -> bool:
        """Whether the first layout holds at the bound."""
        if not self.layouts:
            return not math.isfinite(self.bound)
        best = self.layouts[0]
        return (
            best.holds
            and best.sized.proof == "exact"
            and float(best.price - best.rounded) <= self.bound * (1.0 + ALIKE)
        )


def searched(asked: Asked, where: Places) -> Found:
    """Return what was found."""
    return _Search.begun(asked, where).whole()


@dataclass(slots=True)
class _Search:
    """One search.

    Attributes:
        asked: the request.
        where: things are.
        priced: what the program works on.
        sums: in one run of the program.
        pool: what was tried.
        seen: trees that were.
        left: sums that may still be spent.
    """

    asked: Asked
    where: Places
    priced: Priced
    sums: float
    pool: list[Tried] = field(default_factory=list)
    seen: set[tuple[object, ...]] = field(default_factory=set)
    left: float = WORK

    @classmethod
    def begun(cls, asked: Asked, where: Places) -> _Search:
        """Make ready; refuse what is too large."""
        work = priced(asked, where)
        points = where.lattice.x.size
        sums = 4.0 * points * program.work(work.rows, len(where.machines))
        if 12.0 * work.rows.group.size * points > MOST_NUMBERS or sums > MOST_WORK:
            detail = "so many machines, diameters and lines cannot be searched; stock fewer diameters, or ask in parts"
            raise Refusal("not-computable", [Fault(path="machines", code="too-large", detail=detail)])
        return cls(asked, where, work, sums)

    def whole(self) -> Found:
        """Return everything."""
        why = clashes(self.asked, self.priced)
        prices = self.priced.prices
        solved = self._solve(prices)
        best = self._traced(solved, prices)
        if best is None:
            return Found([], math.inf, why)
        self._try(best)
        corridors = self._corridors(solved)
        at = _At(solved, prices, best, best.price + self.priced.hoses)
        if not self._proven(at.bound):
            at = self._pressed(at)
        if not self._proven(at.bound) or self.asked.request.alternatives > 1:
            for traced in self._others(at):
                self._try(traced)
        return Found(chosen(self.pool, self.where, self.asked.request.alternatives), at.bound, why, corridors)

    def _corridors(self, solved: Solved) -> list[tuple[str, float]]:
        """Return the least price with some duct along each wall and corridor; none where that takes too long."""
        if OUTSIDE * self.sums > self.left:
            return []
        self.left -= OUTSIDE * self.sums
        lattice = self.where.lattice
        still = outside.still(lattice, self.where.machines, solved, self.priced.prices, self.where.inlet)
        return [
            (name, outside.least_along(lattice, solved, still, along) + self.priced.hoses)
            for name, along in corridors(self.asked.request, lattice)
        ]

    def _proven(self, bound: float) -> bool:
        best = min(self.pool, key=lambda one: one.rank, default=None)
        return best is not None and Found([best], bound).exact

    def _pressed(self, begun: _At) -> _At:
        """Raise the bound by what pressure costs, by Polyak's steps along the subgradient; try the trees on the way."""
        press = pressing(self.asked, self.where, self.priced)
        best, here, weight = begun, begun, np.zeros(press.opened.shape)
        kept, step, failed = weight, 1.0, 0
        if not press.binds:
            return begun
        for _ in range(STEPS):
            lost = press.lost(self.where, self.priced, weight, here.traced) - press.available[:, None]
            over = np.where(press.opened & np.isfinite(lost) & ((lost > 0.0) | (weight > 0.0)), lost, 0.0)
            if not over.any() or self.left < 2.0 * self.sums or self._proven(best.bound):
                break
            far = max(self._least_price() - here.bound, LEAST_STEP * here.bound)
            weight = np.maximum(0.0, weight + step * far / float((over**2).sum()) * over)
            prices = press.prices(self.priced, weight)
            solved = self._solve(prices)
            traced = self._traced(solved, prices)
            if traced is None:
                break
            here = _At(solved, prices, traced, traced.price + self.priced.hoses - press.allowed(weight))
            if len(self.pool) < TRIED:
                self._try(traced)
            if here.bound > best.bound:
                best, kept, failed = here, weight, 0
                continue
            failed += 1
            if failed == PATIENCE:
                here, weight, step, failed = best, kept, step / 2.0, 0
        return best

    def _least_price(self) -> float:
        """Return the price of the best layout that holds, else a little more than of any."""
        holding = [float(one.price) for one in self.pool if not one.broken]
        return min(holding, default=1.1 * min((float(one.price) for one in self.pool), default=math.inf))

    def _solve(self, prices: Prices) -> Solved:
        self.left -= self.sums
        return program.solve(self.where.lattice, self.where.machines, self.priced.rows, prices)

    def _others(self, at: _At) -> Iterator[Traced]:
        """Yield the cheapest trees in which some machines share no duct alone that do in the best."""
        joined = {run.machines for run in at.traced.root.runs() if run.machines & (run.machines - 1)}
        whole = (1 << len(self.where.machines)) - 1
        for group in sorted(joined - {whole}, key=lambda one: (-one.bit_count(), one)):
            share = self.sums * (2.0 / 3.0) ** group.bit_count()
            if share > self.left:
                break
            self.left -= share
            other, saved = program.solve_without(self.where.lattice, self.where.machines, at.solved, at.prices, group)
            traced = self._traced(other, at.prices)
            program.restore(at.solved, saved)
            if traced is not None:
                yield traced

    def _traced(self, solved: Solved, prices: Prices) -> Traced | None:
        inlet = self.where.inlet
        _, row, heading = program.best(solved, prices, inlet)
        if row < 0:
            return None
        return trace(self.where.lattice, list(map(int, self.where.machines)), solved, prices, inlet, row, heading)

    def _try(self, traced: Traced) -> None:
        key = tuple(sorted((run.machines, *run.points) for run in traced.root.runs()))
        if key in self.seen:
            return
        self.seen.add(key)
        found = tried(self.asked, self.where, traced)
        if found is not None:
            self.pool.append(found)


@dataclass(frozen=True, slots=True)
class _At:
    """The program solved at some prices: its tree, and the bound that it proves."""

    solved: Solved
    prices: Prices
    traced: Traced
    bound: float
