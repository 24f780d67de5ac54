"""Trying changes of the tree with the engine, all of an answer together, without reading the document again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from msgspec import Struct, field, structs
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    RunResult,
)
from airbough_service.catalogue import Loss
from airbough_service.core.laws.fan import Fan
from airbough_service.core.limits import least_held
from airbough_service.core.network import trials
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import operate
from airbough_service.core.network.parted_runs import whole_runs
from airbough_service.core.network.status import NOT_CONVERGED, OK
from airbough_service.core.network.tree import TERM_BYTES
from airbough_service.core.network.trying import ChangedRows, tried_rows
from airbough_service.shop.packing import inlet_loss, pack_shop
from airbough_service.shop.pieces import Pieces
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms import units

Floats = NDArray[np.float64]
MOST_TRIALS: Final = 40  # suggestions that the engine tries in one answer; the others are given as words
Changed = dict[int, ShopRun]
"""Run number -> the run as a change would have it; bores at junctions stay."""


class Swap(Struct, frozen=True):
    """Another piece in place of one of a run's, of which only the loss is another.

    Attributes:
        run: as it is.
        number: of the piece among the run's.
        type: of the other piece.
        loss: of the other piece.
        terms: what the run's pieces then lose, as `Pieces.terms_with`.
    """

    run: ShopRun
    number: int
    type: str
    loss: Loss
    terms: bytes

    def changed(self) -> Changed:
        """Return the run as it would be."""
        run, loss, each = self.run, self.loss, list(self.run.pieces)
        each[self.number] = structs.replace(
            each[self.number],
            type=self.type,
            coefficient=loss.coefficient,
            entry=loss.entry,
            passport=loss.passport,
        )
        return {run.index: structs.replace(run, pieces=Pieces(each))}


class Gain(Struct, frozen=True):
    """What a tried change brings: named gains, or the open hood that it would take below its design flow."""

    values: dict[str, float] | None = None
    starved: str | None = None


class Proposal(Struct, frozen=True):
    """A finding whose suggestion is tried: written when all of an answer are.

    Attributes:
        trial: its number among the bench's; None where it is not tried.
        written: makes the finding of what the change brings.
    """

    trial: int | None
    written: Callable[[Gain], Finding]


class Bench(Struct):
    """Where suggestions are tried: the solved state, if any, and the changes to be tried in it."""

    shop: Shop
    told: tuple[RunResult, ...]
    fan: Fan | None = None
    gate: Floats | None = None
    flow: Floats | None = None
    left: int = MOST_TRIALS
    changes: list[tuple[int, Changed | Swap]] = field(default_factory=list)

    @property
    def tries(self) -> bool:
        """Whether a further change will be tried."""
        return self.fan is not None and self.left > 0

    def trial(self, index: int, changed: Changed | Swap) -> int | None:
        """Return the number of the trial of a change, told of one run; None where it is not tried.

        Args:
            index: of that run.
            changed: the runs that the change changes.
        """
        if self.fan is None or self.left <= 0:
            return None
        self.left -= 1
        self.changes.append((index, changed))
        return len(self.changes) - 1

    def findings(self, found: list[Finding | Proposal]) -> list[Finding]:
        """Return findings in their order, those of proposals written now that all have been tried together."""
        gains = self._gains()
        return [
            item if isinstance(item, Finding) else item.written(_UNTRIED if item.trial is None else gains[item.trial])
            for item in found
        ]

    def _gains(self) -> list[Gain]:
        """Return what each change brings, in the preset's units: pressure saved at its run and air gained there."""
        if self.fan is None or self.gate is None or self.flow is None or not self.changes:
            return []
        hoods = self._hoods()
        if not self.fan.crosses_once:
            return [self._alone(self.fan, self.gate, hoods, *change) for change in self.changes]
        shop = self.shop
        solved = shop.tree, self.fan, self.gate, self.flow
        if shop.parted is None:
            needs = [number for row, least, _ in hoods for number in (row, least)]
            tried = tried_rows(*solved, _all_rows(shop, self.changes, needs))
        else:
            rows = np.array([row for row, _, _ in hoods], np.int64)
            of_hoods = trials.Needs(rows, np.array([least for _, least, _ in hoods], np.float64))
            changed = [changed_rows(shop, change) for _, change in self.changes]
            found = trials.tried(*solved, changed, [shop.rows(index) for index, _ in self.changes], of_hoods)
            each = found.status.tolist(), found.flow.tolist(), found.lost.tolist(), found.starved.tolist()
            tried = list(zip(*each, strict=True))
        return [
            self._alone(self.fan, self.gate, hoods, *change)
            if status == NOT_CONVERGED
            else self._gain(change[0], flow, lost, None if starved < 0 else hoods[starved][2])
            if status == OK
            else _UNTRIED
            for change, (status, flow, lost, starved) in zip(self.changes, tried, strict=True)
        ]

    def _hoods(self) -> list[tuple[int, float, str]]:
        """Return row, least flow that holds, and run of each hood that no advice may take below its design flow."""
        return [
            (row, least_held(float(run.run.hood.flow)), run.run.id)
            for run, told, row in zip(self.shop.runs, self.told, self.shop.tree.place.tolist(), strict=False)
            if run.run.hood is not None and run.run.hood.flow is not None and not told.idle
        ]

    def _gain(self, index: int, flow: float, lost: float, starved: str | None) -> Gain:
        """Return a gain from the run's flow and loss with the change; the loss is compared at the flow without it."""
        if starved is not None:
            return Gain(starved=starved)
        preset, told = self.shop.request.units, self.told[index]
        same_flow = (told.flow / flow) ** 2 if flow > 0.0 else 0.0
        saved, gained = told.total_loss - lost * same_flow, flow - told.flow
        return Gain(
            {
                "pressure_saved": saved / units.factor("pressure", preset),
                "flow_gained": gained / units.factor("flow", preset),
            }
        )

    def _alone(
        self, fan: Fan, gate: Floats, hoods: list[tuple[int, float, str]], index: int, change: Changed | Swap
    ) -> Gain:
        """Return the gain of a change that is searched for along the fan's whole curve."""
        assert self.flow is not None
        new = retried(self.shop, change)
        operating = operate(new.tree, fan, gate)
        if not operating.crossings:
            return Gain()
        flow = operating.flow
        parts = losses(new.tree, gate, flow, fan.left_for_tree(float(flow[0])))
        starved = next((run for row, least, run in hoods if flow[row] < least <= self.flow[row]), None)
        if new.parted is not None:
            parts, flow, _ = whole_runs(new.tree, new.parted, parts, flow)
        row = self.shop.hood_row(index)
        return self._gain(index, float(flow[row]), float(parts.total[row]), starved)


_UNTRIED: Final = Gain()


def changed_rows(shop: Shop, changed: Changed | Swap) -> list[trials.Row]:
    """Return the rows of the packed tree that a change changes, where runs have several: all are packed anew."""
    new, old = retried(shop, changed).tree, shop.tree
    rows = np.flatnonzero((new.table != old.table).any(axis=1) | (new.change != old.change)).tolist()
    return [trials.Row(row, new.table[row], float(new.change[row])) for row in rows]


def _all_rows(shop: Shop, changes: Sequence[tuple[int, Changed | Swap]], needs: list[float]) -> ChangedRows:
    """Return the rows that changes change, each told of a run, in a tree in which each run is one row."""
    place, several = shop.tree.place.tolist(), len(shop.shape.roots) > 1
    out = ChangedRows([], [], {}, needs)
    for number, (index, change) in enumerate(changes):
        for run, terms in _lost(change):
            if run.arm is not shop.runs[run.index].arm:
                out.arms[len(out.terms)] = run.arm
            more = inlet_loss(shop.shape, run.index, shop.density, run.end) if several else 0.0
            out.lines.extend((number, place[index], place[run.index], len(terms) // TERM_BYTES, more))
            out.terms.append(terms)
    return out


def _lost(change: Changed | Swap) -> list[tuple[ShopRun, bytes]]:
    """Return the runs that a change changes, and what their pieces then lose, as ``core.network.tree.Run.terms``."""
    if isinstance(change, Swap):
        return [(change.run, change.terms)]
    return [(run, run.pieces.together.terms) for run in change.values()]


def retried(shop: Shop, change: Changed | Swap) -> Shop:
    """Return the shop with some runs in place of its own."""
    changed = change.changed() if isinstance(change, Swap) else change
    runs = tuple(changed.get(run.index, run) for run in shop.runs)
    packed, parted = pack_shop(shop.request, shop.air, shop.shape, runs, shop.discharge, shop.leaking)
    return structs.replace(shop, runs=runs, tree=packed, parted=parted)
