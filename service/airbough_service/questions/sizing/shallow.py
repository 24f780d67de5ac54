"""The problem with the suction at the collector's inlet held to what one density answers."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from airbough_service.core.choosing.sizing import Chosen, needs
from airbough_service.core.limits import most_held
from airbough_service.core.network import tree
from airbough_service.questions.sizing.problem import Maker, Problem
from airbough_service.shop.packing import inlet_loss
from airbough_service.solving.suction import most

ALIKE: Final = 1.0e-9  # share by which the engine may reckon a suction otherwise


def can_be(problem: Problem) -> bool:
    """Return whether the suction may be held exactly: nothing else asks for pressure."""
    aim = problem.aim
    limited = np.isfinite(aim.ceiling).any() or np.isfinite(aim.wanted).any()
    return aim.objective == "cost" and not limited


def shallow(maker: Maker, problem: Problem) -> Problem:
    """Return the problem with a ceiling for the static suction at the inlet: its velocity pressure is lost there.

    Where several runs enter it, each loses it there anyway.
    """
    inlet = problem.sites[-1]
    join = inlet.join.copy()
    for column, site in enumerate(inlet.arms):
        options, index = problem.options[site], problem.order[site]
        flow = np.array([float(state.flow[index]) for state in maker.states])
        head = np.array([_left(maker, index, option.run.end) for option in options])
        join[:, column] += head[inlet.sets[:, column], None] * flow**2
    aim = replace(problem.aim, ceiling=most_held(most()) * (1.0 - ALIKE) + maker.duty.constant)
    return replace(problem, sites=(*problem.sites[:-1], replace(inlet, join=join)), aim=aim)


def _left(maker: Maker, index: int, end: float) -> float:
    """Return the velocity pressure of a run's end [m] that its way into the collector leaves, Pa per (m3/s)^2."""
    shape, density = maker.shop.shape, maker.shop.density
    return tree.dynamic(density, end) - inlet_loss(shape, index, density, end)


def as_needed(problem: Problem, chosen: Chosen) -> Chosen:
    """Return a choice of the problem so held with what it needs, Pa."""
    return replace(chosen, need=needs(problem.sites, chosen)[-1])
