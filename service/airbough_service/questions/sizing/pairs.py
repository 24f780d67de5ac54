"""Two machines at once in the sized tree: judged and told, whatever it was sized for."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

import numpy as np

from airbough.wire.sizing import BrokenRule, SizedPair, SizingRequest
from airbough_service.core import deadline
from airbough_service.core.limits import above, below
from airbough_service.questions.sizing import engine
from airbough_service.questions.sizing.broken_rules import stands_for
from airbough_service.questions.sizing.options import limits_of
from airbough_service.questions.sizing.rules import by_fan
from airbough_service.questions.sizing.states import State, alone
from airbough_service.shop import gates
from airbough_service.shop.shop import Shop
from airbough_service.solving.design import design_flows
from airbough_service.solving.grades import dusts_of, starves
from airbough_service.solving.solved_state import most_starved
from airbough_service.solving.tree_answer import fastest, least_flow, velocity
from airbough_service.terms.refusal import Refusal

MOST: Final = 20  # machines whose pairs are told


def pairs(request: SizingRequest, shop: Shop, sized: engine.Ready) -> tuple[SizedPair, ...]:
    """Return what each pair of machines does in the sized tree; nothing where the caller named the states.

    Args:
        request: in SI.
        shop: the tree in any bores.
        sized: the tree in its bores.
    """
    if request.states or len(shop.machines.each) > MOST:
        return ()
    out = []
    for one, other in combinations(shop.machines.each, 2):
        deadline.check()
        machines = (one.name, other.name)
        state = _state(shop, machines)
        if state is not None:
            out.append(_pair(request, shop, sized, state, machines))
    return tuple(out)


def _state(shop: Shop, machines: tuple[str, ...]) -> State | None:
    """Return the state of a pair; None where a zone gate shuts one of them off."""
    setting = alone(shop, machines)
    is_open = gates.open_hoods(shop, setting.openings)
    both = [machine for machine in shop.machines.each if machine.name in machines]
    if not all(any(is_open[hood] for hood in machine.hoods) for machine in both):
        return None
    flow = design_flows(shop, setting.openings).flow
    active = np.array(gates.active(shop, setting.openings))
    dusts = tuple(dusts_of(shop, setting.openings))
    return State(setting.name or "", setting.openings, flow, flow, active, dusts, "")


def _pair(
    request: SizingRequest, shop: Shop, sized: engine.Ready, state: State, machines: tuple[str, ...]
) -> SizedPair:
    """Return one pair."""
    fan = by_fan(request)
    try:
        (check,) = engine.checked(sized, (state,), design=not fan, fan=fan)
    except Refusal:  # more suction than one density can answer
        return SizedPair(machines=machines, flow=float(state.flow[list(shop.shape.roots)].sum()),
                         operating_point="suction-too-deep")  # fmt: skip
    if check.balance is not None:
        found = check.balance
        return SizedPair(
            machines=machines,
            flow=found.system.flow,
            fan_static_pressure=found.system.required.fan_static_pressure,
            broken=tuple(_broken(request, found, state)),
        )
    solved = check.solved
    if solved is None:
        return SizedPair(machines=machines, flow=0.0, operating_point="suction-too-deep")
    worst = most_starved(solved.hoods)
    return SizedPair(
        machines=machines,
        flow=float(solved.operating.flow[0]),
        operating_point=solved.operating.outcome,
        most_starved_hood=None if worst is None else worst.run,
        share_of_design=None if worst is None else worst.share_of_design,
        broken=tuple(_broken(request, solved, state)),
    )


def _broken(request: SizingRequest, found: engine.AnyState, state: State) -> Iterator[BrokenRule]:
    """Give where the rules on velocity and design flow do not hold."""
    rules = request.rules
    told = {
        "transport_velocity": rules.transport_velocity != "off",
        "upper_velocity": rules.upper_velocity != "off",
        "design_flow": rules.design_flow != "off",
    }
    for rule, run, share in _places(request, found, state):
        if told[rule]:
            yield BrokenRule(rule=rule, weight="judged", share=share, run=run)


def _places(request: SizingRequest, found: engine.AnyState, state: State) -> Iterator[tuple[str, str, float]]:
    of_request = stands_for(request, found.shop.request)
    if not found.runs:  # beyond the fan's curve: the outcome tells it
        return
    for run, answer in zip(found.shop.runs, found.runs, strict=True):
        low, high = limits_of(request, state, of_request[run.index], float(answer.flow))
        slow = velocity(run, float(least_flow(answer)))
        if low is not None and below(slow, low):
            yield "transport_velocity", run.id, 1.0 - slow / low
        fast = fastest(run, float(answer.flow))
        if high is not None and above(fast, high):
            yield "upper_velocity", run.id, fast / high - 1.0
    for hood in found.hoods:
        short = hood.share_of_design
        if hood.open and short is not None and starves(short):
            yield "design_flow", hood.run, 1.0 - short
