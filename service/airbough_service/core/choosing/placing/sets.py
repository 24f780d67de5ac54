"""Which diameters keep the dust moving in a run, by the set of machines upstream: the states of the gates decide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from airbough_service.core.choosing.sites import counted
from airbough_service.core.limits import HOLDS, least_held, most_held

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flows:
    """What flows in each state.

    Attributes:
        flow: shape (states, machines), what each machine takes, m3/s; 0 where it is shut.
        least_velocity: shape (machines,), that its dust needs, m/s; 0 where nothing is asked.
        most_velocity: shape (machines,), beyond which its purpose needs none, m/s; infinite where nothing is asked.
        alone: shape (machines,), what each machine takes where it is open, m3/s.
    """

    flow: Floats
    least_velocity: Floats
    most_velocity: Floats
    alone: Floats


def allowed(flows: Flows, area: Floats, *, too_fast: bool = False, narrow: bool = True) -> NDArray[np.bool_]:
    """Return for each set of machines (row: bit i is machine i) which diameters hold in every state.

    Args:
        flows: what flows.
        area: shape (diameters,), m2.
        too_fast: whether a set that has none has those that move dust and are too fast by the fewest steps.
        narrow: whether a run may flow into a narrower one; else none is wider than all together may be.
    """
    least, most = needs(flows)
    carrying = area <= (most if narrow else np.minimum(most, most[-1]))[:, None]
    holding = carrying & (area >= least[:, None])
    if not too_fast:
        return holding
    steps = np.where(carrying, _too_fast(flows, area), np.inf)
    fewest = steps.min(axis=1, keepdims=True)
    return np.where(holding.any(axis=1, keepdims=True), holding, carrying & (steps == fewest))


def _too_fast(flows: Flows, area: Floats) -> Floats:
    """Return by how many steps each set is too fast in each diameter, over all states."""
    states, machines = flows.flow.shape
    inside = (np.arange(1 << machines)[:, None] >> np.arange(machines)) & 1 == 1
    out = np.zeros((1 << machines, area.size))
    for state in range(states):
        open_here = inside & (flows.flow[state] > 0.0)
        flow, fastest = open_here @ flows.flow[state], np.where(open_here, flows.most_velocity, 0.0).max(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = flow[:, None] / area / fastest[:, None] - 1.0
        out += np.where((flow[:, None] > 0.0) & (share > HOLDS), counted(np.where(share > 0.0, share, 0.0)), 0.0)
    return out


def needs(flows: Flows) -> tuple[Floats, Floats]:
    """Return for each set the least area that is not too fast and the greatest that is not too slow, m2.

    Of what is open the fastest dust decides both. A set that no state opens must take its largest machine alone.
    """
    states, machines = flows.flow.shape
    numbers = np.arange(1 << machines)
    inside = (numbers[:, None] >> np.arange(machines)) & 1 == 1
    least, most = np.zeros(numbers.size), np.full(numbers.size, np.inf)
    opened = np.zeros(numbers.size, np.bool_)
    for state in range(states):
        open_here = inside & (flows.flow[state] > 0.0)
        flow = open_here @ flows.flow[state]
        slowest = least_held(np.where(open_here, flows.least_velocity, 0.0).max(axis=1))
        fastest = most_held(np.where(open_here, flows.most_velocity, 0.0).max(axis=1))
        moving = flow > 0.0
        opened |= moving
        with np.errstate(divide="ignore", invalid="ignore"):
            most = np.where(moving & (slowest > 0.0), np.minimum(most, flow / slowest), most)
            least = np.where(moving, np.maximum(least, flow / fastest), least)
    largest = np.where(inside, flows.alone / flows.most_velocity, 0.0).max(axis=1)
    return np.where(opened, least, largest), most


def clash(flows: Flows, chosen: int, narrowest_of: int | None = None) -> tuple[int, int]:
    """Return the two states that leave a set without a diameter: that which allows least, and which asks most.

    Args:
        flows: what flows.
        chosen: the set.
        narrowest_of: the set into which it flows, and that allows no more; left out: itself.
    """
    widest, _ = _by_state(flows, chosen if narrowest_of is None else narrowest_of)
    _, narrowest = _by_state(flows, chosen)
    return int(np.argmin(widest)), int(np.argmax(narrowest))


def between(flows: Flows, chosen: int, narrowest_of: int | None = None) -> tuple[float, float]:
    """Return the least area, m2, in which a set is not too fast, and the greatest that keeps its dust moving.

    Arguments as of `clash`; 0 and infinite where nothing is asked.
    """
    widest, _ = _by_state(flows, chosen if narrowest_of is None else narrowest_of)
    _, narrowest = _by_state(flows, chosen)
    return float(narrowest.max()), float(widest.min())


def _by_state(flows: Flows, chosen: int) -> tuple[Floats, Floats]:
    """Return the greatest and the least area of a set, by state."""
    machines = flows.flow.shape[1]
    inside = np.array([chosen >> machine & 1 for machine in range(machines)], bool)
    open_here = inside & (flows.flow > 0.0)
    flow = np.where(open_here, flows.flow, 0.0).sum(axis=1)
    slowest = np.where(open_here, flows.least_velocity, 0.0).max(axis=1)
    fastest = np.where(open_here, flows.most_velocity, 0.0).max(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        widest = np.where((flow > 0.0) & (slowest > 0.0), flow / slowest, np.inf)
        narrowest = np.where(flow > 0.0, flow / fastest, 0.0)
    return widest, narrowest
