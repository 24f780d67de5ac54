"""Chips on their way: whether the last ones reach the collector before a gate shuts or the fan stops."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeAlias

Cause: TypeAlias = Literal["gate-shut", "fan-stop"]

SLACK = 1.0e-9  # share of a span by which chips may be late: rounding only


@dataclass(frozen=True, slots=True)
class Moving:
    """One state for the chips of one path.

    Attributes:
        start, end: s.
        fan: whether it runs.
        through: time through each run of the path, hood first, s; infinite where nothing flows. None: not known.
    """

    start: float
    end: float
    fan: bool
    through: Sequence[float] | None


@dataclass(frozen=True, slots=True)
class Journey:
    """The last chips of one spell of work.

    Attributes:
        outcome: `cleared`, `left` or `unknown` (a state on the way has no known flow).
        time: when that came about, s.
        place: where in the path; its length when cleared.
        cause: what left them there.
        needed: time from the machine's stop to the collector had the air gone on as just before, s.
    """

    outcome: Literal["cleared", "left", "unknown"]
    time: float
    place: int
    cause: Cause | None = None
    needed: float = 0.0


def clearing_time(through: Sequence[float]) -> float:
    """Return the time from hood to collector, s: the sum of length over velocity; infinite where nothing flows."""
    return math.fsum(through) if all(map(math.isfinite, through)) else math.inf


def journey(off: float, runs: int, first: int, state: Callable[[int], Moving | None]) -> Journey:
    """Return what becomes of the last chips of a machine.

    They move with the air. Earlier chips are farther down the same path, and air that stands still in a run stands
    still in every run before it, so the last chips are left wherever any are.

    Args:
        off: when the machine goes off, s.
        runs: number of runs in the path.
        first: index of the state in which it goes off.
        state: state by index; None before the first and past the last.
    """
    place, left, time, number = 0, 1.0, off, first
    earlier = state(first - 1)
    before: Sequence[float] = (earlier.through or ()) if earlier is not None else ()
    while place < runs:
        moving = state(number)
        if moving is None:
            return _stranded(off, time, place, left, before, "fan-stop")
        if moving.through is None:
            return Journey("unknown", time, place)
        cost = moving.through[place]
        if math.isinf(cost):
            return _stranded(off, time, place, left, before, "gate-shut" if moving.fan else "fan-stop")
        need, room = left * cost, moving.end - time
        if need <= room + SLACK * max(1.0, moving.end - moving.start):
            time, place, left = min(time + need, moving.end), place + 1, 1.0
            before = moving.through
            continue
        left -= room / cost
        time, number, before = moving.end, number + 1, moving.through
    return Journey("cleared", time, place)


def _stranded(off: float, time: float, place: int, left: float, before: Sequence[float], cause: Cause) -> Journey:
    rest = left * before[place] + math.fsum(before[place + 1 :]) if before else 0.0
    return Journey("left", time, place, cause, time - off + rest)


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
