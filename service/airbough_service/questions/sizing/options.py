"""Each run in each bore that it may have: its losses and velocities in every state, its pieces and their price."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.fitting import (
    AbruptChange,
    Elbow,
    ElbowPair,
    Offset,
    SlideGateFitting,
    Taper,
    TeeAsElbow,
)
from airbough.wire.sizing import SizingRequest
from airbough.wire.tree import Run
from airbough_service import catalogue
from airbough_service.core.network import (
    columns,
    tree,
)
from airbough_service.core.network.own_loss import straight_losses
from airbough_service.core.network.tree import Arm
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import (
    Asked,
    Kind,
    Part,
    Shelf,
    nanometres,
)
from airbough_service.shop import pieces
from airbough_service.shop.pieces import Found
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
    gate_quadratic,
    packed,
)
from airbough_service.solving.tree_answer import velocity
from airbough_service.terms.finding import HOLDS

Floats = NDArray[np.float64]
FAR: Final = 1.3  # times a limit of velocity, beyond which a nominal bore is not looked at
ALIKE: Final = 1.0e-6  # share by which bores may differ and be one


@dataclass(frozen=True, slots=True)
class Option:
    """A run in one bore.

    Attributes:
        run: as the shop has it, without its junction.
        row: for packing.
        parts: its own pieces; `price` is theirs.
        own: shape (states,), its losses but for the junction, Pa.
        slow, fast: shape (states,), whether it is below its transport velocity, or above its upper one.
        judged: shape (states,), whether it is judged at all.
    """

    run: ShopRun
    row: tree.Run
    parts: tuple[Part, ...]
    own: Floats
    slow: NDArray[np.bool_]
    fast: NDArray[np.bool_]
    judged: NDArray[np.bool_]

    @property
    def cleared(self) -> NDArray[np.bool_]:
        """Where it is too slow in a state, and another state clears it."""
        return self.slow & bool((self.judged & ~self.slow).any())

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
    physical: dict[tuple[int, int], tuple[ShopRun, tree.Run, Floats] | None] = field(default_factory=dict)
    unserved: list[float] = field(default_factory=list)

    def of(self, index: int, shelf: Shelf) -> list[Option]:
        """Return what a run may be, by rising bore."""
        run = self.request.runs[index]
        bores = [float(run.diameter)] if index in self.fixed else shelf.sizes(run.duct)
        found = [option for option in (self._option(index, bore, shelf) for bore in bores) if option is not None]
        if index in self.fixed:
            return found
        return self._wide_enough(index, self._sensible(found) if shelf.nominal else found)

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
        wide = [option for option in found if option.run.start >= least]
        return wide or found[-1:]

    @property
    def _least(self) -> list[float]:
        """By run, the bore in which the largest machine upstream, alone, moves at its upper velocity, m."""
        if not self.unserved:
            self.unserved = _least_bores(self.request, self.shop)
        return self.unserved

    def _option(self, index: int, bore: float, shelf: Shelf) -> Option | None:
        """Return a run in one bore; None where a law does not answer it or the stock lacks a piece."""
        key = (index, nanometres(bore))
        if key not in self.physical:
            self.physical[key] = self._losses(index, bore)
        known = self.physical[key]
        if known is None:
            return None
        run, row, own = known
        parts = parts_of(run, shelf, kept=index in self.fixed)
        if parts is None:
            return None
        return Option(run, row, parts, own, *self._judged(run))

    def _losses(self, index: int, bore: float) -> tuple[ShopRun, tree.Run, Floats] | None:
        """Return a run in one bore and its loss in every state, Pa."""
        asked = structs.replace(self.request.runs[index], diameter=bore)
        path, found = f"runs[{index}]", Found()
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
        table = np.zeros((flow.size, columns.FLOAT_COLUMNS))
        for line in table:
            tree.fill(line, row, self.shop.density, float(self.shop.air.viscosity))
        friction, resistance = straight_losses(table, flow)
        gates = [
            gate_quadratic(run, self.shop.density, state.openings.get(index)) if q > 0.0 else 0.0
            for state, q in zip(self.states, flow, strict=True)
        ]
        return run, row, friction + resistance + (row.entry + row.port + row.fittings + np.array(gates)) * flow * flow

    def _judged(self, run: ShopRun) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
        """Return whether a run is too slow, too fast, and judged at all, in every state.

        It is slowest where nothing has leaked in yet, fastest where all has that is allowed for.
        """
        slow, fast, judged = [], [], []
        for state in self.states:
            low, high = limits_of(self.request, state, run.index, float(state.flow[run.index]))
            least, most = (velocity(run, float(flow[run.index])) for flow in (state.asked, state.flow))
            slow.append(low is not None and least < low * (1.0 - HOLDS))
            fast.append(high is not None and most > high * (1.0 + HOLDS))
            judged.append(low is not None)
        return np.array(slow), np.array(fast), np.array(judged)


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


def parts_of(run: ShopRun, shelf: Shelf, *, kept: bool) -> tuple[Part, ...] | None:
    """Return a run's own pieces, or None where the stock lacks one; a `kept` run has it all the same."""
    out: list[Part] = []
    for kind, part in _wanted(run, shelf):
        if part is None and not kept:
            return None
        out.append(Part(kind.kind, kind.count, None, length=kind.length) if part is None else part)
    return tuple(out)


def _wanted(run: ShopRun, shelf: Shelf) -> list[tuple[Part, Part | None]]:
    """Return each piece that a run needs, and what the stock has for it."""
    duct, bore = run.run.duct, run.start
    out: list[tuple[Part, Part | None]] = []
    length = bought_length(run)
    if length > 0.0:
        wide = run.widest.bore
        out.append((Part(Kind("duct", (nanometres(wide),)), length=length), shelf.duct(duct, wide, length)))
    if run.run.gate is not None:
        out.append((Part(Kind("gate", (nanometres(bore),))), shelf.gate(bore)))
    for fitting in run.run.fittings:
        if isinstance(fitting, Taper | AbruptChange):
            bores = (nanometres(float(fitting.upstream_diameter)), nanometres(float(fitting.downstream_diameter)))
            kind = Kind(pieces.tag(fitting), bores)
            found = shelf.changes(Asked(kind, duct))
            out.append((Part(kind), min(found, key=lambda part: part.price, default=None)))
            bore = float(fitting.downstream_diameter)
        elif isinstance(fitting, SlideGateFitting):
            out.append((Part(Kind("gate", (nanometres(bore),))), shelf.gate(bore)))
        elif isinstance(fitting, Elbow | ElbowPair | Offset | TeeAsElbow):
            asked, count = _turn(fitting, bore, duct)
            out.append((Part(asked.kind, count), shelf.fitting(asked, count)))
    return out


def _turn(fitting: Elbow | ElbowPair | Offset | TeeAsElbow, bore: float, duct: str | None) -> tuple[Asked, int]:
    """Return the piece that makes a turn and how many of it; pairs are two elbows."""
    size = (nanometres(bore),)
    if isinstance(fitting, TeeAsElbow):
        return Asked(Kind("tee-as-elbow", size), duct), fitting.count
    angle, each = float(fitting.angle), 1 if isinstance(fitting, Elbow) else 2
    if isinstance(fitting, ElbowPair):
        angle /= 2.0
    return Asked(Kind("elbow", size, angle), duct, fitting.radius_ratio), each * fitting.count


def bought_length(run: ShopRun) -> float:
    """Return the straight duct to buy for a run, m; hose is sold at full stretch."""
    length = run.length
    if run.wall.duct is None or run.wall.duct.kind != "hose":
        return length
    return length / _stretch(run.run, run.wall.assumed_stretch)


def _stretch(run: Run, assumed: float | None) -> float:
    return float(run.stretch) if run.stretch is not None else assumed or 1.0
