"""The bore of a branch that is too easy a way, found by the engine: in it the branch needs what its junction needs."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from msgspec import structs

from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.core import deadline
from airbough_service.core.network import columns, tree
from airbough_service.core.network import governing as core
from airbough_service.core.network.tree import pack
from airbough_service.shop.packing import inlet_loss
from airbough_service.shop.shop import LAWS, Shop, ShopRun, build, packed, rebored
from airbough_service.solving.absorbing import places
from airbough_service.solving.design import at_hoods
from airbough_service.terms.refusal import Refusal

Short = Callable[[float], float | None]
"""Of a bore: the share by which the run then needs less than its junction; None where no law answers it."""

EXPONENT: Final = 0.2  # the bore goes about with this power of the loss: only where the search steps first
ALIKE: Final = 1.0e-6  # share by which bores may differ and be one
CLOSE: Final = 1.0e-12  # shares that are none
STEPS: Final = 60  # of one search
NARROWEST: Final = 0.05  # share of the bore as it is
MOST_RUNS: Final = 4_000  # runs balanced anew for one answer, each time counted


@dataclass(slots=True)
class Resizing:
    """Looks for bores in one balanced tree.

    Attributes:
        shop: the tree.
        result: its balance.
        way: how it was balanced.
        may_stand: ids of runs where a gate may stand.
        work_left: runs that may still be balanced anew.
    """

    shop: Shop
    result: core.Balance
    way: core.Way
    may_stand: Collection[str]
    work_left: int = MOST_RUNS

    def bore(self, index: int) -> float | None:
        """Return the bore of a run that brings its ratio to 1, m; None where none is found."""
        start = self.shop.runs[index].start
        found = _crossing(lambda bore: self._at_these_flows(index, bore), start)
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
        short = self._anew(index, wider) if self._flows_move else self._at_these_flows(index, wider)
        return None if short is None or short >= 1.0 else (wider, 1.0 / (1.0 - short))

    @property
    def _flows_move(self) -> bool:
        """Return whether flows are not those at which runs met: raised further downstream, or of leaks."""
        return self.shop.parted is not None or self.way.by == "flow"

    def _beside(self, index: int) -> tuple[int, ...]:
        """Return the runs that meet where a run ends, it among them."""
        parent = self.shop.shape.parents[index]
        return self.shop.shape.roots if parent < 0 else self.shop.shape.children[parent]

    def _at_these_flows(self, index: int, bore: float) -> float | None:
        """Return by what share a run in another bore falls short, the flows being as they are."""
        deadline.check()
        new = rebored(self.shop, index, bore)
        if new is None:
            return None
        shop, (request, changed) = self.shop, new
        parent, beside, above = shop.shape.parents[index], self._beside(index), shop.shape.children[index]
        rows = [self._into(parent)]
        own = 1 + beside.index(index)
        for arm, place in [(arm, 0) for arm in beside] + [(arm, own) for arm in above]:
            run: ShopRun = changed.get(arm, shop.runs[arm])
            row = packed(request, run, place, shop.density)
            rows.append(row._replace(change=row.change + inlet_loss(shop.shape, arm, shop.density, row.end)))
        small = pack(rows, shop.density, float(shop.air.viscosity), LAWS[request.model.junctions])
        at = np.array([shop.end_row(arm) for arm in (*beside, *above)])
        flow, need = np.zeros(len(rows)), np.zeros(len(rows))
        flow[small.place[1:]] = np.where(self.result.from_hoods[at] > 0.0, self.result.flow[at], 0.0)
        need[small.place[1:]] = self.result.need[at]
        flow[0] = flow[1 : 1 + len(beside)].sum()
        return core.short_of(small, small.gate, flow, need, 0, int(small.place[own]))

    def _into(self, parent: int) -> tree.Run:
        """Return what the runs flow into: a run of the document, or the collector's inlet chamber."""
        if parent >= 0:
            return packed(self.shop.request, self.shop.runs[parent], -1, self.shop.density)
        widest = max(self.shop.runs[root].end for root in self.shop.shape.roots)
        return tree.Run(parent=-1, start=widest, end=widest, length=0.0, roughness=0.0, law=columns.MEET)

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
        way = replace(self.way, places=places(shop, self.may_stand))
        result = core.balance(shop.tree, shop.gates(), at_hoods(shop), way)
        beside = {shop.end_row(place[arm]) for arm in self._beside(index)}
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


def _crossing(short: Short, start: float) -> float | None:
    """Return where a run that falls short in a bore no longer does in a narrower one, by regula falsi."""
    high, at_high = math.log(start), short(start)
    if at_high is None:
        return None
    low = high
    while True:
        low += EXPONENT * math.log(max(1.0 - at_high, 0.3)) - 0.02
        at_low = short(math.exp(low)) if low > math.log(NARROWEST * start) else None
        if at_low is None:
            return None
        if at_low <= 0.0:
            break
        high, at_high = low, at_low
    side = 0
    for _ in range(STEPS):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        value = short(math.exp(middle))
        if value is None:
            return None
        if abs(value) <= CLOSE or high - low <= CLOSE:
            return math.exp(middle)
        if value > 0.0:
            high, at_high, at_low = middle, value, at_low * (0.5 if side > 0 else 1.0)
        else:
            low, at_low, at_high = middle, value, at_high * (0.5 if side < 0 else 1.0)
        side = 1 if value > 0.0 else -1
    return math.exp(middle)


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
