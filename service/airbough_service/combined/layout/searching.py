"""The search: the program's cheapest tree, others that share ducts otherwise, each sized and solved by the engine."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

from airbough.wire.layout import LayoutClash
from airbough.wire.problem import Fault
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.clashing import clashes
from airbough_service.combined.layout.different import chosen
from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.pricing import Priced, priced
from airbough_service.combined.layout.trying import Tried, tried
from airbough_service.core.choosing.placing import program
from airbough_service.core.choosing.placing.program import Solved
from airbough_service.core.choosing.placing.trace import Traced, trace
from airbough_service.terms.refusal import Refusal

ALIKE: Final = 1.0e-9  # share by which two sums of the same prices may differ
MOST_NUMBERS: Final = 8.0e7  # floats that the program may hold
MOST_WORK: Final = 2.0e10  # sums in one run of the program; about ten seconds
WORK: Final = 1.2e10  # sums in all runs that look for other trees


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
    asked: Asked
    where: Places
    priced: Priced
    solved: Solved
    pool: list[Tried] = field(default_factory=list)
    seen: set[tuple[object, ...]] = field(default_factory=set)

    @classmethod
    def begun(cls, asked: Asked, where: Places) -> _Search:
        """Solve the program."""
        work = priced(asked, where)
        points = where.lattice.x.size
        sums = 4.0 * points * program.work(work.rows, len(where.machines))
        if 12.0 * work.rows.group.size * points > MOST_NUMBERS or sums > MOST_WORK:
            detail = "so many machines, diameters and lines cannot be searched; stock fewer diameters, or ask in parts"
            raise Refusal("not-computable", [Fault(path="machines", code="too-large", detail=detail)])
        return cls(asked, where, work, program.solve(where.lattice, where.machines, work.rows, work.prices))

    def whole(self) -> Found:
        """Return everything."""
        best = self._traced(self.solved)
        why = clashes(self.asked, self.priced)
        if best is None:
            return Found([], math.inf, why)
        bound = best.price + self.priced.hoses
        for traced in [best, *self._others(best)]:
            self._try(traced)
        layouts = chosen(self.pool, self.where, self.asked.request.alternatives)
        return Found(layouts, bound, why)

    def _others(self, best: Traced) -> list[Traced]:
        """Return the cheapest trees in which some machines share no duct alone that do in the best."""
        joined = {run.machines for run in best.root.runs() if run.machines & (run.machines - 1)}
        out, left = [], WORK
        whole = 4.0 * self.where.lattice.x.size * program.work(self.priced.rows, len(self.where.machines))
        machines = len(self.where.machines)
        for group in sorted(joined - {(1 << machines) - 1}, key=lambda one: (-one.bit_count(), one)):
            left -= whole * (2.0 / 3.0) ** group.bit_count()
            if left < 0.0:
                break
            solved, saved = program.solve_without(
                self.where.lattice, self.where.machines, self.solved, self.priced.prices, group
            )
            traced = self._traced(solved)
            program.restore(self.solved, saved)
            if traced is not None:
                out.append(traced)
        return out

    def _traced(self, solved: Solved) -> Traced | None:
        prices, inlet = self.priced.prices, self.where.inlet
        _, row, heading = program.best(solved, prices, inlet)
        if row < 0:
            return None
        return trace(self.where.lattice, list(map(int, self.where.machines)), solved, prices, inlet, row, heading)

    def _try(self, traced: Traced) -> Tried | None:
        key = tuple(sorted((run.machines, *run.points) for run in traced.root.runs()))
        if key in self.seen:
            return None
        self.seen.add(key)
        found = tried(self.asked, self.where, traced)
        if found is not None:
            self.pool.append(found)
        return found
