"""Each run in each bore that it may have: its losses and velocities in every state, its pieces and their price."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough.wire.sizing import SizingRequest
from airbough.wire.tree import Run
from airbough_service import catalogue
from airbough_service.core.choosing.sites import steps
from airbough_service.core.network import (
    columns,
    tree,
)
from airbough_service.core.network.own_loss import straight_losses
from airbough_service.core.network.tree import Arm
from airbough_service.questions.sizing.bought import bought, taper_lengths
from airbough_service.questions.sizing.resized import ended, resized, without_length
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import (
    Part,
    Shelf,
    nanometres,
)
from airbough_service.shop import pieces
from airbough_service.shop.packing import packed_parts
from airbough_service.shop.pieces import DuctPart, Found, course
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
    gate_quadratic,
    packed,
)
from airbough_service.solving.tree_answer import velocity
from airbough_service.terms.finding import HOLDS

Floats = NDArray[np.float64]
Key: TypeAlias = tuple[int, tuple[tuple[int, float], ...]]
"""Of an option: the bore of its duct, nm, and the lengths of the tapers next to it, m, by their number."""
FAR: Final = 1.3  # times a limit of velocity, beyond which a nominal bore is not looked at
ALIKE: Final = 1.0e-6  # share by which bores may differ and be one


@dataclass(frozen=True, slots=True)
class Option:
    """A run in one bore.

    Attributes:
        bore: of its duct, m.
        key: what tells it from the run's other options.
        run: as the shop has it, without its junction.
        row: for packing.
        parts: its own pieces; `price` is theirs.
        own: shape (states,), its losses but for the junction, Pa.
        slow, fast: shape (states,), by how much it is below its transport velocity, or above its upper one, in steps;
            0 where it is not.
        judged: shape (states,), whether it is judged at all.
    """

    bore: float
    key: Key
    run: ShopRun
    row: tree.Run
    parts: tuple[Part, ...]
    own: Floats
    slow: Floats
    fast: Floats
    judged: NDArray[np.bool_]

    @property
    def cleared(self) -> Floats:
        """By how much it is too slow, in steps, where another state clears it."""
        return self.slow if (self.judged & (self.slow == 0.0)).any() else np.zeros_like(self.slow)

    @property
    def price(self) -> float:
        """Price of its own pieces."""
        return sum(part.price for part in self.parts)


@dataclass(slots=True)
class Options:
    """Makes options, each once.

    Attributes:
        request: in SI.
        shop: the tree with any bores, for what does not depend on them.
        states: to be sized for.
        fixed: numbers of the runs that keep their bore.
    """

    request: SizingRequest
    shop: Shop
    states: tuple[State, ...]
    fixed: frozenset[int]
    physical: dict[tuple[int, Key], tuple[ShopRun, tree.Run, Floats] | None] = field(default_factory=dict)
    unserved: list[float] = field(default_factory=list)

    def of(self, index: int, shelf: Shelf) -> list[Option]:
        """Return what a run may be, by rising bore."""
        if index in self.fixed:
            run = self.request.runs[index]
            kept = self._option(index, max(part.bore for part in course(Found(), run, "").parts), run, (), shelf)
            return [] if kept is None else [kept]
        found = [
            option for bore in shelf.sizes(self.request.runs[index].duct) for option in self._in(index, bore, shelf)
        ]
        return self._wide_enough(index, self._sensible(found) if shelf.nominal else found)

    def _in(self, index: int, bore: float, shelf: Shelf) -> Iterator[Option]:
        """Give a run with its duct in one bore, with every length of the tapers next to it that the stock has."""
        run = self.request.runs[index]
        usual = resized(run, bore, {})
        for lengths in taper_lengths(run, bore, shelf):
            own = resized(run, bore, lengths) if lengths else usual
            option = self._option(index, bore, own, tuple(sorted(lengths.items())), shelf)
            if option is not None:
                yield option

    def _sensible(self, found: list[Option]) -> list[Option]:
        """Leave out the nominal bores that are no answer: far too slow, or far too fast, wherever they are judged.

        With those left out that are beyond what is bought for such a shop, the search is a tenth.
        """
        fit = [option for option in found if _near(option, self.request, self.states)]
        return fit or found

    def _wide_enough(self, index: int, found: list[Option]) -> list[Option]:
        """Leave out the bores below the port of a hood, or too narrow for a machine that no state opens.

        Where that leaves none, the widest stays.
        """
        hood, least = self.request.runs[index].hood, 0.0
        if hood is not None and hood.port_diameter is not None:
            least = float(hood.port_diameter) * (1.0 - ALIKE)
        if not any(state.served[index] for state in self.states):
            least = max(least, self._least[index])
        wide = [option for option in found if option.bore >= least]
        return wide or found[-1:]

    @property
    def _least(self) -> list[float]:
        """By run, the bore in which the largest machine upstream, alone, moves at its upper velocity, m."""
        if not self.unserved:
            self.unserved = _least_bores(self.request, self.shop)
        return self.unserved

    def _option(
        self, index: int, bore: float, asked: Run, lengths: tuple[tuple[int, float], ...], shelf: Shelf
    ) -> Option | None:
        """Return a run in one bore; None where a law does not answer it or the stock lacks a piece."""
        key = (nanometres(bore), lengths)
        if (index, key) not in self.physical:
            self.physical[index, key] = self._losses(index, asked)
        known = self.physical[index, key]
        if known is None:
            return None
        run, row, own = known
        parts = bought(run, shelf, kept=index in self.fixed)
        if parts is None:
            return None
        return Option(bore, key, run, row, parts, own, *self._judged(run))

    def _losses(self, index: int, asked: Run) -> tuple[ShopRun, tree.Run, Floats] | None:
        """Return a run as it is bought and its loss in every state, Pa."""
        path, found, bore = f"runs[{index}]", Found(), float(asked.diameter)
        along = pieces.course(found, asked, path)
        wall = pieces.wall(found, asked, path, along.parts[0].bore)
        pieces.hood(found, asked, path, bore)
        hose = wall.duct is not None and wall.duct.kind == "hose"
        end = pieces.fittings(found, asked, path, along, hose=hose)
        if found.faults:
            return None
        known = self.shop.runs[index]
        own = tuple(found.pieces)
        run = ShopRun(index, asked, bore, end, wall, own, Arm(), known.dust, along.parts, known.resistance)
        row = packed(self.request, run, -1, self.shop.density, {})
        flow = np.array([float(state.flow[index]) if state.served[index] else 0.0 for state in self.states])
        gates = [
            gate_quadratic(run, self.shop.density, state.openings.get(index)) if q > 0.0 else 0.0
            for state, q in zip(self.states, flow, strict=True)
        ]
        local = (row.entry + row.port + row.fittings + np.array(gates)) * flow * flow
        return run, row, self._along(run, row, flow) + local

    def _along(self, run: ShopRun, row: tree.Run, flow: Floats) -> Floats:
        """Return the loss of a run's duct, each part in its own bore, and of the machine, in every state, Pa."""
        rows = [row]
        if len(run.parts) > 1:
            parts = packed_parts(self.request, run, self.shop.density, {})
            rows = [row._replace(bore=part.bore, length=part.length, power_law=part.power_law) for part in parts]
            rows[1:] = [one._replace(resistance=None) for one in rows[1:]]
        total = np.zeros(flow.size)
        for one in rows:
            line = np.zeros(columns.FLOAT_COLUMNS)
            tree.fill(line, one, self.shop.density, float(self.shop.air.viscosity))
            friction, resistance = straight_losses(np.tile(line, (flow.size, 1)), flow)
            total += friction + resistance
        return total

    def reduced(self, option: Option, to: float, length: float | None) -> Option | None:
        """Return a run that changes size at its end, to a bore, m, over a length, m; None where no law answers it."""
        key = (option.key[0], (*option.key[1], (len(option.run.run.fittings), to), (-1, length or 0.0)))
        index = option.run.index
        if (index, key) not in self.physical:
            self.physical[index, key] = self._losses(index, ended(option.run.run, option.run.end, to, length))
        known = self.physical[index, key]
        return None if known is None else replace(option, key=key, run=known[0], row=known[1], own=known[2])

    def between(self, into: Option, bore: float) -> Option:
        """Return the run of no length between a wye of a bore, m, and the run that it flows into."""
        index, asked = into.run.index, without_length(into.run.run, into.run.id, bore)
        key = (nanometres(bore), ((-1, 0.0),))
        if (index, key) not in self.physical:
            part = DuctPart(bore, 0.0, "")
            run = ShopRun(index, asked, bore, bore, into.run.wall, (), Arm(), into.run.dust, (part,), None)
            row = packed(self.request, run, -1, self.shop.density, {})
            self.physical[index, key] = run, row, np.zeros(len(self.states))
        known = self.physical[index, key]
        assert known is not None
        run, row, own = known
        return Option(bore, key, run, row, (), own, *self._judged(run))

    def _judged(self, run: ShopRun) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return by how much a run is too slow, too fast, in steps, and whether it is judged at all, in every state.

        It is slowest where nothing has leaked in yet, fastest where all has that is allowed for.
        """
        slow, fast, judged = [], [], []
        for state in self.states:
            low, high = limits_of(self.request, state, run.index, float(state.flow[run.index]))
            least, most = velocity(run, float(state.asked[run.index])), fastest(run, float(state.flow[run.index]))
            slow.append(steps(1.0 - least / low) if low is not None and least < low * (1.0 - HOLDS) else 0)
            fast.append(steps(most / high - 1.0) if high is not None and most > high * (1.0 + HOLDS) else 0)
            judged.append(low is not None)
        return np.array(slow, float), np.array(fast, float), np.array(judged)


def _near(option: Option, request: SizingRequest, states: tuple[State, ...]) -> bool:
    """Return whether a bore's velocity is within FAR of its limits in some state."""
    index = option.run.index
    for state in states:
        low, high = limits_of(request, state, index, float(state.flow[index]))
        speed = velocity(option.run, float(state.flow[index]))
        if low is not None and high is not None and low / FAR <= speed <= high * FAR:
            return True
    return False


def _least_bores(request: SizingRequest, shop: Shop) -> list[float]:
    """Return, by run, the bore in which the largest machine upstream moves at its upper velocity, alone, m."""
    flow = np.zeros((len(shop.machines.each), len(shop.runs)))
    for number, machine in enumerate(shop.machines.each):
        for hood in machine.hoods:
            asked = shop.runs[hood].run.hood
            flow[number, hood] = 0.0 if asked is None or asked.flow is None else float(asked.flow)
    for index in reversed(shop.shape.order):
        if shop.shape.parents[index] >= 0:
            flow[:, shop.shape.parents[index]] += flow[:, index]
    out = []
    for run in shop.runs:
        given = request.limits.upper_velocity
        own = max((catalogue.dust(word).upper_velocity for word in run.dust), default=0.0)
        high = own if given is None else float(given)
        out.append(0.0 if high <= 0.0 else float(np.sqrt(4.0 * flow[:, run.index].max() / (np.pi * high))))
    return out


def fastest(run: ShopRun, flow: float) -> float:
    """Return the velocity in a run's narrowest part, m/s."""
    return velocity(run, flow) * (run.widest.bore / run.narrowest.bore) ** 2


def limits_of(request: SizingRequest, state: State, index: int, flow: float) -> tuple[float | None, float | None]:
    """Return the least and the greatest velocity of a run in a state, m/s; None where it is not judged."""
    if flow <= 0.0 or not state.served[index]:
        return None, None
    dusts, limits = state.dusts[index], request.limits
    low = max((dust.transport_velocity for dust in dusts), default=None)
    high = max((dust.upper_velocity for dust in dusts), default=None)
    if limits.transport_velocity is not None:
        low = float(limits.transport_velocity)
    if limits.upper_velocity is not None:
        high = float(limits.upper_velocity)
    return low, high
