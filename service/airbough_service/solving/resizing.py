"""The bore of a branch that is too easy a way, found by the engine: in it the branch needs what its junction needs."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from msgspec import Struct, structs
from numpy.typing import NDArray

from airbough.wire.tree import Tree
from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.core import deadline
from airbough_service.core.network import columns, tree
from airbough_service.core.network import governing as core
from airbough_service.core.network.tree import pack
from airbough_service.shop.packing import inlet_loss, row_of
from airbough_service.shop.shop import LAWS, Shop, ShopRun, build, packed, rebored
from airbough_service.shop.topology import Topology
from airbough_service.solving.absorbing import places
from airbough_service.solving.design import at_hoods
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
Short = Callable[[float], float | None]
"""Of a bore: the share by which the run then needs less than its junction; None where no law answers it."""

EXPONENT: Final = 0.2  # the bore goes about with this power of the loss: only where the search steps first
LEAST_SLOPE: Final = 1.0  # of the loss over the bore, both as logarithms, with which it steps on
MOST_STEP: Final = 1.0  # of the bore's logarithm
BEYOND: Final = 0.02  # that it steps further, so that the crossing lies between
MOST_LACKING: Final = 30.0  # logarithm of governing over own need, where the own one is none
ALIKE: Final = 1.0e-6  # share by which bores may differ and be one
CLOSE: Final = 1.0e-12  # shares that are none
STEPS: Final = 60  # of one search
NARROWEST: Final = 0.05  # share of the bore as it is
MOST_RUNS: Final = 4_000  # runs balanced anew for one answer, each time counted


class Resizing(Struct):
    """Looks for bores in one balanced tree.

    Attributes:
        shop: the tree.
        result: its balance.
        way: how it was balanced.
        may_stand: ids of runs where a gate may stand.
        work_left: runs that may still be balanced anew.
        cut: the run that was asked about last, by its number, cut out of the tree.
    """

    shop: Shop
    result: core.Balance
    way: core.Way
    may_stand: Collection[str]
    work_left: int = MOST_RUNS
    cut: tuple[int, _Meeting] | None = None

    def bore(self, index: int) -> float | None:
        """Return the bore of a run that brings its ratio to 1, m; None where none is found."""
        meeting, start = self._meeting(index), self.shop.runs[index].start
        found = crossing(meeting.short, start, None if self._flows_move else self._short(index))
        if found is None or not self._flows_move:
            return found
        return _refined(lambda bore: self._anew(index, bore), found)

    def listed(self, index: int, bore: float) -> tuple[float, float] | None:
        """Return the next wider nominal bore, m, and the ratio that it brings; None where it is the run's own already.

        In the next narrower one the run would govern, and all others would have to lose more.
        """
        sizes, _ = nominal_diameters(self.shop.request.units)
        wider = next((size for size in sizes if size >= bore * (1.0 - ALIKE)), None)
        if wider is None or wider >= self.shop.runs[index].start * (1.0 - ALIKE):
            return None
        short = self._anew(index, wider) if self._flows_move else self._meeting(index).short(wider)
        return None if short is None or short >= 1.0 else (wider, 1.0 / (1.0 - short))

    def _short(self, index: int) -> float | None:
        """Return by what share a run as it is falls short, the flows being those at which runs met."""
        row = self.shop.end_row(index)
        return next((1.0 - arm.pressure / arm.governing for arm in self.result.arms if arm.row == row), None)

    def _meeting(self, index: int) -> _Meeting:
        """Return a run cut out of the tree."""
        if self.cut is None or self.cut[0] != index:
            self.cut = (index, _Meeting.of(self.shop, self.result, index))
        return self.cut[1]

    @property
    def _flows_move(self) -> bool:
        """Return whether flows are not those at which runs met: raised further downstream, or of leaks."""
        return self.shop.parted is not None or self.way.by == "flow"

    def _anew(self, index: int, bore: float) -> float | None:
        """Return by what share a run in another bore falls short, all upstream of its junction balanced anew.

        Flows raised further downstream change what leaks in upstream: then the whole tree is.
        """
        request, parent = self.shop.request, self.shop.shape.parents[index]
        if self.shop.parted is not None and self.way.by == "flow":
            parent = -1
        numbers = self._upstream(parent)
        self.work_left -= len(numbers)
        if self.work_left < 0:
            return None
        runs = [request.runs[number] for number in numbers]
        if parent >= 0:
            runs[0] = structs.replace(runs[0], into=None, join=None)
        place = {number: at for at, number in enumerate(numbers)}
        runs[place[index]] = structs.replace(runs[place[index]], diameter=bore)
        try:
            shop = build(structs.replace(request, runs=tuple(runs), collector=None))
        except Refusal:
            return None
        way = self.way._replace(places=places(shop, self.may_stand))
        result = core.balance(shop.tree, shop.gates(), at_hoods(shop), way)
        beside = {shop.end_row(place[arm]) for arm in _beside(self.shop, index)}
        needed = {arm.row: arm.pressure for arm in result.arms if arm.row in beside}
        own = needed.pop(shop.end_row(place[index]))
        return 1.0 - own / max(needed.values())

    def _upstream(self, parent: int) -> list[int]:
        """Return a run and all upstream of it, or all runs for the collector's inlet."""
        if parent < 0:
            return list(range(len(self.shop.runs)))
        numbers = [parent]
        for number in numbers:
            numbers.extend(self.shop.shape.children[number])
        return numbers


@dataclass(frozen=True, slots=True)
class _Meeting:
    """A run, what it flows into, what else does, and what flows into it, cut out of its tree: the rest stays as it is.

    Attributes:
        shop: of these runs alone, numbered anew.
        own: the run's number.
        rows: packed rows, of what it flows into and of all the others, as they are.
        at: by run, which row is its.
        flow, need: by row, m3/s, and what each needs at its end, Pa, in the balance; of what they flow into only flow.
    """

    shop: Shop
    own: int
    rows: list[tree.Run]
    at: dict[int, int]
    flow: Floats
    need: Floats

    @classmethod
    def of(cls, shop: Shop, result: core.Balance, index: int) -> _Meeting:
        """Cut a run out of a balanced tree."""
        parent, beside, above = shop.shape.parents[index], _beside(shop, index), shop.shape.children[index]
        numbers = [*(() if parent < 0 else (parent,)), *beside, *above]
        place = {number: local for local, number in enumerate(numbers)}
        own, arms = place[index], tuple(place[arm] for arm in beside)
        parents = [place.get(shop.shape.parents[number], -1) for number in numbers]
        children = [tuple(place[arm] for arm in shop.shape.children[number] if arm in place) for number in numbers]
        shape = Topology(tuple(parents), tuple(children), arms if parent < 0 else (0,), tuple(range(len(numbers))))
        small = structs.replace(
            shop,
            request=structs.replace(shop.request, runs=tuple([shop.request.runs[number] for number in numbers])),
            runs=tuple([structs.replace(shop.runs[number], index=place[number]) for number in numbers]),
            shape=shape,
        )
        ends = np.array([shop.end_row(arm) for arm in (*beside, *above)])
        flow = np.where(result.from_hoods[ends] > 0.0, result.flow[ends], 0.0)
        others = [*arms, *(place[arm] for arm in above)]
        made = cls(
            small, own, [_into(small, arms)], {arm: row for row, arm in enumerate(others, 1)},
            np.array([flow[: len(beside)].sum(), *flow]), np.array([0.0, *result.need[ends]]),
        )  # fmt: skip
        made.rows.extend(made.row(small.request, small.runs[arm]) for arm in others)
        return made

    def row(self, request: Tree, run: ShopRun) -> tree.Run:
        """Return a run's packed row: it ends in the first, or in the run itself."""
        shop, into = self.shop, self.at[self.own] if self.shop.shape.parents[run.index] == self.own else 0
        row = tree.Run(*row_of(request, run, into, shop.density))
        lost = inlet_loss(shop.shape, run.index, shop.density, row.end)
        return row._replace(change=lost) if lost else row

    def short(self, bore: float) -> float | None:
        """Return by what share the run in another bore, m, falls short, the flows being as they are.

        None where no law answers that bore.
        """
        deadline.check()
        new = rebored(self.shop, self.own, bore)
        if new is None:
            return None
        shop, (request, changed), rows = self.shop, new, self.rows.copy()
        for arm, run in changed.items():
            rows[self.at[arm]] = self.row(request, run)
        small = pack(rows, shop.density, float(shop.air.viscosity), LAWS[request.model.junctions])
        flow, need = np.empty(len(rows)), np.empty(len(rows))
        flow[small.place], need[small.place] = self.flow, self.need
        return core.short_of(small, small.gate, flow, need, 0, int(small.place[self.at[self.own]]))


def _beside(shop: Shop, index: int) -> tuple[int, ...]:
    """Return the runs that meet where a run ends, it among them."""
    parent = shop.shape.parents[index]
    return shop.shape.roots if parent < 0 else shop.shape.children[parent]


def _into(shop: Shop, arms: tuple[int, ...]) -> tree.Run:
    """Return what runs flow into: a run of the document, or the collector's inlet chamber."""
    parent = shop.shape.parents[arms[0]]
    if parent >= 0:
        return packed(shop.request, shop.runs[parent], -1, shop.density)
    widest = max(shop.runs[root].end for root in arms)
    return tree.Run(parent=-1, start=widest, end=widest, length=0.0, roughness=0.0, law=columns.MEET)


def crossing(short: Short, start: float, value: float | None = None) -> float | None:
    """Return where a run that falls short in a bore no longer does in a narrower one; None where none is found.

    The logarithm of what is needed is nearly a straight line over that of the bore: the bore is interpolated in it, by
    the last three asked about, between the nearest two that the crossing lies between.

    Args:
        short: asks the engine.
        start: the bore in which it falls short, m.
        value: by what share, where that is known.
    """
    high, ends = math.log(start), math.log(NARROWEST * start)
    value = short(start) if value is None else value
    if value is None:
        return None
    points, slope = [(high, _lacking(value))], 1.0 / EXPONENT
    while True:
        high, lacking = points[-1]
        low = max(high - min(lacking / slope, MOST_STEP) - BEYOND, ends)
        value = short(math.exp(low))
        if value is None or (value > 0.0 and low <= ends):
            return None
        points.append((low, _lacking(value)))
        if value <= 0.0:
            break
        slope = max((lacking - points[-1][1]) / (high - low), LEAST_SLOPE)
    for _ in range(STEPS):
        if abs(value) <= CLOSE or high - low <= CLOSE:
            break
        middle = _interpolated(points[-3:])
        if middle is None or not low < middle < high:
            middle = 0.5 * (low + high)
        elif math.prod(lacking for _, lacking in points[-3:]) ** 2 <= CLOSE**2:  # with which its error goes
            return math.exp(middle)
        value = short(math.exp(middle))
        if value is None:
            return None
        points.append((middle, _lacking(value)))
        low, high = (low, middle) if value > 0.0 else (middle, high)
    return math.exp(points[-1][0])


def _interpolated(points: Sequence[tuple[float, float]]) -> float | None:
    """Return where the line, or the parabola, over what is lacking comes to nothing; None where two lack the same."""
    out = 0.0
    for place, (bore, lacking) in enumerate(points):
        others = [other for number, (_, other) in enumerate(points) if number != place]
        if lacking in others:
            return None
        out += bore * math.prod(other / (other - lacking) for other in others)
    return out


def _lacking(short: float) -> float:
    """Return the logarithm of governing over own need, at most `MOST_LACKING`, by the share by which a run is short."""
    return -math.log(max(1.0 - short, math.exp(-MOST_LACKING)))


def _refined(short: Short, bore: float) -> float | None:
    """Return the bore near one where a run no longer falls short, by the secant; None where it is not found."""
    before, here = math.log(bore) + 1.0e-4, math.log(bore)
    at_before, at_here = short(math.exp(before)), short(bore)
    for _ in range(STEPS):
        if at_before is None or at_here is None:
            return None
        if abs(at_here) <= 1.0e-10:
            return math.exp(here)
        if at_here == at_before:
            return None
        step = -at_here * (here - before) / (at_here - at_before)
        before, at_before = here, at_here
        here += min(max(step, -0.2), 0.2)
        at_here = short(math.exp(here))
    return None
