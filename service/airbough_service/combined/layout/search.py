"""One search: what it works on, what it may still spend, and what was tried."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from airbough.wire.answer import Finding
from airbough.wire.layout import LayoutClash, LayoutLack, LayoutUnjoined
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.pricing import Priced
from airbough_service.combined.layout.trying import Tried, tried
from airbough_service.core.choosing.placing import program
from airbough_service.core.choosing.placing.program import Prices, Rows, Solved
from airbough_service.core.choosing.placing.trace import Traced, trace

ALIKE: Final = 1.0e-9  # share by which two sums of the same prices may differ
WORK: Final = 4.8e9  # sums that the usual effort spends in all, some 0.6e9 a second: a question has 10 s over HTTP
TRY: Final = 3.0e6  # as many sums take sizing and solving a tree, times the square of its machines


@dataclass(slots=True)
class Found:
    """What was found.

    Attributes:
        layouts: the best first, each another one than those before it.
        bound: no arrangement that keeps the rules is cheaper; infinite where there is none.
        clashes: why there is none, or which machines share no duct.
        corridors: least price with some duct along each wall or corridor; infinite where none has one.
        looked_up_to: price beyond which nothing was looked at; infinite where all was.
        cheapest: price of the cheapest arrangement, pressure not asked.
        lacking: states for which no arrangement leaves enough pressure.
        unjoined: machines that no pieces bring together.
        unsized: what sizing says of the cheapest arrangement, where it sizes none.
        unlimited: whether no pressure is given, so that suction alone is limited by what one density answers.
    """

    layouts: list[Tried]
    bound: float
    clashes: tuple[LayoutClash, ...] = ()
    corridors: list[tuple[str, float]] = field(default_factory=list)
    looked_up_to: float = math.inf
    cheapest: float = math.inf
    lacking: tuple[LayoutLack, ...] = ()
    unjoined: tuple[LayoutUnjoined, ...] = ()
    unsized: tuple[Finding, ...] = ()
    unlimited: bool = False

    @property
    def none_holds(self) -> bool:
        """Whether it is proven that no arrangement holds."""
        return not math.isfinite(self.bound)

    @property
    def exact(self) -> bool:
        """Whether the first layout holds at the bound."""
        if not self.layouts:
            return self.none_holds
        best = self.layouts[0]
        return (
            best.holds
            and best.sized.proof == "exact"
            and float(best.price - best.rounded) <= self.bound * (1.0 + ALIKE)
        )


@dataclass(slots=True)
class Search:
    """One search.

    Attributes:
        asked: the request.
        where: things are.
        priced: what the program works on.
        left: sums that may still be spent.
        given: sums that might be in all.
        pool: what was tried.
        seen: trees that were.
    """

    asked: Asked
    where: Places
    priced: Priced
    left: float = field(init=False)
    given: float = field(init=False)
    pool: list[Tried] = field(default_factory=list)
    seen: set[tuple[object, ...]] = field(default_factory=set)
    _counted: tuple[object, object, float] | None = None

    def __post_init__(self) -> None:
        """Give it what the request lets it spend."""
        self.left = self.given = WORK * self.asked.request.effort

    def sums(self, rows: Rows) -> float:
        """Return how many sums one run of the program takes."""
        if self._counted is None or self._counted[0] is not rows.number or self._counted[1] is not rows.worth:
            sums = float(program.work(self.where.lattice, rows, len(self.where.machines)))
            self._counted = rows.number, rows.worth, sums
        return self._counted[2]

    @property
    def trying(self) -> float:
        """How many sums sizing and solving a tree takes."""
        return TRY * len(self.where.machines) ** 2

    def solve(self, work: Priced, prices: Prices) -> Solved:
        """Run the program."""
        self.left -= self.sums(work.rows)
        return program.solve(self.where.lattice, self.where.machines, work.rows, prices)

    def traced(self, solved: Solved, prices: Prices) -> Traced | None:
        """Return the cheapest tree."""
        inlet = self.where.inlet
        _, row, heading = program.best(solved, prices, inlet)
        if row < 0:
            return None
        return trace(self.where.lattice, list(map(int, self.where.machines)), solved, prices, inlet, row, heading)

    def try_(self, traced: Traced) -> None:
        """Size and solve a tree that was not tried before."""
        key = tuple(sorted((run.machines, *run.points) for run in traced.root.runs()))
        if key in self.seen:
            return
        self.seen.add(key)
        self.left -= self.trying
        found = tried(self.asked, self.where, traced)
        if found is not None:
            self.pool.append(found)

    @property
    def best(self) -> Tried:
        """The best that was tried; something was."""
        return min(self.pool, key=lambda one: one.rank)

    def proven(self, bound: float) -> bool:
        """Whether the best that was tried is proven."""
        return bool(self.pool) and Found([self.best], bound).exact

    def holding(self) -> float:
        """Return the least price of what was tried and holds; infinite where nothing does."""
        return min((float(one.price) for one in self.pool if one.holds), default=math.inf)


@dataclass(frozen=True, slots=True)
class At:
    """The program solved at some prices: its tree, and the bound that it proves."""

    solved: Solved
    prices: Prices
    traced: Traced
    bound: float
