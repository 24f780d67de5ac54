"""Each run in each bore that it may have: its losses and velocities in every state, its pieces and their price."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, TypeAlias

import numpy as np
from msgspec import Struct, structs
from numpy.typing import NDArray

from airbough.wire.sizing import SizingRequest
from airbough.wire.tree import Run
from airbough_service import catalogue
from airbough_service.core.choosing.sites import counted
from airbough_service.core.limits import above, below
from airbough_service.core.network import (
    columns,
    tree,
)
from airbough_service.core.network.own_loss import straight_losses
from airbough_service.core.network.tree import Arm
from airbough_service.questions.sizing.bought import bought, taper_lengths
from airbough_service.questions.sizing.resized import changes, ended, resized, without_length
from airbough_service.questions.sizing.states import State
from airbough_service.questions.sizing.stock import (
    Part,
    Shelf,
    nanometres,
)
from airbough_service.shop import making
from airbough_service.shop.packing import gate_share, packed_parts
from airbough_service.shop.pieces import DuctPart, Found, Pieces, course
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
    packed,
)
from airbough_service.solving.tree_answer import velocity

Floats = NDArray[np.float64]
Key: TypeAlias = tuple[int, tuple[tuple[int, float], ...]]
"""Of an option: the bore of its duct, nm, and the lengths of the tapers next to it, m, by their number."""
FAR: Final = 1.3  # times a limit of velocity, beyond which a nominal bore is not looked at


class Option(Struct, frozen=True):
    """A run in one bore.

    Attributes:
        bore: of its duct, m.
        key: what tells it from the run's other options.
        run: as the shop has it, without its junction; its pieces' paths begin in it.
        row: for packing, without its gate.
        parts: its own pieces; `cost` is theirs.
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
    def cost(self) -> float:
        """Price of its own pieces."""
        return sum(part.cost for part in self.parts)


class Made(Struct, frozen=True):
    """A run in one bore, whatever flows.

    Attributes:
        bore, key, run, row: as of an option.
        lines: shape (parts, columns), packed rows of each part of its duct; the first has the machine's resistance.
        gates: shape (states,), what its gate loses, Pa per (m3/s)^2.
    """

    bore: float
    key: Key
    run: ShopRun
    row: tree.Run
    lines: Floats
    gates: Floats


@dataclass(slots=True)
class Options:
    """Makes options, each once.

    Attributes:
        request: in SI.
        shop: the tree with any bores, for what does not depend on them.
        states: to be sized for.
        fixed: numbers of the runs that keep their bore.
        made: runs by bore, None where no law answers one; with all below but `found` the same for all flows.
        kinds: numbers of the runs that are alike but for what joins, dust, gates and flows hang on.
        of_kind: the first of such runs that was made, by what tells its options apart; None where no law answers it.
        opened: by run, shape (states,), what its gate loses in each state, of the velocity pressure where it begins.
        limits: by run, shape (2, states), its least and greatest velocity, m/s; not a number where it is not judged.
        unopened: by run, the bore that it needs though no state opens it, m.
        found: options by run and what tells them apart, without their pieces.
    """

    request: SizingRequest
    shop: Shop
    states: tuple[State, ...]
    fixed: frozenset[int]
    made: dict[tuple[int, Key], Made | None] = field(default_factory=dict)
    kinds: dict[object, int] = field(default_factory=dict)
    of_kind: dict[tuple[int, Key], Made | None] = field(default_factory=dict)
    opened: dict[int, Floats] = field(default_factory=dict)
    limits: dict[int, Floats] = field(default_factory=dict)
    unopened: list[float] = field(default_factory=list)
    found: dict[tuple[int, Key], Option] = field(default_factory=dict)

    def at_flows(self, states: tuple[State, ...]) -> Options:
        """Return the options for other flows in the same states."""
        return replace(self, states=states, found={})

    def of(self, index: int, shelf: Shelf) -> list[Option]:
        """Return what a run may be, by rising bore."""
        stocked = self._stocked(index, shelf)
        options = self._options([made for made, _ in stocked])
        found = [structs.replace(option, parts=parts) for option, (_, parts) in zip(options, stocked, strict=True)]
        if index in self.fixed:
            return found
        wide = self._wide_enough(index, found)
        return self._sensible(wide) if shelf.nominal else wide

    def _stocked(self, index: int, shelf: Shelf) -> list[tuple[Made, tuple[Part, ...]]]:
        """Return a run in each bore in which the stock has all its pieces, with these."""
        key = ("run", index)
        if key not in shelf.joints:
            ways = [(made, bought(made.run, shelf, kept=index in self.fixed)) for made in self._ways(index, shelf)]
            shelf.joints[key] = [(made, parts) for made, parts in ways if parts is not None]
        return shelf.joints[key]  # type: ignore[return-value]  # only this function fills it

    def _ways(self, index: int, shelf: Shelf) -> Iterator[Made]:
        """Give a run in each bore that laws answer, with every length of the tapers next to its duct in the stock."""
        run = self.request.runs[index]
        ways: list[tuple[float, Run, tuple[tuple[int, float], ...]]]
        if index in self.fixed:
            bore = max(part.bore for part in course(Found(), run).parts)
            ways = [(bore, run, ())]
        elif not changes(run):
            ways = [(bore, structs.replace(run, diameter=bore), ()) for bore in shelf.sizes(run.duct)]
        else:
            ways = [
                (bore, resized(run, bore, lengths), tuple(sorted(lengths.items())))
                for bore in shelf.sizes(run.duct)
                for lengths in taper_lengths(run, bore, shelf)
            ]
        kind = self._kind(index)
        for bore, asked, lengths in ways:
            made = self._made(index, bore, (nanometres(bore), lengths), asked, kind)
            if made is not None:
                yield made

    def _sensible(self, found: list[Option]) -> list[Option]:
        """Leave out the nominal bores that are no answer: far too slow, or far too fast, wherever they are judged.

        With those left out that are beyond what is bought for such a shop, the search is a tenth.
        """
        return [option for option in found if self._near(option)] or found

    def _near(self, option: Option) -> bool:
        """Return whether a bore's velocity is within FAR of its limits in some state."""
        index = option.run.index
        low, high = self._limits(index)
        speed = np.array([velocity(option.run, float(state.flow[index])) for state in self.states])
        return bool(((speed > 0.0) & (low / FAR <= speed) & (speed <= high * FAR)).any())

    def _wide_enough(self, index: int, found: list[Option]) -> list[Option]:
        """Leave out the bores below the least for a run; where that leaves none the widest stays, and it is told."""
        least = self.least_bore(index)
        wide = [option for option in found if not below(option.bore, least)]
        return wide or [option for option in found if option.bore == found[-1].bore]

    def least_bore(self, index: int) -> float:
        """Return a run's least bore, m: its hood's port; of one that no state opens also that of its machines."""
        hood, least = self.request.runs[index].hood, 0.0
        if hood is not None and hood.port_diameter is not None:
            least = float(hood.port_diameter)
        if not any(state.active[index] for state in self.states):
            least = max(least, self._least[index])
        return least

    @property
    def _least(self) -> list[float]:
        """By run, the bore in which the largest machine upstream, alone, moves at its upper velocity, m."""
        if not self.unopened:
            self.unopened = _least_bores(self.request, self.shop)
        return self.unopened

    def _made(self, index: int, bore: float, key: Key, asked: Run, kind: int) -> Made | None:
        """Return a run as it is bought; None where a law does not answer it. Of runs of a kind one is reckoned."""
        if (index, key) not in self.made:
            if (kind, key) not in self.of_kind:
                self.of_kind[kind, key] = self._make(index, bore, key, asked)
            made = self.of_kind[kind, key]
            if made is not None and made.run.index != index:
                known = self.shop.runs[index]
                run = structs.replace(made.run, index=index, run=asked, dust=known.dust)
                made = structs.replace(made, run=run, gates=self._gates(run))
            self.made[index, key] = made
        return self.made[index, key]

    def _kind(self, index: int) -> int:
        """Return the number of the runs that are reckoned like this one in every bore."""
        run = self.request.runs[index]
        diameter = run.diameter if changes(run) else 1.0  # else it is the option's
        hood = None if run.hood is None else (run.hood.entry, run.hood.port_diameter, run.hood.port_coefficient)
        rest = structs.replace(run, id="", into=None, diameter=diameter, join=None, hood=None, gate=None, path=None)
        return self.kinds.setdefault((rest, hood, self.shop.runs[index].resistance), len(self.kinds))

    def _make(self, index: int, bore: float, key: Key, asked: Run) -> Made | None:
        own, known = making.made(asked, self.request.units), self.shop.runs[index]
        if own.faults:
            return None
        run = ShopRun(
            index, asked, own.start, own.end, own.wall, own.pieces, Arm(), known.dust, own.along(asked),
            known.resistance,
        )  # fmt: skip
        return self._packed(run, bore, key)

    def _packed(self, run: ShopRun, bore: float, key: Key) -> Made:
        row = packed(self.request, run, -1, self.shop.density)._replace(gate=0.0)
        rows = [row]
        if len(run.parts) > 1:
            parts = packed_parts(self.request, run, self.shop.density)
            rows = [row._replace(bore=part.bore, length=part.length, power_law=part.power_law) for part in parts]
            rows[1:] = [one._replace(resistance=None) for one in rows[1:]]
        lines = np.zeros((len(rows), columns.FLOAT_COLUMNS))
        for line, one in zip(lines, rows, strict=True):
            tree.fill(line, one, self.shop.density, float(self.shop.air.viscosity))
        return Made(bore, key, run, row, lines, self._gates(run))

    def _gates(self, run: ShopRun) -> Floats:
        """Return what a run's gate loses in each state, Pa per (m3/s)^2."""
        index, gate = run.index, run.run.gate
        if index not in self.opened:
            openings = [state.openings.get(index) for state in self.states]
            shares = {opening: 0.0 if gate is None else gate_share(gate, opening) for opening in set(openings)}
            self.opened[index] = np.array([shares[opening] for opening in openings])
        return np.asarray(self.opened[index] * tree.dynamic(self.shop.density, run.start))

    def _options(self, made: Sequence[Made]) -> list[Option]:
        """Return a run in several bores at the flows of the states, without its pieces."""
        keys = [(one.run.index, one.key) for one in made]
        new = {key: one for key, one in zip(keys, made, strict=True) if key not in self.found}
        if new:
            self.found.update(zip(new, self._reckoned(list(new.values())), strict=True))
        return [self.found[key] for key in keys]

    def _option(self, made: Made) -> Option:
        """Return a run in one bore at the flows of the states, without its pieces."""
        return self._options([made])[0]

    def _reckoned(self, made: list[Made]) -> list[Option]:
        """Return what a run in several bores loses, and by how many steps it is too slow or too fast.

        It is slowest where nothing has leaked in yet, fastest where all has that is allowed for.
        """
        index, rows, runs = made[0].run.index, [one.row for one in made], [one.run for one in made]
        whole = np.array([state.flow[index] for state in self.states])
        design = np.array([state.design[index] for state in self.states])
        flow = np.where([state.active[index] for state in self.states], whole, 0.0)
        fixed = np.array([[row.entry + row.port + row.fittings] for row in rows])
        own = (fixed + np.where(flow > 0.0, np.array([one.gates for one in made]), 0.0)) * flow * flow
        parts, states = [len(one.lines) for one in made], flow.size
        lines = np.repeat(np.concatenate([one.lines for one in made]), states, axis=0)
        friction, resistance = straight_losses(lines, np.tile(flow, sum(parts)))
        np.add.at(own, np.repeat(np.arange(len(made)), parts), (friction + resistance).reshape(-1, states))
        low, high = self._limits(index)
        judged = (whole > 0.0) & np.isfinite(low)
        least = design / np.array([[tree.area(run.widest.bore)] for run in runs])
        most = whole / np.array([[tree.area(run.narrowest.bore)] for run in runs])
        slow = np.where((whole > 0.0) & below(least, low), counted(1.0 - least / low), 0.0)
        fast = np.where((whole > 0.0) & above(most, high), counted(most / high - 1.0), 0.0)
        return [Option(one.bore, one.key, one.run, one.row, (), own[number], slow[number], fast[number], judged)
                for number, one in enumerate(made)]  # fmt: skip

    def _limits(self, index: int) -> Floats:
        """Return a run's least and greatest velocity in every state, m/s; not a number where it is not judged."""
        if index not in self.limits:
            pairs = [limits_of(self.request, state, index, 1.0) for state in self.states]
            self.limits[index] = np.array(pairs, float).T
        return self.limits[index]

    def reduced(self, option: Option, to: float, length: float | None) -> Option | None:
        """Return a run that changes size at its end, to a bore, m, over a length, m; None where no law answers it."""
        key = (option.key[0], (*option.key[1], (len(option.run.run.fittings), to), (-1, length or 0.0)))
        asked = ended(option.run.run, option.run.end, to, length)
        made = self._made(option.run.index, option.bore, key, asked, self._kind(option.run.index))
        if made is None:
            return None
        found = self._option(made)
        return structs.replace(found, key=key, parts=option.parts)

    def between(self, into: Option, bore: float) -> Option:
        """Return the run of no length between a wye of a bore, m, and the run that it flows into."""
        index, key = into.run.index, (nanometres(bore), ((-1, 0.0),))
        if (index, key) not in self.made:
            asked, part = without_length(into.run.run, into.run.id, bore), DuctPart(bore, 0.0, "")
            run = ShopRun(index, asked, bore, bore, into.run.wall, Pieces(), Arm(), into.run.dust, (part,), None)
            self.made[index, key] = self._packed(run, bore, key)
        made = self.made[index, key]
        assert made is not None
        return self._option(made)


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
    if flow <= 0.0 or not state.active[index]:
        return None, None
    dusts, limits = state.dusts[index], request.limits
    low = max((dust.transport_velocity for dust in dusts), default=None)
    high = max((dust.upper_velocity for dust in dusts), default=None)
    if limits.transport_velocity is not None:
        low = float(limits.transport_velocity)
    if limits.upper_velocity is not None:
        high = float(limits.upper_velocity)
    return low, high
