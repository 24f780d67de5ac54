"""The states of the day judged as any state of the gates is: slow runs, suction, the motor."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import Final

import numpy as np
from msgspec import structs

from airbough.wire.answer import Finding
from airbough_service.judging import checks
from airbough_service.judging import power_findings as motor
from airbough_service.questions.working_day.findings import label
from airbough_service.questions.working_day.flows import Open
from airbough_service.questions.working_day.trial import Trials
from airbough_service.shop.gates import GateState
from airbough_service.solving.grades import settles
from airbough_service.solving.power import Power, Shaft
from airbough_service.solving.solved_state import Solved, solve

MOST_RUNS: Final = 50  # runs told of, the slowest ones
Solving = Callable[[Open], Solved]


def fan_on(trials: Trials) -> tuple[Open, ...]:
    """Return what stands open in each state in which the fan runs, each once, in order of time."""
    states = trials.run(trials.asked).day.states
    return tuple(dict.fromkeys(state.open for state in states if state.fan))


def findings(trials: Trials, shaft: Shaft | None) -> Iterator[Finding]:
    """Yield what is to be said of velocities, suction and motor, each in its worst state."""
    opened = fan_on(trials)

    @cache
    def solved(state: Open) -> Solved:
        return solve(trials.air.shop, trials.air.fan, GateState(openings=trials.air.openings(state)))

    if opened:
        yield from _slow(trials, opened, solved)
        yield from _deep(trials, opened, solved)
        yield from _motor(trials, opened, shaft)


def _slow(trials: Trials, opened: tuple[Open, ...], solved: Solving) -> Iterator[Finding]:
    """Yield each run too slow for its dust, in the state that is worst for it, and in how many it is."""
    margins = np.array([trials.air.margins(state) for state in opened])
    worst, where = margins.min(axis=0), margins.argmin(axis=0)
    often = settles(margins).sum(axis=0)
    failing = np.flatnonzero(often)
    for index in failing[np.argsort(worst[failing], kind="stable")][:MOST_RUNS]:
        state, run = solved(opened[where[index]]), trials.air.shop.runs[index].id
        every = checks.velocities(trials.air.shop, state.runs, state.openings, label(trials, opened[where[index]]))
        times = f"; this in {often[index]} of {len(opened)} states of the day" if len(opened) > 1 else ""
        for item in every:
            if item.run == run and item.code == "below-transport-velocity":
                yield structs.replace(item, message=item.message + times)


def _deep(trials: Trials, opened: tuple[Open, ...], solved: Solving) -> Iterator[Finding]:
    """Yield the note of suction at which one density is a rough reading, in the state that has the most."""
    deepest = max(opened, key=lambda state: trials.air.deepest(state)[1])
    for item in checks.suction(trials.air.shop, solved(deepest).runs):
        yield structs.replace(item, state=label(trials, deepest))


def _motor(trials: Trials, opened: tuple[Open, ...], shaft: Shaft | None) -> Iterator[Finding]:
    """Yield what one efficiency stands for, power points that do not reach, and a motor that some state overloads."""
    if shaft is None:
        return
    air, preset = trials.air, trials.request.units
    flows = {
        state: flow for state in opened if (flow := air.flow(state)) is not None and not air.fan.begins_beyond(flow)
    }
    off = [state for state, flow in flows.items() if flow > 0.0 and not shaft.reaches(flow)]
    if off:
        yield motor.beyond(preset, shaft, flows[off[0]], label(trials, off[0]))
    taken: dict[Open, Power] = {}
    for state, flow in flows.items():
        power = shaft.at(flow, air.fan.static_pressure(flow))
        if power is not None:
            taken[state] = power
    if taken:
        yield from motor.assumed(preset, shaft)
        most = max(taken, key=lambda state: taken[state].shaft_power)
        yield from motor.overloaded(trials.request, taken[most], label(trials, most))
