"""The packed tree: runs as rows of arrays in the order the compiled loop wants."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.errors import NotATreeError
from airbough_service.core.laws.friction import COLEBROOK
from airbough_service.core.laws.junction import NO_CONSTANTS, FlowRatioConstants
from airbough_service.core.network import columns as c

Floats = NDArray[np.float64]
Integers = NDArray[np.int32]

START_REYNOLDS = 1.0e5  # for the first guess of 1/sqrt(friction factor) only,
START_ROOT = 7.0  # and 1/sqrt(friction factor) there, roughly
MOST_ARMS = 3  # of a junction under the flow-ratio law


class Arm(NamedTuple):
    """How a run enters its junction under the flow-ratio and entry-angle laws.

    Attributes:
        is_branch: whether it enters at an angle.
        cosine: of the angle; 1 for a straight.
        area_ratio: area of `into` over the arm's; 1 for a straight.
        entry_factor: entry factor on the arm's own velocity pressure.
        factor: branch factor as (low, slope, high, step): low + slope * flow ratio below the step, high above.
        lift: of a branch: 1 where the factor is on 1 + the momentum form, 0 where it is on that form itself.
        linear: of a branch: what its flow costs the straight run, per flow of `into`.
        drag: of a branch: the share of its momentum along `into` that the straight run feels.
        constants: of the flow-ratio law; without them no flow-ratio law answers.
    """

    is_branch: bool = False
    cosine: float = 1.0
    area_ratio: float = 1.0
    entry_factor: float = 0.0
    factor: tuple[float, float, float, float] = (1.0, 0.0, 1.0, 9.0)
    lift: float = 0.0
    linear: float = 0.0
    drag: float = 0.0
    constants: FlowRatioConstants = NO_CONSTANTS


class Run(NamedTuple):
    """One run for packing. Quadratic losses are coefficients on velocity pressure at the bore named.

    Attributes:
        parent: index of the run that this one flows into; -1 at the fan.
        start: bore at the upstream end, m.
        end: bore at the downstream end, m.
        length: straight length, m.
        roughness: m.
        entry, port, fittings, change: losses in Pa per (m3/s)^2 at the tree's density; `change` is the change of size
            at the run's downstream end.
        power_law: (a, exponent): friction a * flow^exponent in place of Colebrook, or None.
        resistance: (a, exponent): loss inside the machine.
        gate: Pa per (m3/s)^2; infinite when shut.
        arm: how it enters its junction.
        law: of the junction at its upstream end, in place of the tree's; None for the tree's.
        bore: of its length, m, whose friction it has; None for that of its upstream end.
    """

    parent: int
    start: float
    end: float
    length: float
    roughness: float
    entry: float = 0.0
    port: float = 0.0
    fittings: float = 0.0
    change: float = 0.0
    power_law: tuple[float, float] | None = None
    resistance: tuple[float, float] | None = None
    gate: float = 0.0
    arm: Arm = Arm()
    law: int | None = None
    bore: float | None = None


@dataclass(frozen=True, slots=True)
class Tree:
    """A packed tree of n runs, breadth-first from the fan.

    Attributes:
        table: shape (n, FLOAT_COLUMNS).
        links: shape (n, LINK_COLUMNS).
        gate: shape (n,), Pa per (m3/s)^2, infinite where shut.
        entry, port, fittings, change: shape (n,), parts of the LOCAL column.
        place: shape (runs given,), row of each run given.
        density: kg/m3.
    """

    table: Floats
    links: Integers
    gate: Floats
    entry: Floats
    port: Floats
    fittings: Floats
    change: Floats
    place: Integers
    density: float


def area(diameter: float) -> float:
    """Return the area of a round bore in m2."""
    return math.pi * diameter * diameter / 4.0


def dynamic(density: float, diameter: float) -> float:
    """Return velocity pressure per flow squared, Pa/(m3/s)^2, in a round bore."""
    return density / (2.0 * area(diameter) ** 2)


def breadth_first(parents: Sequence[int]) -> list[int]:
    """Return the runs in breadth-first order from the fan, siblings side by side.

    Raises:
        NotATreeError: no run or more than one ends at the fan, or some run does not reach it.
    """
    children: list[list[int]] = [[] for _ in parents]
    roots: list[int] = []
    for index, parent in enumerate(parents):
        (roots if parent < 0 else children[parent]).append(index)
    if len(roots) != 1:
        raise NotATreeError(f"{len(roots)} runs end at the fan; the packed tree needs one")
    order = roots
    for run in order:
        order.extend(children[run])
    if len(order) != len(parents):
        raise NotATreeError("some runs form a cycle")
    return order


def pack(runs: Sequence[Run], density: float, viscosity: float, law: int) -> Tree:
    """Pack runs for the solver.

    Args:
        runs: exactly one has parent -1.
        density: kg/m3.
        viscosity: Pa*s.
        law: MEET, FLOW_RATIO or ENTRY of ``core.network.columns``.

    Raises:
        NotATreeError: as ``breadth_first``, or the flow-ratio law is not for a junction's arms.
    """
    order = breadth_first([run.parent for run in runs])
    n = len(order)
    table, links = np.zeros((n, c.FLOAT_COLUMNS)), np.zeros((n, c.LINK_COLUMNS), np.int32)
    place = np.empty(n, np.int32)
    place[order] = np.arange(n, dtype=np.int32)
    arms: list[list[Run]] = [[] for _ in range(n)]
    for row, index in enumerate(order):
        run = runs[index]
        fill(table[row], run, density, viscosity)
        parent = int(place[run.parent]) if run.parent >= 0 else -1
        links[row, c.PARENT] = parent
        links[row, c.IS_BRANCH] = run.arm.is_branch
        if parent >= 0:
            if links[parent, c.CHILDREN] == 0:
                links[parent, c.FIRST_CHILD] = row
            links[parent, c.CHILDREN] += 1
            arms[parent].append(run)
    for row in range(n):
        own = runs[order[row]].law
        links[row, c.LAW] = _law(law if own is None else own, arms[row])
    return Tree(
        table=table,
        links=links,
        gate=np.array([runs[i].gate for i in order], float),
        entry=np.array([runs[i].entry for i in order], float),
        port=np.array([runs[i].port for i in order], float),
        fittings=np.array([runs[i].fittings for i in order], float),
        change=np.array([runs[i].change for i in order], float),
        place=place,
        density=density,
    )


def _law(law: int, arms: Sequence[Run]) -> int:
    """Return the law of a junction of these arms; one arm alone is no junction."""
    if len(arms) < 2:
        return c.MEET
    if law == c.FLOW_RATIO and len(arms) > MOST_ARMS:
        raise NotATreeError(f"{len(arms)} runs meet; the flow-ratio law is for {MOST_ARMS} at most")
    if law == c.FLOW_RATIO and any(math.isnan(arm.arm.constants.momentum) for arm in arms):
        raise NotATreeError("runs that meet by the flow-ratio law need its constants")
    return law


def fill(row: Floats, run: Run, density: float, viscosity: float) -> None:
    """Fill one row of the table."""
    bore = run.start if run.bore is None else run.bore
    row[c.LOCAL] = run.entry + run.port + run.fittings + run.change
    row[c.REYNOLDS] = density * bore / (area(bore) * viscosity)
    row[c.ROUGH] = run.roughness / (3.7 * bore)
    row[c.VP_START], row[c.VP_END] = dynamic(density, run.start), dynamic(density, run.end)
    row[c.START] = -2.0 * math.log10(row[c.ROUGH] + COLEBROOK * START_ROOT / START_REYNOLDS)
    if run.power_law is None:
        row[c.FRICTION] = run.length / bore * dynamic(density, bore)
    else:
        row[c.POWER_A], row[c.EXPONENT_A] = run.power_law
    if run.resistance is not None:
        row[c.POWER_B], row[c.EXPONENT_B] = run.resistance
    fill_arm(row, run.arm)


def fill_arm(row: Floats, arm: Arm) -> None:
    """Fill a row's columns on how it enters its junction."""
    constants = arm.constants
    row[c.AREA_RATIO], row[c.ENTRY_FACTOR] = arm.area_ratio, arm.entry_factor
    row[c.MOMENTUM] = constants.momentum * arm.area_ratio * arm.cosine
    if arm.is_branch:
        row[c.FACTOR_LOW], row[c.FACTOR_SLOPE], row[c.FACTOR_HIGH], row[c.FACTOR_STEP] = arm.factor
        row[c.FACTOR_JOIN], row[c.LIFT] = constants.join, arm.lift
        row[c.SIDE_LINEAR], row[c.SIDE_DRAG] = arm.linear, arm.drag * row[c.MOMENTUM]
