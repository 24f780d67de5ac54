"""Which diameters keep the dust moving in a run, by the set of machines upstream: the states of the gates decide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Flows:
    """What flows in each state.

    Attributes:
        flow: shape (states, machines), what each machine takes, m3/s; 0 where it is shut.
        least_velocity: shape (machines,), that its dust needs, m/s.
        most_velocity: shape (machines,), beyond which its purpose needs none, m/s; infinite where nothing is asked.
    """

    flow: Floats
    least_velocity: Floats
    most_velocity: Floats


def allowed(flows: Flows, area: Floats) -> NDArray[np.bool_]:
    """Return for each set of machines (row: bit i is machine i) which diameters hold in every state.

    A state in which no machine of the set is open asks nothing of it. A flow within 1e-6 of a limit holds.

    Args:
        flows: what flows.
        area: shape (diameters,), m2.
    """
    least, most = needs(flows)
    return (area >= least[:, None] * (1.0 - 1.0e-6)) & (area <= most[:, None] * (1.0 + 1.0e-6))


def needs(flows: Flows) -> tuple[Floats, Floats]:
    """Return for each set the least area that is not too fast and the greatest that is not too slow, m2."""
    states, machines = flows.flow.shape
    numbers = np.arange(1 << machines)
    inside = (numbers[:, None] >> np.arange(machines)) & 1 == 1
    least, most = np.zeros(numbers.size), np.full(numbers.size, np.inf)
    for state in range(states):
        open_here = inside & (flows.flow[state] > 0.0)
        flow = open_here @ flows.flow[state]
        slowest = np.where(open_here, flows.least_velocity, 0.0).max(axis=1)
        fastest = np.where(open_here, flows.most_velocity, np.inf).min(axis=1)
        moving = flow > 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            most = np.where(moving & (slowest > 0.0), np.minimum(most, flow / slowest), most)
            least = np.where(moving, np.maximum(least, flow / fastest), least)
    return least, most


def clash(flows: Flows, area: Floats, chosen: int) -> tuple[int, int]:
    """Return the two states that leave a set without a diameter: the slowest and the fastest of it."""
    machines = flows.flow.shape[1]
    inside = np.array([chosen >> machine & 1 for machine in range(machines)], bool)
    flow = np.where(inside, flows.flow, 0.0).sum(axis=1)
    moving = np.flatnonzero(flow > 0.0)
    return int(moving[np.argmin(flow[moving])]), int(moving[np.argmax(flow[moving])])
