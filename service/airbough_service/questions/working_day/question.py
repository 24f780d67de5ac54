"""POST /v1/trees/working-day: a day of machines switched on and off. Arithmetic on given times, not a control."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Final

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.quantity import Preset
from airbough.wire.working_day import (
    ChipsLeft,
    DayState,
    MachineGates,
    PathClearing,
    RuleOverride,
    WorkingDayAnswer,
    WorkingDayRequest,
    WorkingDaySystem,
)
from airbough_service.catalogue.chips import chips
from airbough_service.core.day.chips import clearing_time
from airbough_service.core.day.working_day import most_starts
from airbough_service.judging import (
    checks,
    retrial,
    shape,
)
from airbough_service.judging.state_findings import outcome_findings, over_speed
from airbough_service.questions.working_day import (
    bin,
    findings,
    states,
)
from airbough_service.questions.working_day.bin import Heap
from airbough_service.questions.working_day.findings import (
    MOST_STATES_TOLD,
    label,
)
from airbough_service.questions.working_day.fixes import WINDOW
from airbough_service.questions.working_day.flows import (
    Air,
    Open,
)
from airbough_service.questions.working_day.left import (
    MOST_LEFT,
    Lying,
    lying,
)
from airbough_service.questions.working_day.plan import (
    TICKS,
    plan,
)
from airbough_service.questions.working_day.trial import (
    Outcome,
    Trials,
)
from airbough_service.shop import collector
from airbough_service.shop.gates import GateState
from airbough_service.shop.shop import build
from airbough_service.solving import suction as suctions
from airbough_service.solving import tree_answer
from airbough_service.solving.power import Shaft, shaft_of
from airbough_service.solving.solved_state import Solved, on_curve, solve
from airbough_service.solving.told_state import Answered, of_point
from airbough_service.terms import sources, units
from airbough_service.terms.finding import (
    finding,
    ordered,
    show,
)

MOST_CLEARINGS: Final = 5000
NO_CONTROL: Final = (
    "This day is arithmetic on the times given, not a control: it switches and watches nothing. Gates, fan and their "
    "protection need a control of their own, made and checked by a licensed person."
)


@dataclass(frozen=True, slots=True)
class Day:
    """All that one answer is made of: trials, the day as asked, the longest state with the fan on, energy, chips."""

    trials: Trials
    outcome: Outcome
    longest: Open | None
    solved: Solved | None
    shaft: Shaft | None
    energy: float | None
    heap: Heap


def answer(request: WorkingDayRequest) -> WorkingDayAnswer:
    """Answer the question in SI; raises as `answered`."""
    return answered(request).answer


def answered(request: WorkingDayRequest) -> Answered[WorkingDayAnswer]:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of the tree, the fan, or the day.
    """
    shop = build(request)
    air = Air(shop, collector.build(shop), plan(shop, request))
    trials = Trials(request, air.plan, air)
    outcome = trials.run(trials.asked)
    _refuse_deep_suction(air, outcome)
    longest = _longest(outcome)
    solved = None if longest is None else solve(shop, air.fan, GateState(openings=air.openings(longest)))
    shaft = shaft_of(shop, air.fan)
    energy = _energy(outcome, shaft)
    day = Day(trials, outcome, longest, solved, shaft, energy, bin.heap(trials))
    return Answered(_answer(day), None if solved is None else of_point(solved))


def _longest(outcome: Outcome) -> Open | None:
    """Return the state in which the fan runs longest in all; None where it never runs."""
    spent: dict[Open, int] = defaultdict(int)
    for state in outcome.day.states:
        if state.fan:
            spent[state.open] += state.end - state.start
    return max(spent, key=lambda opened: (spent[opened], [-index for index in sorted(opened)]), default=None)


def _refuse_deep_suction(air: Air, outcome: Outcome) -> None:
    """Refuse a day in which some state is beyond what a constant density can answer."""
    for opened in {state.open for state in outcome.day.states if state.fan}:
        index, suction = air.deepest(opened)
        suctions.refuse(air.shop, index, suction, "+".join(air.plan.groups[k].name for k in sorted(opened)))


def _taken(air: Air, shaft: Shaft | None, opened: Open) -> float | None:
    """Return the electrical power into the motor in a state, W; None where it does not follow from what is given."""
    flow = air.flow(opened)
    if flow is None or air.fan.begins_beyond(flow) or shaft is None or shaft.motor_efficiency is None:
        return None
    power = shaft.at(flow, air.fan.static_pressure(flow))
    return None if power is None else power.shaft_power / shaft.motor_efficiency


def _energy(outcome: Outcome, shaft: Shaft | None) -> float | None:
    """Return the energy into the motor, J; None where the power of some state is not known."""
    total = 0.0
    for state in outcome.day.states:
        if state.fan:
            watts = _taken(outcome.air, shaft, state.open)
            if watts is None:
                return None
            total += watts * (state.end - state.start) / TICKS
    return total


def _answer(day: Day) -> WorkingDayAnswer:
    """Put the answer together, in SI."""
    shop, request = day.trials.air.shop, day.trials.request
    clearing = tuple(islice(_clearing(day), MOST_CLEARINGS + 1))
    stays = sorted(
        (one for index in range(len(day.trials.plan.groups)) for one in lying(day.outcome, index)),
        key=lambda one: (one.times, one.group, one.hood, one.place),
    )
    items = ordered(_findings(day, listed=len(clearing) <= MOST_CLEARINGS and len(stays) <= MOST_LEFT))
    return WorkingDayAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        runs=day.solved.runs if day.solved else (),
        hoods=day.solved.hoods if day.solved else (),
        system=_system(day),
        machines=_machines(day),
        timeline=_timeline(day),
        overrides=_overrides(day),
        clearing=clearing[:MOST_CLEARINGS],
        left=tuple(_left(day, one) for one in stays[:MOST_LEFT]),
        findings=items,
        sources=sources.told(tree_answer.origins(shop) | sources.origins(*chips().passports)),
        cautions=(
            NO_CONTROL,
            _of_chips(request.units),
            *tree_answer.cautions(shop, items, ("all-hoods-open", "settled-dust")),
        ),
        assumed=shop.assumed,
    )


def _findings(day: Day, *, listed: bool) -> Iterator[Finding]:
    """Yield every finding: of the tree, of the state told, of states without a known flow, and of the day."""
    trials, shop = day.trials, day.trials.air.shop
    yield from checks.without_dust(shop)
    yield from over_speed(shop, shop.request.collector.fan if shop.request.collector else None)
    if day.solved is not None and day.solved.operating.crossings:
        yield from shape.shape(
            retrial.Bench(shop, day.solved.runs, day.solved.fan, day.solved.gate, day.solved.operating.flow)
        )
    yield from states.findings(trials, day.shaft)
    yield from _cut_off(day)
    for opened in _odd(day)[:MOST_STATES_TOLD]:
        yield from outcome_findings(
            solve(shop, trials.air.fan, GateState(openings=trials.air.openings(opened))), label(trials, opened)
        )
    yield from findings.findings(trials, day.outcome)
    yield from bin.findings(trials, day.heap)
    told = day.shaft is not None and day.shaft.motor_efficiency is not None
    if day.energy is None and (told or trials.request.price_per_kwh is not None):
        missing = "give the fan's power points or efficiency, and the motor's efficiency"
        text = "give power points for every flow of the day" if told else missing
        message = "the power of a state of the day is not known: energy and cost are left out"
        yield finding(
            trials.request.units, "energy-not-known", message, at="collector", suggestion=Suggestion(text=text)
        )
    if not listed:
        listed_now = f"{MOST_CLEARINGS} clearing times and {MOST_LEFT} places where chips lie"
        message = f"the first {listed_now} are listed; all were judged"
        yield finding(trials.request.units, "clearing-not-listed", message)


def _cut_off(day: Day) -> Iterator[Finding]:
    """Yield each machine that runs behind a shut zone gate, with the first state in which it does."""
    trials, seen = day.trials, set[str | None]()
    shop = trials.air.shop
    places = {machine.name: place for place, machine in enumerate(shop.machines.each)}
    for opened in dict.fromkeys(state.open for state in day.outcome.day.states if state.fan):
        running = frozenset(places[trials.plan.groups[index].name] for index in opened)
        for item in checks.cut_off(shop, trials.air.openings(opened), running, label(trials, opened)):
            if item.run not in seen:
                seen.add(item.run)
                yield item


def _odd(day: Day) -> list[Open]:
    """Return the states without a point of the fan's curve, or with several crossings, in order of time."""
    air = day.outcome.air
    opened = dict.fromkeys(state.open for state in day.outcome.day.states if state.fan)
    return [
        state
        for state in opened
        if air.state(state).outcome == "several-operating-points" or not on_curve(air.fan, air.state(state))
    ]


def _names(day: Day, opened: Open) -> tuple[str, ...]:
    """Return the machines whose gates stand open, those that do so all day included."""
    groups = day.trials.plan.groups
    return tuple(group.name for index, group in enumerate(groups) if index in opened or (group.always_open))


def _timeline(day: Day) -> tuple[DayState, ...]:
    """Return the states of the day."""
    out, air = [], day.outcome.air
    for state in day.outcome.day.states:
        solved = air.state(state.open) if state.fan else None
        out.append(
            DayState(
                start=state.start / TICKS,
                end=state.end / TICKS,
                open_gates=_names(day, state.open),
                fan_on=state.fan,
                outcome="fan-off" if solved is None else solved.outcome,
                flow=0.0 if solved is None else air.flow(state.open),
                power=_taken(air, day.shaft, state.open) if state.fan else None,
            )
        )
    return tuple(out)


def _overrides(day: Day) -> tuple[RuleOverride, ...]:
    """Return each rule that won over something asked."""
    groups = day.trials.plan.groups
    return tuple(
        RuleOverride(
            time=won.time / TICKS,
            until=won.until / TICKS,
            rule=won.rule,
            over=won.over,
            machine=None if won.machine is None else groups[won.machine].name,
        )
        for won in day.outcome.day.overrides
    )


def _clearing(day: Day) -> Iterator[PathClearing]:
    """Yield the clearing time of each path in each state in which air flows along it, in order of time."""
    air, groups = day.outcome.air, day.trials.plan.groups
    for opened in dict.fromkeys(state.open for state in day.outcome.day.states if state.fan):
        for group in groups:
            for hood in group.hoods:
                through = air.through(opened, hood)
                time = None if through is None else clearing_time(through)
                if time is not None and time < float("inf"):
                    run = air.shop.runs[hood].id
                    names = _names(day, opened)
                    yield PathClearing(run=run, machine=group.name, open_gates=names, clearing_time=time)


def _of_chips(preset: Preset) -> str:
    """Return the caution on how chips are taken to move, with the spread of each number."""
    moves = chips()
    lies, low, high = (
        show(preset, "velocity", moves.settling * share) for share in (1.0, moves.settling_low, moves.settling_high)
    )
    return (
        f"Chips are taken to lie in air below {lies} ({low} to {high}), and else to move at {moves.level:g} of its "
        f"speed, {moves.upward:g} going up (either within {moves.slip_range:g}); long strips may not move at all, and "
        "what lies may need faster air to move again."
    )


def _left(day: Day, one: Lying) -> ChipsLeft:
    """Return what lies in one run, and who carries it out."""
    runs, carried = day.trials.request.runs, one.carried
    return ChipsLeft(
        run=runs[one.run].id,
        hood=runs[one.hood].id,
        machine=day.trials.plan.groups[one.group].name,
        cause=one.cause,
        open_gates=_names(day, one.opened),
        first_at=_clean(one.times[0]),
        last_at=_clean(one.times[1]),
        times=one.count,
        carried_out_at=None if carried is None else _clean(carried[0]),
        carried_out_with=None if carried is None else _names(day, carried[1].open),
    )


def _clean(seconds: float) -> float:
    """Return a time of the day in whole ticks, as people write it: 734, not 733.9999999999999."""
    return round(seconds * TICKS) / TICKS


def _machines(day: Day) -> tuple[MachineGates, ...]:
    """Return the table of machine to gate, in order of name."""
    waited: dict[int, int] = defaultdict(int)
    for index, (start, end) in day.outcome.day.unserved:
        waited[index] += end - start
    runs, trials = day.trials.request.runs, day.trials
    return tuple(
        MachineGates(
            machine=group.name,
            hoods=tuple(runs[hood].id for hood in group.hoods),
            gates=tuple(runs[gate].id for gate in group.gates),
            gate_delay=trials.asked.gate_delays[index] / TICKS,
            time_on=sum(end - start for start, end in trials.spells[index]) / TICKS,
            time_without_fan=waited[index] / TICKS,
            held=trials.plan.held == index,
            always_open=group.always_open,
            chips_volume=day.heap.volumes[index],
        )
        for index, group in enumerate(trials.plan.groups)
    )


def _system(day: Day) -> WorkingDaySystem:
    """Return the day as a whole."""
    ran, heap, price = day.outcome.day.runs, day.heap, day.trials.request.price_per_kwh
    spent = None if day.energy is None else units.value("energy", day.energy, day.trials.request.units)  # kWh in both
    return WorkingDaySystem(
        time_fan_on=sum(end - start for start, end in ran) / TICKS,
        starts=len(ran),
        start_times=tuple(start / TICKS for start, _ in ran),
        most_starts=most_starts(day.outcome.day.starts, WINDOW),
        open_gates=() if day.longest is None else _names(day, day.longest),
        energy=day.energy,
        cost=None if spent is None or price is None else spent * price,
        chips_volume=heap.total,
        bin_full_at=None if heap.full_at is None else _clean(heap.full_at),
        bin_left=heap.left,
    )
