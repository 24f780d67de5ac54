"""What sizing reckons that pieces lose, of which a layout's losses are made: duct, turns, hoses, junctions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.combined.layout.asked import Asked
from airbough_service.core import deadline
from airbough_service.core.choosing.placing.program import Rows
from airbough_service.core.network import columns, tree
from airbough_service.core.network.own_loss import straight_losses
from airbough_service.questions.sizing.kits import Joining, joining, lengths_of
from airbough_service.questions.sizing.meetings import Meetings, Met, Sets
from airbough_service.questions.sizing.options import Option
from airbough_service.questions.sizing.stock import Shelf, nanometres

Floats = NDArray[np.float64]
RATIOS = 64  # shares of the flow at which junctions are looked at, where several machines run


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What sizing reckons for the trial's line: its first run, what goes on in it, and a machine that enters it."""

    asked: Asked
    meetings: Meetings
    first: dict[int, Option]
    ahead: tuple[Option, ...]
    beside: dict[int, Option]

    @classmethod
    def of(cls, asked: Asked) -> Reckoned:
        """Return what sizing reckons for a request."""
        trial, shelf = asked.trial, asked.shopping.shelf
        arms = trial.shop.shape.children[0]
        ahead = next((arm for arm in arms if arm not in trial.stiff), None)
        beside = next((arm for arm in arms if arm in trial.stiff), None)
        return cls(
            asked,
            Meetings(trial.sizing, trial.shop, trial.options),
            {nanometres(option.bore): option for option in trial.options.of(0, shelf)},
            () if ahead is None else tuple(trial.options.of(ahead, shelf)),
            {} if ahead is None or beside is None
            else {nanometres(option.bore): option for option in trial.options.of(beside, shelf)},
        )  # fmt: skip

    def friction(self, size: float, flow: Floats) -> Floats:
        """Return what a metre of duct loses at flows, Pa; 0 where nothing is known of the diameter."""
        option = self.first.get(nanometres(size))
        if option is None or option.row.length <= 0.0:
            return np.zeros_like(flow)
        line = np.zeros(columns.FLOAT_COLUMNS)
        shop = self.asked.trial.shop
        tree.fill(line, option.row, shop.density, float(shop.air.viscosity))
        flat = flow.ravel()
        lost, _ = straight_losses(np.tile(line, (flat.size, 1)), flat)
        return np.asarray(np.where(flat > 0.0, lost / option.row.length, 0.0)).reshape(flow.shape)

    def right(self, size: float) -> float:
        """Return what an elbow of 90 degrees loses, Pa per (m3/s)^2."""
        option = self.first.get(nanometres(size))
        return 0.0 if option is None else float(option.row.fittings)

    def easy(self, size: float) -> float:
        """Return what the elbow before a wye loses."""
        option = self.beside.get(nanometres(size))
        return 0.0 if option is None else max(float(option.row.fittings) - self.right(size), 0.0)


def hoses(asked: Asked, found: Reckoned, machine: int, into: Option) -> Floats:
    """Return the least that a machine's hoses lose with what they meet in, Pa, by state; 0 without hoses."""
    trial, shelf = asked.trial, asked.shopping.shelf
    if not trial.hosed(machine):
        return np.zeros(len(trial.states))
    order = trial.shop.shape.children[trial.stiff[machine]]
    arms = [tuple(trial.options.of(arm, shelf)[:1]) for arm in order]
    own = np.array([options[0].own for options in arms])
    if len(arms) == 1:
        return np.asarray(own[0], float)
    flow = np.array([[float(state.flow[run]) if state.active[run] else 1.0 / len(arms) for run in order]
                     for state in trial.states])  # fmt: skip
    ways = joining(trial.sizing, order, trial.stiff[machine], kept=False)
    met = _met(found.meetings, ways, into, arms, shelf)
    if met is None:
        return np.asarray(own.max(axis=0), float)
    return np.asarray((own + met.lost(np.column_stack([flow.sum(axis=1), flow]))).max(axis=1).min(axis=0), float)


@dataclass(frozen=True, slots=True)
class _Met:
    """Ways in which runs may meet.

    Attributes:
        meetings: of sizing.
        arms: by arm, its options.
        sets: the ways.
        changes: what changes of size of straight arms lose in each.
        numbers: shape (ways, arms), of each arm's option.
    """

    meetings: Meetings
    arms: list[tuple[Option, ...]]
    sets: Sets
    changes: Floats
    numbers: NDArray[np.int64]

    def lost(self, flow: Floats) -> Floats:
        """Return what each loses at least, Pa, shape (ways, arms, columns), at flows of shape (columns, 1 + arms)."""
        plain: dict[int, Met | None] = {
            row: around._replace(lost=np.zeros((len(self.arms), len(flow))), after=0.0)
            for row, around in self.sets.met.items()
            if around is not None
        }
        return self.meetings.losses(self.arms, self.sets._replace(met=plain), self.changes, flow)[0]


def _met(
    meetings: Meetings, meeting: Joining, into: Option, arms: list[tuple[Option, ...]], shelf: Shelf
) -> _Met | None:
    """Return the ways in which runs may meet; None where no law answers any."""
    ends = tuple(tuple(nanometres(option.run.end) for option in options) for options in arms)
    ways = meeting.ways(ends, (nanometres(into.run.start),), shelf)
    sets = meetings.sets((into,), arms, ways)
    changes, met = meetings.changes_of(arms, sets, list(lengths_of(shelf))), sets.met
    rows = [row for row in range(len(ways.numbers)) if np.isfinite(changes[row]).all() and met.get(row, ()) is not None]
    able = [all(meetings.arm(arm, into) is not None for arm in meetings.of(arms, ways, row)) for row in rows]
    rows = [row for row, fits in zip(rows, able, strict=True) if fits]
    return _Met(meetings, arms, sets.taken(np.array(rows)), changes[rows], ways.numbers[rows]) if rows else None


def joins(asked: Asked, found: Reckoned, rows: Rows, by_row: Floats) -> tuple[Floats, Floats]:
    """Return the least losses of entering a join, by row, the outlet's diameter and state."""
    sizes = asked.shopping.sizes
    straight, branch = np.zeros((2, rows.group.size, len(sizes), by_row.shape[1]))
    whole = asked.design.flow.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(by_row > 0.0, by_row / whole, 1.0)
    least = np.clip(np.floor(share * RATIOS - 1.0e-9).astype(int), 1, RATIOS)
    least[share >= 1.0 - 1.0e-9] = RATIOS
    square = by_row * by_row
    for out, size in enumerate(sizes):
        deadline.check()
        one, other = _least(asked, found, size)
        for diameter in range(len(sizes)):
            mine = rows.diameter == diameter
            straight[mine, out] = one[diameter][least[mine] - 1] * square[mine]
            branch[mine, out] = other[diameter][least[mine] - 1] * square[mine]
    return straight, branch


def _least(asked: Asked, found: Reckoned, size: float) -> tuple[Floats, Floats]:
    """Return the least losses of straight and branch, Pa per (m3/s)^2 of their own flow, by diameter and least share.

    A share of all that flows of 1 / 64 and more, 2 / 64 and more, and so on; the last where nothing else flows. What
    lies between two shares is not below either by more than they differ.
    """
    sizes, into = asked.shopping.sizes, found.first.get(nanometres(size))
    places = [nanometres(listed) for listed in sizes]
    one, other = np.zeros((2, len(sizes), RATIOS))
    if into is None or not found.ahead or not found.beside:
        return one, other
    arms = [found.ahead, tuple(found.beside.values())]
    trial, shelf = asked.trial, asked.shopping.shelf
    order = trial.shop.shape.children[0]
    if order[0] in trial.stiff:
        arms.reverse()
    met = _met(found.meetings, joining(trial.sizing, order, 0, kept=False), into, arms, shelf)
    if met is None:
        return one, other
    share = np.arange(1, RATIOS + 1) / RATIOS
    beside = 0 if order[0] in trial.stiff else 1
    for column, out in ((beside, other), (1 - beside, one)):
        flow = np.ones((RATIOS, 3))
        flow[:, 1 + column], flow[:, 2 - column] = share, 1.0 - share
        lost = met.lost(flow)
        by_flow = lost[:, column] / share**2
        gap = np.abs(np.diff(by_flow, axis=1))
        by_flow[:, :-1] -= gap
        below = np.minimum.accumulate(by_flow[:, ::-1], axis=1)[:, ::-1]
        for number, option in enumerate(arms[column]):
            mine = met.numbers[:, column] == number
            if mine.any():
                out[places.index(nanometres(option.bore))] = below[mine].min(axis=0)
    return one, other
