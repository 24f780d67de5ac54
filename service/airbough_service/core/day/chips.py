"""Chips on their way: whether the last ones reach the collector before a gate shuts or the fan stops."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, TypeAlias

Cause: TypeAlias = Literal["gate-shut", "fan-stop", "too-slow"]

SLACK = 1.0e-9  # share of a span by which chips may be late: rounding only


@dataclass(frozen=True, slots=True)
class Moving:
    """One state for the chips of one path.

    Attributes:
        start, end: s.
        fan: whether it runs.
        through: time of the chips through each run of the path, hood first, s; infinite where they lie. None: unknown.
        shut: by run, whether air is not meant to flow there: a gate on the way to it is shut.
        sure: by run, whether the air reaches the transport velocity, so that chips neither settle nor, once they lie,
            stay; empty: everywhere.
    """

    start: float
    end: float
    fan: bool
    through: Sequence[float] | None
    shut: Sequence[bool] = ()
    sure: Sequence[bool] = ()


@dataclass(frozen=True, slots=True)
class Journey:
    """The last chips of one spell of work.

    Attributes:
        outcome: `cleared`, `left` or `unknown` (a state on the way has no known flow).
        time: when that came about, s.
        place: where in the path; its length when cleared.
        cause: what left them there.
        needed: time from the machine's stop to the collector had the air gone on as just before, s; 0: never.
        rest: share of the run that they had still to pass.
        number: index of the state in which that came about.
        doubtful: places passed in air too slow to be sure that it carries them, with the state's index.
    """

    outcome: Literal["cleared", "left", "unknown"]
    time: float
    place: int
    cause: Cause | None = None
    needed: float = 0.0
    rest: float = field(default=1.0, compare=False)
    number: int = field(default=0, compare=False)
    doubtful: tuple[tuple[int, int], ...] = ()


def clearing_time(through: Sequence[float]) -> float:
    """Return the chips' time from hood to collector, s; infinite where they lie in some run."""
    return math.fsum(through) if all(map(math.isfinite, through)) else math.inf


def journey(off: float, runs: int, first: int, state: Callable[[int], Moving | None]) -> Journey:
    """Return what becomes of the last chips of a machine.

    Earlier chips are farther down the same path, so that the last are left wherever any are that moved at all.

    Args:
        off: when the machine goes off, s.
        runs: number of runs in the path.
        first: index of the state in which it goes off.
        state: state by index; None before the first and past the last.
    """
    place, rest, time, number = 0, 1.0, off, first
    earlier = state(first - 1)
    before: Sequence[float] = (earlier.through or ()) if earlier is not None else ()
    doubtful: dict[int, int] = {}
    while place < runs:
        moving = state(number)
        if moving is not None and moving.through is None:
            return Journey("unknown", time, place)
        if moving is None or moving.through is None or math.isinf(moving.through[place]):
            needed = _needed(time - off, place, rest, before)
            cause = "fan-stop" if moving is None else _cause(moving, place)
            if before and math.isinf(before[place]):
                cause = "too-slow"  # they lay there before anything shut
            if math.isinf(needed):
                needed = 0.0
            return Journey("left", time, place, cause, needed, rest, number, tuple(doubtful.items()))
        if moving.sure and not moving.sure[place]:
            doubtful.setdefault(place, number)
        time, place, rest, on = _moved(moving, time, place, rest)
        before = moving.through
        number += on
    return Journey("cleared", time, place, number=number, doubtful=tuple(doubtful.items()))


def _moved(moving: Moving, time: float, place: int, rest: float) -> tuple[float, int, float, int]:
    """Return time, place and rest after one run, or after the state where it ends first; 1 where it does."""
    assert moving.through is not None
    cost, room = moving.through[place], moving.end - time
    if rest * cost <= room + SLACK * max(1.0, moving.end - moving.start):
        return min(time + rest * cost, moving.end), place + 1, 1.0, 0
    return moving.end, place, rest - room / cost, 1


def _cause(moving: Moving, place: int) -> Cause:
    """Return what leaves chips at a place in a state."""
    if not moving.fan:
        return "fan-stop"
    return "gate-shut" if not moving.shut or moving.shut[place] else "too-slow"


def _needed(passed: float, place: int, rest: float, before: Sequence[float]) -> float:
    """Return the time from stop to collector had the air gone on as before, s; infinite where it carries nothing."""
    return passed + rest * before[place] + math.fsum(before[place + 1 :]) if before else 0.0


def carried_on(
    place: int, rest: float, runs: int, first: int, state: Callable[[int], Moving | None]
) -> tuple[float, int] | None:
    """Return when later states have carried what lies in a path to the collector, and the last of them; None: never.

    To move again it takes the transport velocity; a state of unknown flow carries nothing.

    Args:
        place: where it lies.
        rest: share of that run still to pass.
        runs: number of runs in the path.
        first: index of the first state to look at.
        state: state by index; None past the last.
    """
    number, time = first, -math.inf
    while (moving := state(number)) is not None:
        time = max(time, moving.start)
        lies = moving.through is None or math.isinf(moving.through[place])
        if lies or (moving.sure and not moving.sure[place]):
            number += 1
            continue
        time, place, rest, on = _moved(moving, time, place, rest)
        if place == runs:
            return time, number
        number += on
    return None


def least_whole(holds: Callable[[int], bool], above: int, guess: int, most: int) -> int | None:
    """Return a whole number for which `holds`, with the one below it not holding, both tried; None: not found.

    Where holding is not lost again by going up it is the least there is.

    Args:
        holds: tried by the caller's own means.
        above: does not hold, or is not to be gone below.
        guess: tried first, then doubled.
        most: the greatest to try.
    """
    low, high = above, min(max(guess, above + 1), most)
    while high > low and not holds(high):
        if high == most:
            return None
        low, high = high, min(2 * high, most)
    if high <= low:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle
    return high


def full_at(rates: Sequence[float], spells: Sequence[Sequence[tuple[float, float]]], room: float) -> float | None:
    """Return when the chips of all machines reach `room`; None: not in these spells.

    Args:
        rates: volume a second of each machine while it is on.
        spells: when each is on, s.
        room: volume left in the bin.
    """
    changes = sorted(
        (time, rate if starts else -rate)
        for rate, own in zip(rates, spells, strict=True)
        for span in own
        for time, starts in zip(span, (True, False), strict=True)
        if rate > 0.0
    )
    if room <= 0.0:
        return 0.0
    volume, working = 0.0, 0.0
    for (time, change), (following, _) in pairwise(changes):
        working += change
        more = working * (following - time)
        if more > 0.0 and volume + more >= room * (1.0 - SLACK):
            return min(time + (room - volume) / working, following)
        volume += more
    return None
