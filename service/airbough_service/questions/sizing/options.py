"""Each run in each bore that it may have: its losses and velocities in every state, its pieces and their price."""

from __future__ import annotations

from dataclasses import dataclass, field

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


@dataclass(frozen=True, slots=True)
class Option:
    """A run in one bore.

    Attributes:
        run: as the shop has it, without its junction.
        row: for packing.
        parts: its own pieces; `price` is theirs.
        own: shape (states,), its losses but for the junction, Pa.
        slow, fast: shape (states,), whether it is below its transport velocity, or above its upper one.
    """

    run: ShopRun
    row: tree.Run
    parts: tuple[Part, ...]
    own: Floats
    slow: NDArray[np.bool_]
    fast: NDArray[np.bool_]

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

    def of(self, index: int, shelf: Shelf) -> list[Option]:
        """Return what a run may be, by rising bore."""
        run = self.request.runs[index]
        bores = [float(run.diameter)] if index in self.fixed else shelf.sizes(run.duct)
        return [option for option in (self._option(index, bore, shelf) for bore in bores) if option is not None]

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
        speeds = [velocity(run, float(state.flow[index])) for state in self.states]
        return Option(run, row, parts, own, *self._judged(index, speeds))

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
        flow = np.array([float(state.flow[index]) for state in self.states])
        table = np.zeros((flow.size, columns.FLOAT_COLUMNS))
        for line in table:
            tree.fill(line, row, self.shop.density, float(self.shop.air.viscosity))
        friction, resistance = straight_losses(table, flow)
        gates = [
            gate_quadratic(run, self.shop.density, state.openings.get(index)) if q > 0.0 else 0.0
            for state, q in zip(self.states, flow, strict=True)
        ]
        return run, row, friction + resistance + (row.entry + row.port + row.fittings + np.array(gates)) * flow * flow

    def _judged(self, index: int, speeds: list[float]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Return whether a run is too slow, and too fast, in every state; neither where nothing is meant to flow."""
        limits = [limits_of(self.request, state, index, float(state.flow[index])) for state in self.states]
        slow = [low is not None and v < low * (1.0 - HOLDS) for v, (low, _) in zip(speeds, limits, strict=True)]
        fast = [high is not None and v > high * (1.0 + HOLDS) for v, (_, high) in zip(speeds, limits, strict=True)]
        return np.array(slow), np.array(fast)


def limits_of(request: SizingRequest, state: State, index: int, flow: float) -> tuple[float | None, float | None]:
    """Return the least and the greatest velocity of a run in a state, m/s; None where it is not judged."""
    if flow <= 0.0:
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
    length = float(run.run.length)
    if run.wall.duct is None or run.wall.duct.kind != "hose":
        return length
    return length / _stretch(run.run, run.wall.assumed_stretch)


def _stretch(run: Run, assumed: float | None) -> float:
    return float(run.stretch) if run.stretch is not None else assumed or 1.0
