"""What the stock's pieces cost the dynamic program: the same sums as sizing's of the same tree."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airbough_service.catalogue.checks import check
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.places import Places
from airbough_service.core import deadline
from airbough_service.core.choosing.placing import program, sets
from airbough_service.core.choosing.placing.program import Prices, Rows
from airbough_service.core.limits import below

RIGHT, EASY = 90.0, 45.0
"""Turns between level headings, deg; a wye's branch enters at the easy one."""


@dataclass(frozen=True, slots=True)
class Priced:
    """The program's input.

    Attributes:
        flows: that are sized for.
        rows: sets of machines with the diameters that keep the velocities.
        prices: of everything but hoses.
        riser: shape (machines, diameters), of each machine's riser with its turn into the level, by its own diameter.
        change: shape (diameters, diameters), of what lies between a riser and the run that it begins.
        hoses: price of all hoses, the same in every layout.
    """

    flows: sets.Flows
    rows: Rows
    prices: Prices
    riser: program.Floats
    change: program.Floats
    hoses: float

    def kept(self, keep: NDArray[np.bool_]) -> Priced:
        """Return the same for some of the rows, shape (rows,)."""
        prices = self.prices
        fewer = prices._replace(
            length=prices.length[keep],
            turn=prices.turn[keep],
            straight=prices.straight[keep],
            branch=prices.branch[keep],
        )
        return replace(self, rows=program.kept(self.rows, keep), prices=fewer)


def priced(asked: Asked, where: Places) -> Priced:
    """Return what the program works on."""
    flows = asked.design
    sizes = np.array(asked.shopping.sizes)
    too_fast = asked.request.rules.upper_velocity is None
    allowed = sets.allowed(
        flows, np.pi * sizes * sizes / 4.0, too_fast=too_fast, narrow=asked.request.rules.no_narrowing == "off"
    )
    rows = program.rows_of(allowed)
    shopping = asked.shopping
    length = np.array([shopping.length(size) for size in sizes])
    right = np.array([shopping.elbow(size, RIGHT) for size in sizes])
    turn = np.array([[shopping.elbow(size, angle) for angle in angles(asked)] for size in sizes])
    aside = np.array([[_elbow_before(asked, size, angle) for angle in angles(asked)] for size in sizes])
    riser, change, tap = _risers(asked, allowed, length, right)
    shape = (rows.group.size, sizes.size)
    end = np.zeros(sizes.size) if where.height == 0.0 else right + abs(where.height) * length
    prices = Prices(
        length=length[rows.diameter],
        turn=turn[rows.diameter],
        start=started(riser, change),
        tap=tap,
        join=_joins(asked, sizes),
        straight=np.zeros(shape),
        branch=np.repeat(aside[rows.diameter][:, None, :], sizes.size, axis=1),
        end=end,
    )
    return Priced(flows, rows, prices, riser, change, float(asked.hose_price.sum()))


def angles(asked: Asked) -> list[float]:
    """Return the turns between level headings, deg, by steps of the headings up to a right angle."""
    step = float(asked.request.headings)
    return [step * (number + 1) for number in range(round(RIGHT / step))]


def _elbow_before(asked: Asked, size: float, angle: float) -> float:
    """Return the price of the elbow before the wye of a branch that comes from an angle, deg."""
    rest = abs(angle - asked.shopping.wye)
    return asked.shopping.elbow(size, rest) if rest > 0.0 else 0.0


def started(riser: program.Floats, change: program.Floats) -> program.Floats:
    """Return what it costs to begin a run, by machine and the run's diameter: the riser in its cheapest diameter."""
    return np.asarray((riser[:, :, None] + change[None, :, :]).min(axis=1), float)


def _joins(asked: Asked, sizes: program.Floats) -> program.Floats:
    """Return the price of what two runs meet in, by the diameters of outlet, straight run and branch."""
    narrow = asked.request.rules.no_narrowing == "must"
    join = np.full((sizes.size, sizes.size, sizes.size), np.inf)
    for out, into in enumerate(sizes):
        deadline.check()
        for one, ahead in enumerate(sizes):
            for other, branch in enumerate(sizes):
                if not narrow or max(ahead, branch) <= into:
                    join[out, one, other] = asked.shopping.meeting(ahead, branch, into)
    return join


def _risers(
    asked: Asked,
    allowed: np.ndarray[tuple[int, int], np.dtype[np.bool_]],
    length: program.Floats,
    right: program.Floats,
) -> tuple[program.Floats, program.Floats, program.Floats]:
    """Return what each machine's riser costs that begins a run, what changes its size there, and one that enters."""
    shopping, sizes = asked.shopping, np.array(asked.shopping.sizes)
    narrow = asked.request.rules.no_narrowing == "must"
    gates = np.array([shopping.gate(size) for size in sizes])
    change = np.full((sizes.size, sizes.size), np.inf)
    for one, size in enumerate(sizes):
        for out, into in enumerate(sizes):
            if not narrow or size <= into:
                change[one, out] = shopping.change(size, into)
    machines = len(asked.request.machines)
    riser, tap = np.full((machines, sizes.size), np.inf), np.full((machines, sizes.size), np.inf)
    aside = check("riser-aside").value
    for machine in range(machines):
        own = np.where(allowed[1 << machine], 0.0, np.inf) + np.where(
            below(sizes, float(asked.port[machine])), np.inf, 0.0
        )
        own = own + length * asked.drop[machine] + np.where(asked.gated[machine], gates, 0.0)
        own = own + asked.foot[machine]
        riser[machine] = own + right
        tap[machine] = own if asked.request.from_below else own + right + aside * length
    return riser, change, tap
