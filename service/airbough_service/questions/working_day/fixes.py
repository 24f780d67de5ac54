"""The setting that fixes a broken rule of the day, tried on the whole day before it is told."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import ceil

from airbough.wire.answer import (
    Change,
    Suggestion,
)
from airbough.wire.quantity import duration
from airbough_service.core.day.chips import least_whole
from airbough_service.core.day.working_day import most_starts
from airbough_service.questions.working_day.plan import TICKS
from airbough_service.questions.working_day.trial import (
    Last,
    Outcome,
    Setup,
    SpentError,
    Trials,
)

LONGEST_DELAY = 3600
"""No delay beyond an hour is tried, s."""

WINDOW = 3600 * TICKS

_TOO_LONG = Suggestion(text="the day has too many spells for settings to be tried; try fewer at a time")


def _held(trials: Trials, made: Callable[[int], Setup], fixed: Callable[[Outcome], bool]) -> Callable[[int], bool]:
    """Return the check of a delay: the rule is fixed and no hood that had its design flow loses it."""
    starved = trials.run(trials.asked).starved

    def holds(seconds: int) -> bool:
        outcome = trials.run(made(seconds))
        return fixed(outcome) and outcome.starved <= starved

    return holds


def chips(trials: Trials, group: int, left: list[Last]) -> Suggestion:
    """Return the least delays, in whole seconds, that leave none of a machine's chips in the duct."""
    try:
        return _chips(trials, group, left)
    except SpentError:
        return _TOO_LONG


def _chips(trials: Trials, group: int, left: list[Last]) -> Suggestion:
    name = trials.plan.groups[group].name
    causes = {last.journey.cause for last in left}
    gate, fan = trials.asked.gate_delays[group] // TICKS, trials.asked.rules.fan_delay // TICKS
    guess = ceil(max(last.journey.needed for last in left))
    slow = _slow(trials.run(trials.asked), group)

    def cleared(outcome: Outcome) -> bool:
        return not outcome.left(group) and _slow(outcome, group) <= slow

    ways: list[tuple[bool, bool]] = [(True, False), (False, True), (True, True)]
    ways.sort(key=lambda way: way != ("gate-shut" in causes, "fan-stop" in causes))
    for with_gate, with_fan in ways:

        def made(seconds: int, with_gate: bool = with_gate, with_fan: bool = with_fan) -> Setup:
            return trials.with_delays(
                group=group, gate=seconds if with_gate else None, fan=seconds if with_fan else None
            )

        holds = _held(trials, made, cleared)
        above = min(time for time, used in ((gate, with_gate), (fan, with_fan)) if used)
        least = least_whole(holds, above, guess, LONGEST_DELAY)
        if least is not None:
            return _delays(trials, group, least, made(least), name)
    return Suggestion(
        text=f"no delay up to {duration(LONGEST_DELAY)} clears the path of {name} and leaves every open hood its "
        "design flow"
    )


def _slow(outcome: Outcome, group: int) -> int:
    """Return how often air too slow leaves the last chips of a machine."""
    return sum(last.slow for last in outcome.stranded(group))


def _delays(trials: Trials, group: int, seconds: int, setup: Setup, name: str) -> Suggestion:
    """Return the suggestion of delays that were tried."""
    row = trials.plan.groups[group].row
    changes, texts = [], []
    if setup.gate_delays[group] != trials.asked.gate_delays[group]:
        changes.append(Change(path=f"machines[{row}].gate_delay", value=float(seconds)))
        texts.append(f"hold the gates of {name} open for {duration(seconds)} after it goes off")
    if setup.rules.fan_delay != trials.asked.rules.fan_delay:
        changes.append(Change(path="fan_delay", value=float(seconds)))
        texts.append(f"let the fan run on for {duration(seconds)}")
    outcome = trials.run(setup)
    of_all = sum(len(outcome.left(index)) for index in range(len(trials.plan.groups)))
    return Suggestion(
        text=" and ".join(texts),
        changes=tuple(changes),
        gain={"times_chips_left": float(len(outcome.left(group))), "times_chips_left_of_all_machines": float(of_all)},
    )


def starts(trials: Trials, allowed: int) -> Suggestion:
    """Return the least fan delay, in whole seconds, with which the fan starts no more often than allowed."""

    def fixed(outcome: Outcome) -> bool:
        return most_starts(outcome.day.starts, WINDOW) <= allowed

    def gain(outcome: Outcome) -> dict[str, float]:
        return {"most_starts": float(most_starts(outcome.day.starts, WINDOW))}

    return _fan_delay(trials, fixed, gain, "the starts") or Suggestion(
        text=f"no fan delay up to {duration(LONGEST_DELAY)} brings the starts down to {allowed}"
    )


def without_fan(trials: Trials) -> Suggestion:
    """Return the least fan delay, else the longest rest, with which no machine works while the fan stands still."""

    def fixed(outcome: Outcome) -> bool:
        return not outcome.day.unserved

    def gain(outcome: Outcome) -> dict[str, float]:
        return {"seconds_without_fan": sum(end - start for _, (start, end) in outcome.day.unserved) / TICKS}

    found = _fan_delay(trials, fixed, gain, "the rests")
    if found is not None:
        return found
    try:
        rest = _longest_rest(trials)
        outcome = trials.run(trials.with_rest(rest))
    except SpentError:
        return _TOO_LONG
    changes = (Change(path="rest", value=rest / TICKS),)
    return Suggestion(text=f"shorten the rest to {duration(rest / TICKS)}", changes=changes, gain=gain(outcome))


def _longest_rest(trials: Trials) -> int:
    """Return the longest rest that makes no machine wait: the shortest pause of the fan that has no rest at all.

    Without a rest no start is put off, so every pause is as long as the machines alone make it.
    """
    runs = trials.run(trials.with_rest(0)).day.runs
    return min(start - stop for (_, stop), (start, _) in pairwise(runs))


def _fan_delay(
    trials: Trials, fixed: Callable[[Outcome], bool], gain: Callable[[Outcome], dict[str, float]], what: str
) -> Suggestion | None:
    """Return the least fan delay that fixes; None where none up to the longest does."""

    def made(seconds: int) -> Setup:
        return trials.with_delays(fan=seconds)

    above = trials.asked.rules.fan_delay // TICKS
    try:
        least = least_whole(_held(trials, made, fixed), above, above + 1, LONGEST_DELAY)
    except SpentError:
        return _TOO_LONG
    if least is None:
        return None
    text = f"let the fan run on for {duration(least)}, which bridges {what}"
    changes = (Change(path="fan_delay", value=float(least)),)
    return Suggestion(text=text, changes=changes, gain=gain(trials.run(made(least))))
