"""What may be amiss: each suspect as one unknown, the tree with it, and how its value is told."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from airbough.wire.collector import Collector
from airbough_service.core.network import columns
from airbough_service.core.network.tree import (
    area,
    dynamic,
)
from airbough_service.questions.measuring.diagnosis.model import (
    Setting,
    Solution,
    scaled,
)
from airbough_service.shop.collector import outside_curve
from airbough_service.shop.opening import SMALLEST_OPENING, passing
from airbough_service.shop.run_leaks import Leaking
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
    gate_quadratic,
)

Floats = NDArray[np.float64]
Kind: TypeAlias = Literal["added-resistance", "leak", "gate", "fan-speed", "collector-loss"]
Quantity: TypeAlias = Literal["coefficient", "leak-flow", "opening", "speed-ratio", "loss-ratio"]
ORIFICE = 0.5  # exponent of a hole's flow on pressure


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One suspect.

    Attributes:
        kind: what it is.
        quantity: what its unknown is told as.
        grid: values of the unknown to be looked at, rising and above 0; its ends bound the search.
        setting: the tree with the unknown set.
        told: the unknown as told, SI, from a solution with it.
        index: number of its run; -1 without.
        loss: name of the collector's loss.
    """

    kind: Kind
    quantity: Quantity
    grid: Floats
    setting: Callable[[float], Setting]
    told: Callable[[float, Solution], float]
    index: int = -1
    loss: str | None = None


def hypotheses(base: Setting, runs: Iterable[int], *, fan: bool) -> list[Hypothesis]:
    """Return every suspect: added resistance and a leak at each run, gates, fan and collector losses."""
    out: list[Hypothesis] = []
    chosen = list(runs)
    out += [_resistance(base, base.shop.runs[index]) for index in chosen]
    out += [_gate(base, base.shop.runs[index]) for index in chosen if _can_open(base.shop.runs[index])]
    out += [_leak(base, base.shop.runs[index]) for index in chosen if base.shop.runs[index].length > 0.0]
    out += _losses(base)
    if fan:
        grid = np.linspace(0.5, 1.5, 21)
        out.append(
            Hypothesis("fan-speed", "speed-ratio", grid, lambda at: replace(base, fan=scaled(base.fan, at)), _as_is)
        )
    return out


def _as_is(at: float, _: Solution) -> float:
    return at


def _resistance(base: Setting, run: ShopRun) -> Hypothesis:
    """Return a blockage, or a gate shut further than stated, at the run's upstream end."""
    row, own = base.shop.hood_row(run.index), dynamic(base.shop.density, run.start)

    def setting(at: float) -> Setting:
        gate = base.gate.copy()
        gate[row] += at * own
        return replace(base, gate=gate)

    return Hypothesis("added-resistance", "coefficient", np.geomspace(1.0e-3, 1.0e4, 15), setting, _as_is, run.index)


def _stated(run: ShopRun) -> float:
    """Return the share of its bore that a gate leaves open as stated."""
    assert run.run.gate is not None
    return passing(run.run.gate)


def _can_open(run: ShopRun) -> bool:
    return run.run.gate is not None and _stated(run) < 0.95


def _gate(base: Setting, run: ShopRun) -> Hypothesis:
    """Return a gate that is further open than stated."""
    row = base.shop.hood_row(run.index)

    def setting(at: float) -> Setting:
        gate = base.gate.copy()
        gate[row] = gate_quadratic(run, base.shop.density, min(at, 1.0))
        return replace(base, gate=gate)

    grid = np.geomspace(max(_stated(run) * 1.001, 10.0 * SMALLEST_OPENING), 1.0, 13)
    return Hypothesis("gate", "opening", grid, setting, lambda at, _: min(at, 1.0), run.index)


def _leak(base: Setting, run: ShopRun) -> Hypothesis:
    """Return a leak at the middle of a run."""
    shop = base.shop
    exponent = shop.leaking.exponent if shop.leaking.any else ORIFICE
    hole = area(run.start) * math.sqrt(2.0 / shop.density)  # a hole of the bore's area, without contraction, at 1 Pa
    made: list[Shop] = []

    def leaking() -> Shop:
        if not made:
            more = list(shop.leaking.coefficients)
            more[run.index] += 1.0e-3 * hole
            made.append(shop.with_leaking(Leaking(tuple(more), exponent, ())))
        return made[0]

    def setting(at: float) -> Setting:
        own = leaking()
        table = own.tree.table.copy()
        assert own.parted is not None
        row = own.leak_row(run.index)
        table[row, columns.POWER_A] = (shop.leaking.coefficients[run.index] + at * hole) ** (-1.0 / exponent)
        gate = own.tree.gate.copy()
        gate[own.hood_rows] = base.gate[shop.hood_rows]
        return Setting(own, own.tree._replace(table=table), base.fan, gate)

    def told(_: float, solution: Solution) -> float:
        own = leaking()
        assert own.parted is not None
        return float(solution.flow[own.leak_row(run.index)])

    return Hypothesis("leak", "leak-flow", np.geomspace(1.0e-4, 2.0, 13), setting, told, run.index)


def _losses(base: Setting) -> list[Hypothesis]:
    """Return each collector loss outside the curve as greater or less than stated, a loaded filter for one."""
    collector = base.shop.request.collector or Collector()
    names = [loss.name for loss in outside_curve(collector, collector.fan)]

    def one(k: int) -> Callable[[float], Setting]:
        def setting(at: float) -> Setting:
            terms = base.fan.terms.copy()
            terms[k, 0] *= at
            return replace(base, fan=replace(base.fan, terms=terms))

        return setting

    grid = np.geomspace(0.05, 50.0, 21)
    return [
        Hypothesis("collector-loss", "loss-ratio", grid, one(k), _as_is, loss=name)
        for k, name in enumerate(names)
        if base.fan.terms[k, 0] > 0.0
    ]
