"""The findings of a day: which rule does not hold, when first, how often, and what fixes it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any, Final

from msgspec import structs

from airbough.wire.answer import (
    Change,
    Finding,
    Suggestion,
)
from airbough.wire.quantity import Preset, duration
from airbough_service import catalogue
from airbough_service.catalogue.chips import chips
from airbough_service.core.day.working_day import (
    State,
    starts_beyond,
)
from airbough_service.judging import checks
from airbough_service.questions.working_day import fixes
from airbough_service.questions.working_day.flows import Open
from airbough_service.questions.working_day.left import (
    Lying,
    lying,
)
from airbough_service.questions.working_day.plan import (
    TICKS,
    Group,
)
from airbough_service.questions.working_day.trial import (
    Last,
    Outcome,
    Trials,
)
from airbough_service.shop.opening import is_shut
from airbough_service.terms.finding import (
    finding,
    show,
    show_apart,
)

MOST_STATES_TOLD: Final = 20
"""States without a known flow that get a finding each."""


def label(trials: Trials, opened: Open) -> str:
    """Return a state's name: the machines whose gates stand open."""
    return " + ".join(trials.plan.groups[index].name for index in sorted(opened)) or "all gates shut"


def at(time: int) -> str:
    """Return a time of the day for a sentence."""
    return duration(time / TICKS)


def place(group: Group, field: str = "") -> str | None:
    """Return a machine's path in the request; None where it is not named."""
    return None if group.row is None else f"machines[{group.row}]{field}"


def _in_seconds(preset: Preset, code: str, message: str, **parts: Any) -> Finding:
    """Return a finding whose value and limit are seconds."""
    return structs.replace(finding(preset, code, message, **parts), unit="s")


def findings(trials: Trials, outcome: Outcome) -> Iterator[Finding]:
    """Yield the findings of the day, in no order."""
    yield from _shut(trials, outcome)
    for index in range(len(trials.plan.groups)):
        yield from _chips(trials, outcome, index)
    yield from _without_fan(trials, outcome)
    yield from _starts(trials, outcome)
    yield from _starved(trials, outcome)
    yield from _without_air(trials, outcome)
    yield from _machines(trials)


def _shut(trials: Trials, outcome: Outcome) -> Iterator[Finding]:
    """Yield the danger of a fan that runs with no way for air but leaks: a gate that no machine moves stands in it."""
    first: dict[Open, State] = {}
    for state in outcome.day.states:
        if state.fan and trials.air.shut(state.open):
            first.setdefault(state.open, state)
    fan = trials.air.fan
    for opened, state in list(first.items())[:MOST_STATES_TOLD]:
        yield finding(
            trials.request.units,
            "all-gates-shut",
            f"from {at(state.start)} the fan runs with every way shut: the duct sees the fan's full suction",
            state=label(trials, opened),
            quantity="suction",
            kind="pressure",
            value=None if fan.begins_beyond(0.0) else fan.static_pressure(0.0),
            suggestion=_opened(trials, opened),
        )


def _opened(trials: Trials, opened: Open) -> Suggestion:
    """Return which shut gates on the way to open, tried in this state."""
    air, runs = trials.air, trials.request.runs
    moved = {run for group in trials.plan.groups for run in group.gates}
    on_way = {run for index in opened for hood in trials.plan.groups[index].hoods for run in air.path(hood)}
    shut = [
        index
        for index in sorted(on_way - moved)
        if (gate := runs[index].gate) is not None and is_shut(float(gate.opening))
    ]
    flow = air.flow_with(opened, dict.fromkeys(shut, 1.0)) if shut else 0.0
    if not flow:
        return Suggestion(text="keep one gate with a free way to the collector open whenever the fan runs")
    names = ", ".join(runs[index].id for index in shut)
    changes = tuple(Change(path=f"runs[{index}].gate.opening", value=1.0) for index in shut)
    return Suggestion(text=f"open the gate of {names}; air then flows", changes=changes)


def _chips(trials: Trials, outcome: Outcome, index: int) -> Iterator[Finding]:
    """Yield what is left of one machine's chips, what may settle, and states in which that cannot be told."""
    group, preset = trials.plan.groups[index], trials.request.units
    lasts = outcome.lasts(index)
    left = [last for last in lasts if last.journey.outcome == "left" and not last.slow]
    stays = lying(outcome, index)
    if left:
        worst = max(left, key=lambda last: last.journey.needed)
        by_gate = left[0].journey.cause == "gate-shut"
        delay = trials.asked.gate_delays[index] if by_gate else trials.asked.rules.fan_delay
        first = next(one for one in stays if one.cause != "too-slow")
        yield _in_seconds(
            preset,
            "chips-left-in-duct",
            _left_message(trials, left) + _carried(trials, first),
            at=place(group, ".times"),
            run=trials.request.runs[left[0].hood].id,
            state=label(trials, outcome.during((left[0].off - 1, left[0].off))[0].open),
            quantity="gate_delay" if by_gate else "fan_delay",
            value=delay / TICKS,
            minimum=worst.journey.needed if worst.journey.needed > 0.0 else None,
            suggestion=fixes.chips(trials, index, left),
        )
    slow = [one for one in stays if one.cause == "too-slow"]
    if slow:
        yield _too_slow(trials, group, slow)
    doubtful = [last for last in lasts if last.journey.doubtful]
    if doubtful:
        yield _may_settle(trials, outcome, doubtful[0])
    unknown = sum(last.journey.outcome == "unknown" for last in lasts)
    if unknown:
        yield finding(
            preset,
            "clearing-not-known",
            f"{unknown} times the flow behind {group.name} lies beyond the fan's curve; chips are not judged there",
            at=place(group, ".times"),
            suggestion=Suggestion(text="give further points of the fan's curve"),
        )


def _carried(trials: Trials, one: Lying) -> str:
    """Return the end of a sentence: who carries out what lies there."""
    if one.carried is None:
        return "; nothing later in this day carries out what lies there"
    time, state = one.carried
    return f"; what lies there is carried out by {duration(time)}, with {label(trials, state.open)} open"


def _too_slow(trials: Trials, group: Group, slow: list[Lying]) -> Finding:
    """Return the warning of chips that lie down in air too slow for them, the first time and how often."""
    first, preset = slow[0], trials.request.units
    run, air = trials.air.shop.runs[first.run], trials.air.velocities(first.opened)[first.run]
    settles = chips().settling
    moves, lies = show_apart(preset, "velocity", air, settles)
    often = sum(one.count for one in slow)
    times = "once" if often == 1 else f"{often} times, first"
    dust = trials.air.shop.runs[first.hood].dust
    needed = max((catalogue.dust(word).transport_velocity for word in dust), default=settles)
    bore = show(preset, "diameter", run.start * (air / needed) ** 0.5)
    return finding(
        preset,
        "chips-left-in-duct",
        f"{times} at {duration(first.times[0])}: with {label(trials, first.opened)} open, air in {run.id} moves at "
        f"{moves}, and chips of {group.name} lie there below {lies}{_carried(trials, first)}",
        at=place(group, ".times"),
        run=run.id,
        state=label(trials, first.opened),
        quantity="velocity",
        kind="velocity",
        value=air,
        minimum=settles,
        suggestion=Suggestion(text=f"a diameter of at most {bore} carries them at this flow; or open further gates"),
        source=chips().passports[0].source,
    )


def _may_settle(trials: Trials, outcome: Outcome, last: Last) -> Finding:
    """Return the note of chips on their way out in air between lying still and surely carried."""
    way, number = last.journey.doubtful[0]
    air, preset = trials.air, trials.request.units
    opened, index = outcome.day.states[number].open, air.path(last.hood)[way]
    moves, settles = air.velocities(opened)[index], chips().settling
    needed = max(catalogue.dust(word).transport_velocity for word in air.shop.runs[last.hood].dust)
    gets, needs = show_apart(preset, "velocity", moves, needed)
    return finding(
        preset,
        "chips-may-settle",
        f"after {at(last.off)} the last chips of {trials.plan.groups[last.group].name} pass {air.shop.runs[index].id} "
        f"in air of {gets}, between {show(preset, 'velocity', settles)}, below which they lie, and {needs}, which "
        "carries them",
        at=place(trials.plan.groups[last.group], ".times"),
        run=air.shop.runs[index].id,
        state=label(trials, opened),
        quantity="velocity",
        kind="velocity",
        value=moves,
        minimum=needed,
        suggestion=Suggestion(text="look into that run, or open a further gate until the last chips are out"),
        source=chips().passports[0].source,
    )


def _left_message(trials: Trials, left: list[Last]) -> str:
    """Return the sentence on the first time that chips are left."""
    first = min(left, key=lambda last: last.journey.time)
    path = trials.air.path(first.hood)
    run = trials.request.runs[path[min(first.journey.place, len(path) - 1)]].id
    name = trials.plan.groups[first.group].name
    what = "its gate shuts" if first.journey.cause == "gate-shut" else "the fan stops"
    seconds = first.journey.time - first.off / TICKS
    when = "the moment it goes off" if seconds <= 0.0 else f"{duration(seconds)} after it goes off"
    times = "once" if len(left) == 1 else f"{len(left)} times, first"
    return f"{times} at {at(first.off)}: {what} {when} while the last chips of {name} are still in {run}"


def _without_fan(trials: Trials, outcome: Outcome) -> Iterator[Finding]:
    """Yield the machines that work while the fan rests."""
    waiting: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for index, span in outcome.day.unserved:
        waiting[index].append(span)
    if not waiting:
        return
    suggestion = fixes.without_fan(trials)
    for index, spans in waiting.items():
        group = trials.plan.groups[index]
        seconds = sum(end - start for start, end in spans) / TICKS
        yield _in_seconds(
            trials.request.units,
            "machine-without-fan",
            f"{group.name} is on for {duration(seconds)} while the fan rests, first at {at(spans[0][0])}",
            at=place(group, ".times"),
            quantity="time_without_fan",
            value=seconds,
            maximum=0.0,
            suggestion=suggestion,
        )


def _starts(trials: Trials, outcome: Outcome) -> Iterator[Finding]:
    """Yield the first time at which the fan starts too often, and the worst count."""
    allowed = trials.request.starts_allowed
    if allowed is None:
        return
    beyond = starts_beyond(outcome.day.starts, allowed, fixes.WINDOW)
    if not beyond:
        return
    worst = max(count for _, count in beyond)
    yield finding(
        trials.request.units,
        "too-many-starts",
        f"the start at {at(beyond[0][0])} is number {beyond[0][1]} within an hour; the most in the day are {worst}",
        at="starts_allowed",
        quantity="starts",
        value=float(worst),
        maximum=float(allowed),
        suggestion=fixes.starts(trials, allowed),
    )


def _starved(trials: Trials, outcome: Outcome) -> Iterator[Finding]:
    """Yield each hood that lacks its design flow while its machine works, in the state that is worst for it."""
    air, advice = trials.air, "ask the question on gate states which gates to move in this state"
    for hood in sorted(outcome.starved):
        short = [state for state in outcome.working[hood] if air.starves(state, hood)]
        opened = min(short, key=lambda state: (air.at_hood(state, hood), sorted(state)))
        flow, state = air.at_hood(opened, hood), label(trials, opened)
        yield checks.starved_hood(air.shop, hood, flow, state, advice, " while it works")


def _without_air(trials: Trials, outcome: Outcome) -> Iterator[Finding]:
    """Yield each hood that is cut off while its machine works and air flows elsewhere; a leak is no air."""
    air = trials.air
    for hood, seen in sorted(outcome.working.items()):
        dry = [
            opened
            for opened in seen
            if air.state(opened).outcome != "beyond-fan-curve"
            and not air.shut(opened)
            and not air.is_open(opened, hood)
        ]
        if dry:
            run = trials.request.runs[hood]
            yield finding(
                trials.request.units,
                "hood-without-air",
                f"a shut gate on the way of {run.id} lets no air through while its machine works",
                at=f"runs[{hood}].hood",
                run=run.id,
                state=label(trials, min(dry, key=sorted)),
                suggestion=Suggestion(text="let that gate stand open while the machine works"),
            )


def _machines(trials: Trials) -> Iterator[Finding]:
    """Yield the notes on machines that the day or the tree leaves out."""
    preset = trials.request.units
    counting = any(group.day is not None and group.day.chips is not None for group in trials.plan.groups)
    for group in trials.plan.groups:
        hood = f"runs[{group.hoods[0]}]" if group.hoods else None
        run = trials.request.runs[group.hoods[0]].id if group.hoods else None
        if not group.gates:
            message = f"{group.name} has no gate: air enters its hood whenever the fan runs"
            yield finding(preset, "machine-without-gate", message, at=hood, run=run)
        if group.day is None and not group.always_open and group.gates:
            message = f"{group.name} is not named in the day: it stays off and its gates shut"
            yield finding(preset, "machine-not-named", message, at=hood, run=run)
        if counting and group.day is not None and group.day.times and group.day.chips is None:
            message = f"{group.name} works and gives no chip volume: chips and bin leave it out"
            yield finding(preset, "chips-not-counted", message, at=place(group, ".chips"))
