"""Judging many states at once: arrays by state, no loop over states.

A hood starves in a state in which it is open (`shop.gates`) and its flow, as the solver finds it with that state's
gates, is less than its design flow; dust settles in a run in which the air is slower than the transport velocity of
some dust that comes down to it from an open hood.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.laws.fan import Fan
from airbough_service.core.limits import above
from airbough_service.core.network import (
    columns,
    judged_states,
    operating,
    states,
)
from airbough_service.core.network.tree import (
    area,
)
from airbough_service.shop.gates import Reach, reach, tree_order
from airbough_service.shop.opening import is_shut
from airbough_service.shop.shop import (
    Shop,
    gate_quadratic,
)
from airbough_service.solving.grades import of_hoods, settles, starves
from airbough_service.solving.motor import supply_of
from airbough_service.solving.power import overloads, shaft_of
from airbough_service.solving.suction import neglected

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]


CELLS: Final = 1_000_000  # states times rows solved at once: bounds the memory


@dataclass(frozen=True, slots=True)
class Judged:
    """What S states come to; infinite where a thing is not judged, -1 where no run is meant.

    Attributes:
        outcome: number of the word in ``core.states.OUTCOMES``.
        shut: whether no hood has a way to the fan but leaks.
        cut_off: whether a machine whose own gates stand open is cut off by a shut zone gate.
        flow, fan_static: through the fan, m3/s and Pa; not a number where the curve has no point.
        share, share_run: least share of a design flow among open hoods, and the run.
        margin, margin_run: least velocity over transport velocity among judged runs, and the run.
        suction, suction_run: deepest, Pa, and the run; minus infinity beyond the curve.
        power, load: at the shaft, W, and over the motor's rated power; not a number where not known.
        fast, transitional: whether some run is needlessly fast, or its flow between laminar and turbulent.
        off_points: whether the power points do not reach the flow.
    """

    outcome: Whole
    shut: Flags
    cut_off: Flags
    flow: Floats
    fan_static: Floats
    share: Floats
    share_run: Whole
    margin: Floats
    margin_run: Whole
    suction: Floats
    suction_run: Whole
    power: Floats
    load: Floats
    fast: Flags
    transitional: Flags
    off_points: Flags

    @property
    def known(self) -> Flags:
        """Where something flows at a known point."""
        return np.asarray(self.outcome <= states.SEVERAL)

    @property
    def settling(self) -> Flags:
        """Where some judged run is too slow for its dust."""
        return settles(self.margin)

    @property
    def starving(self) -> Flags:
        """Where some open hood is below its design flow."""
        return starves(self.share)

    @property
    def overloaded(self) -> Flags:
        """Where the shaft takes more than the motor's rated power."""
        return overloads(self.load)

    @property
    def holds(self) -> Flags:
        """Where some way is open, and something flows at a known point and neither settles nor starves."""
        return self.known & ~self.shut & ~self.settling & ~self.starving

    @property
    def off_curve(self) -> Flags:
        """Where nothing flows and the fan's curve does not begin at no flow."""
        return np.asarray((self.outcome == states.NOTHING) & np.isnan(self.fan_static))

    @property
    def deep(self) -> Flags:
        """Where one density is a rough reading."""
        return above(self.suction, neglected())


@dataclass(slots=True)
class Tally:
    """Which runs fail in which of the states judged so far, and how many these are."""

    by_run: judged_states.Noted
    seen: int = 0


def tally(runs: int) -> Tally:
    """Return an empty tally; of 0 runs nothing is noted in it."""
    return Tally(judged_states.nothing_noted(runs))


class Judge:
    """Solves and judges states of one shop."""

    def __init__(self, shop: Shop, fan: Fan) -> None:
        self.shop, self.fan, self.tree = shop, fan, shop.tree
        runs = shop.runs
        self.judging = _judging(shop)
        self.told = np.zeros(len(shop.tree.gate), np.bool_)
        self.told[self.judging.lower] = True
        self.index_of_row = np.full(len(shop.tree.gate), -1)
        self.index_of_row[self.judging.lower] = np.arange(len(runs))
        self.change = shop.tree.change.astype(np.float64)  # whole numbers where no run has any
        self.gates = np.array([run.index for run in runs if run.run.gate is not None], np.int64)
        self.column = {int(index): k for k, index in enumerate(self.gates)}
        self.shaft, self.supply = shaft_of(shop, fan), supply_of(shop)

    @property
    def block(self) -> int:
        """How many states are solved at once."""
        return max(1, CELLS // len(self.tree.gate))

    def quadratic(self, index: int, opening: float) -> float:
        """Return a gate's coefficient at an opening, Pa per (m3/s)^2."""
        return gate_quadratic(self.shop.runs[index], self.shop.density, opening)

    def judge(
        self, quadratic: Floats, opening: Floats, running: Flags | None = None, noted: Tally | None = None
    ) -> Judged:
        """Judge states.

        Args:
            quadratic: coefficient of each gate, shape (S, gates), in the order of `gates`.
            opening: of each gate, shape (S, gates).
            running: by run: the hoods whose design flow counts, suction then left out; None: the open ones of each
                state.
            noted: is told which runs fail in which states.
        """
        parts = [
            self._judge(quadratic[k : k + self.block], opening[k : k + self.block], running, noted)
            for k in range(0, len(quadratic), self.block)
        ]
        if len(parts) == 1:
            return parts[0]
        return Judged(*(np.concatenate([getattr(part, name.name) for part in parts]) for name in fields(Judged)))

    def _judge(self, quadratic: Floats, opening: Floats, running: Flags | None, noted: Tally | None) -> Judged:
        """Judge one block of states."""
        count = len(quadratic)
        gates = np.repeat(self.tree.gate[None, :], count, axis=0)
        gates[:, self.judging.upper[self.gates]] = quadratic
        solved = states.solve(self.tree, self.fan, gates, with_roots=running is None)
        known = solved.outcome <= states.SEVERAL
        let_through = np.ones((count, len(self.shop.runs)), np.bool_)
        let_through[:, self.gates] = ~is_shut(opening)
        found = reach(self.shop, let_through)
        worst, noted = judged_states.worst_of(count), tally(0) if noted is None else noted
        counted = np.empty(0, np.bool_) if running is None else running
        here = judged_states.States(solved.flow, known, found.open, found.active, counted)
        judged_states.judge(self.judging, here, noted.seen, worst, noted.by_run)
        noted.seen += count
        suction, deepest = np.full(count, -np.inf), np.full(count, -1)
        if running is None:
            suction, deepest = self._suction(gates, solved)
        at_fan = np.ascontiguousarray(solved.flow[:, 0])
        static = operating.fan_pressures(self.fan.pieces, self.fan.terms[:0], self.fan.quadratic, at_fan)
        static = np.where(self.fan.begins_beyond(at_fan), np.nan, static)  # nothing is extrapolated, no flow included
        power, load = self._power(at_fan, static)
        return Judged(
            outcome=solved.outcome,
            shut=~np.any(found.open, axis=1),
            cut_off=self._cut_off(let_through, found),
            flow=at_fan,
            fan_static=static,
            share=worst.share,
            share_run=worst.share_run,
            margin=worst.margin,
            margin_run=worst.margin_run,
            suction=suction,
            suction_run=deepest,
            power=power,
            load=load,
            fast=worst.fast,
            transitional=worst.transitional,
            off_points=known & ~self._reached(at_fan),
        )

    def _cut_off(self, gates: Flags, found: Reach) -> Flags:
        """Return, by state, whether a machine whose own gates stand open is cut off by a shut zone gate."""
        zones = list(self.shop.machines.zones)
        if not zones:
            return np.zeros(len(gates), np.bool_)
        without = gates.copy()
        without[:, zones] = True
        gated = [hood for machine in self.shop.machines.each if machine.gates for hood in machine.hoods]
        return np.asarray((reach(self.shop, without).open & ~found.open)[:, gated].any(axis=1))

    def _suction(self, gates: Floats, solved: states.Flows) -> tuple[Floats, Whole]:
        """Return the deepest suction of each state and its run."""
        at_fan = operating.fan_pressures(
            self.fan.pieces, self.fan.terms, self.fan.net_quadratic, np.ascontiguousarray(solved.flow[:, 0])
        )
        deepest, where = states.deepest_suctions(self.tree, self.change, self.told, gates, solved, at_fan)
        beyond = (solved.outcome == states.BEYOND) | (solved.outcome == states.UNSOLVED)
        beyond |= self.fan.begins_beyond(solved.flow[:, 0])
        deepest[beyond] = -np.inf
        return deepest, np.where(beyond, -1, self.index_of_row[where])

    def _reached(self, flow: Floats) -> Flags:
        """Return, by state, whether the power points reach the flow; true where there are none."""
        if self.shaft is None:
            return np.ones(flow.shape, np.bool_)
        return self.shaft.reaches(flow)

    def _power(self, flow: Floats, static: Floats) -> tuple[Floats, Floats]:
        """Return shaft power and motor load of each state; not a number where not known."""
        if self.shaft is None:
            nothing = np.full(flow.shape, np.nan)
            return nothing, nothing
        power = self.shaft.watts(flow, static)
        return power, self.shaft.load(power)


def _judging(shop: Shop) -> judged_states.Judging:
    """Return what a shop's runs are judged by."""
    runs, (carried, needed) = shop.runs, of_hoods(shop)
    flows = [None if run.run.hood is None or run.run.hood.flow is None else float(run.run.hood.flow) for run in runs]
    rows = np.array([shop.widest_row(run.index) for run in runs], np.int64)
    long = np.array([run.length > 0.0 for run in runs])
    return judged_states.Judging(
        *tree_order(shop),
        upper=shop.hood_rows,
        lower=shop.end_rows,  # told is the end; hood and gate stay upstream
        widest=np.array([area(run.widest.bore) for run in runs]),
        narrowest=np.array([area(run.narrowest.bore) for run in runs]),
        carried=carried,
        needed=needed,
        design=np.array([np.nan if flow is None else flow for flow in flows]),
        reynolds=np.where(long, shop.tree.table[rows, columns.REYNOLDS], 0.0),
    )
