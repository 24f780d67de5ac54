"""Pressure as a price: what each run loses in each state, never more than the engine says, weighted by machine.

For any weights not below 0 the least price with weighted losses, less what the fan allows of them, is no more than any
tree costs that every state's pressure suffices for (Lagrange's bound: Carlyle, Royset and Wood, Lagrangian relaxation
and enumeration for solving constrained shortest-path problems, 2007; abstract read).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from airbough_service.catalogue.checks import check
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.pricing import EASY, RIGHT, Priced, angles, started
from airbough_service.combined.layout.reckoning import Reckoned, hoses, joins
from airbough_service.core.choosing.placing.program import Prices, Rows
from airbough_service.core.choosing.placing.trace import Stretch, Traced
from airbough_service.core.limits import most_held
from airbough_service.questions.sizing.duty import Duty, duty
from airbough_service.questions.sizing.stock import nanometres
from airbough_service.solving.suction import most as deepest

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pressing:
    """Losses, Pa, by state (last axis); where nothing flows 0.

    Attributes:
        opened: shape (states, machines), whether a machine runs.
        available: shape (states,), what the tree may lose; without a limit what one density answers at most.
        constant: shape (states,), what is lost besides, whatever the tree.
        length: shape (rows, states), of one metre.
        turn: shape (rows, steps, states).
        straight: shape (rows, diameters, states), of joins, by the outlet's diameter.
        branch: shape (rows, diameters, steps, states), the same.
        start: shape (machines, diameters, states), of risers by their own diameter that begin a run.
        tap: the same, of those that enter a run.
        end: shape (diameters, states).
    """

    opened: NDArray[np.bool_]
    available: Floats
    constant: Floats
    length: Floats
    turn: Floats
    straight: Floats
    branch: Floats
    start: Floats
    tap: Floats
    end: Floats

    @property
    def binds(self) -> bool:
        """Whether any state has a limit."""
        return bool(np.isfinite(self.available).any())

    def kept(self, keep: NDArray[np.bool_]) -> Pressing:
        """Return the same for some of the rows, shape (rows,)."""
        names = ("length", "turn", "straight", "branch")
        return replace(self, **{name: getattr(self, name)[keep] for name in names})

    def weights(self, rows: Rows, weight: Floats) -> Floats:
        """Return what a pascal costs in each row and state, of weights of shape (states, machines)."""
        inside = (rows.group[:, None] >> np.arange(self.opened.shape[1])) & 1
        return np.asarray(inside @ (weight * self.opened).T, float)

    def prices(self, priced: Priced, weight: Floats) -> Prices:
        """Return the prices with weighted losses."""
        by_row, plain = self.weights(priced.rows, weight), priced.prices
        own = (weight * self.opened).T
        whole = own.sum(axis=0)
        return plain._replace(
            length=plain.length + (by_row * self.length).sum(axis=1),
            turn=plain.turn + (by_row[:, None, :] * self.turn).sum(axis=2),
            start=started(self.risers(priced, weight), priced.change),
            tap=plain.tap + (self.tap * own[:, None, :]).sum(axis=2),
            straight=plain.straight + (by_row[:, None, :] * self.straight).sum(axis=2),
            branch=plain.branch + (by_row[:, None, None, :] * self.branch).sum(axis=3),
            end=plain.end + (self.end * whole).sum(axis=1),
        )

    def risers(self, priced: Priced, weight: Floats) -> Floats:
        """Return the prices of risers with weighted losses, by machine and their own diameter."""
        own = (weight * self.opened).T
        return np.asarray(priced.riser + (self.start * own[:, None, :]).sum(axis=2), float)

    def allowed(self, weight: Floats) -> float:
        """Return the weighted pressure that is there."""
        known = np.where(np.isfinite(self.available), self.available, 0.0)
        return float(((weight * self.opened).sum(axis=1) * known).sum())

    def lost(self, where: Places, priced: Priced, weight: Floats, traced: Traced) -> Floats:
        """Return what the way from each machine loses in each state, shape (states, machines)."""
        start = self.risers(priced, weight)
        out = np.zeros(self.opened.shape)
        for run, outlet, aside in _with_outlets(traced.root, None, aside=False):
            row = int(priced.rows.number[run.machines, run.diameter])
            length, turns = _ways(where, run, None if aside else outlet)
            lost = length * self.length[row]
            for step in turns:
                lost = lost + self.turn[row, step - 1]
            if outlet is None:
                lost = lost + self.end[run.diameter]
            elif aside:
                lost = lost + self.branch[row, outlet.diameter, _aside(where, run, outlet) - 1]
            else:
                lost = lost + self.straight[row, outlet.diameter]
            if run.straight is None:
                machine = run.machines.bit_length() - 1
                if len(run.points) == 1:
                    lost = lost + self.tap[machine, run.diameter]
                else:
                    first = int(np.argmin(start[machine] + priced.change[:, run.diameter]))
                    lost = lost + self.start[machine, first]
            inside = np.array([run.machines >> machine & 1 == 1 for machine in range(self.opened.shape[1])])
            out += np.where(inside, lost[:, None], 0.0)
        return np.where(self.opened, out, 0.0)


def _with_outlets(run: Stretch, outlet: Stretch | None, *, aside: bool) -> list[tuple[Stretch, Stretch | None, bool]]:
    """Return each run with that into which it flows, and whether it enters from the side."""
    out = [(run, outlet, aside)]
    if run.straight is not None:
        out += _with_outlets(run.straight, run, aside=False)
    if run.branch is not None:
        out += _with_outlets(run.branch, run, aside=True)
    return out


def _ways(where: Places, run: Stretch, outlet: Stretch | None) -> tuple[float, list[int]]:
    """Return the length of a run, m, and its turns in steps of the headings, with that into the run it goes on in."""
    points = run.points if outlet is None else [*run.points, outlet.points[1]]
    ways = [where.lattice.heading(one, other) for one, other in pairwise(points)]
    turns = [where.lattice.steps(one, other) for one, other in pairwise(ways)]
    length = sum(where.lattice.distance(one, other) for one, other in pairwise(run.points))
    return length, [step for step in turns if step]


def _aside(where: Places, run: Stretch, outlet: Stretch) -> int:
    """Return how many steps off the outlet's heading a branch comes in; of a riser that enters it, the most."""
    lattice = where.lattice
    if len(run.points) == 1:
        return len(lattice.to) // 4
    return lattice.steps(lattice.heading(*run.points[-2:]), lattice.heading(*outlet.points[:2]))


def limits(asked: Asked) -> tuple[Duty, Floats]:
    """Return what the collector asks and gives, and the pressure that there is in each state, Pa, as `Duty.limit`."""
    known = duty(asked.trial.sizing, asked.trial.shop, asked.trial.states)
    return known, np.minimum(known.limit("pressure_available"), known.limit("design_flow"))


def pressing(asked: Asked, where: Places, priced: Priced) -> Pressing:
    """Return the losses; without a limit where the junctions' law does not go by the share of the flow.

    Where nothing limits the pressure, the suction at the inlet is limited by what one density answers, as in sizing.
    """
    flow = asked.design.flow
    rows, sizes = priced.rows, asked.shopping.sizes
    known, limit = limits(asked)
    available = np.where(np.isfinite(limit) | (limit < 0.0), limit - known.constant, np.inf)
    deep = available >= most_held(deepest())
    available = np.where(deep, most_held(deepest()), available)
    if asked.request.model.junctions != "flow-ratio":
        available = np.full_like(available, np.inf)
    inside = (rows.group[:, None] >> np.arange(flow.shape[1])) & 1
    by_row = np.asarray(inside @ flow.T, float)
    square = by_row * by_row
    found = Reckoned.of(asked)
    length = np.zeros_like(by_row)
    for diameter, size in enumerate(sizes):
        mine = rows.diameter == diameter
        length[mine] = found.friction(size, by_row[mine])
    straight, branch = joins(asked, found, rows, by_row)
    right = np.array([found.right(size) for size in sizes])
    easy = np.array([found.easy(size) for size in sizes])
    turn = np.array([[{RIGHT: right, EASY: easy}[angle][at] for angle in angles(asked)] for at in range(len(sizes))])
    aside = np.array([[easy[at] * (angle != EASY) for angle in angles(asked)] for at in range(len(sizes))])
    start, tap = _risers(asked, found, right)
    whole = flow.sum(axis=1)
    end = np.zeros((len(sizes), whole.size))
    if where.height != 0.0:
        for diameter, size in enumerate(sizes):
            end[diameter] = right[diameter] * whole**2 + abs(where.height) * found.friction(size, whole)
    area = np.pi * np.array(sizes)[:, None] ** 2 / 4.0
    end += np.where(deep, 0.5 * asked.trial.shop.density * (whole / area) ** 2, 0.0)  # suction is static
    return Pressing(
        opened=flow > 0.0,
        available=available,
        constant=np.broadcast_to(np.asarray(known.constant, float), available.shape),
        length=length,
        turn=turn[rows.diameter][:, :, None] * square[:, None, :],
        straight=straight,
        branch=branch[:, :, None, :] + (aside[rows.diameter][:, :, None] * square[:, None, :])[:, None, :, :],
        start=start,
        tap=tap,
        end=end,
    )


def _risers(asked: Asked, found: Reckoned, right: Floats) -> tuple[Floats, Floats]:
    """Return what risers lose by machine, diameter and state: those that begin a run, and those that enter one."""
    trial, sizes, flow = asked.trial, asked.shopping.sizes, asked.design.flow
    shape = (flow.shape[1], len(sizes), flow.shape[0])
    start, tap = np.zeros(shape), np.zeros(shape)
    aside, number = check("riser-aside").value, {nanometres(size): at for at, size in enumerate(sizes)}
    for machine in range(flow.shape[1]):
        for option in trial.options.of(trial.stiff[machine], asked.shopping.shelf):
            diameter = number[nanometres(option.bore)]
            own = flow[:, machine]
            metre = found.friction(option.bore, own)
            bare = (
                option.own
                + hoses(asked, found, machine, option)
                - float(option.row.fittings) * own**2
                - metre * (asked.drop[machine] + aside)
            )
            start[machine, diameter] = bare + right[diameter] * own**2 + metre * asked.drop[machine]
            tap[machine, diameter] = start[machine, diameter] + metre * aside
            if asked.request.from_below:
                tap[machine, diameter] = bare + metre * asked.drop[machine]
    return start * (flow > 0.0).T[:, None, :], tap * (flow > 0.0).T[:, None, :]
