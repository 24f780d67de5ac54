"""A day of machines switched on and off: when the gates stand open and the fan runs, event by event.

All times are whole numbers of one small unit, so that equal times are equal. A machine is on at t where
on <= t < off, and every state holds from its start up to, not at, its end. A fan needs a machine that is on to start;
delays only keep what already runs or stands open. The fan never starts for a delay alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, TypeAlias

Span: TypeAlias = tuple[int, int]
"""Start and end; the end does not belong to it."""

Rule: TypeAlias = Literal["never-all-shut", "minimum-run", "rest"]
Overruled: TypeAlias = Literal["machine-on", "delay"]


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine's day.

    Attributes:
        on: when it is on; in order, none overlapping.
        gate_delay: how long its gates stay open after it goes off.
        gated: whether it has a gate at all; one without stands open all day.
    """

    on: tuple[Span, ...]
    gate_delay: int = 0
    gated: bool = True


@dataclass(frozen=True, slots=True)
class Settings:
    """How gates and fan follow the machines.

    Attributes:
        fan_delay: how long the fan runs on after the last machine goes off.
        minimum_run: the fan runs at least so long after a start.
        rest: the fan stands still at least so long before it starts again.
        held: the machine whose gates stay open unless another opens.
        always_open: whether some way stays open that no machine moves, so that all can never be shut; a machine
            without a gate is such a way.
    """

    fan_delay: int = 0
    minimum_run: int = 0
    rest: int = 0
    held: int | None = None
    always_open: bool = False


@dataclass(frozen=True, slots=True)
class Override:
    """A rule that won over something asked, from `time` up to `until`."""

    time: int
    until: int
    rule: Rule
    over: Overruled
    machine: int | None = None


@dataclass(frozen=True, slots=True)
class State:
    """What stands open and whether the fan runs from `start` up to `end`."""

    start: int
    end: int
    open: frozenset[int]
    fan: bool


@dataclass(frozen=True, slots=True)
class Day:
    """The whole day.

    Attributes:
        states: the day without gaps, neighbours unlike.
        runs: when the fan runs.
        overrides: in order of time.
        unserved: machine and span in which it is on while the fan stands still.
    """

    states: tuple[State, ...]
    runs: tuple[Span, ...]
    overrides: tuple[Override, ...]
    unserved: tuple[tuple[int, Span], ...]

    @property
    def starts(self) -> tuple[int, ...]:
        """When the fan starts."""
        return tuple(start for start, _ in self.runs)


def follow(machines: Sequence[Machine], settings: Settings, duration: int) -> Day:
    """Return the day; it goes on past `duration` until the last delay and minimum run have ended."""
    demand = merged(span for machine in machines for span in machine.on)
    runs, overrides = _fan(demand, settings)
    wanted = [_wanted(machine) for machine in machines]
    end = max([duration, *(spans[-1][1] for spans in [*wanted, runs] if spans)])
    kept, kept_overrides = _kept(machines, wanted, runs, settings, end)
    open_spans = [merged([*own, *more]) for own, more in zip(wanted, kept, strict=True)]
    return Day(
        states=_states(open_spans, runs, end),
        runs=tuple(runs),
        overrides=tuple(sorted([*overrides, *kept_overrides], key=_order)),
        unserved=tuple(
            (index, gap) for index, machine in enumerate(machines) for gap in without(merged(machine.on), runs)
        ),
    )


def merged(spans: Iterable[Span]) -> list[Span]:
    """Return the union of spans, in order; spans that touch are one."""
    out: list[Span] = []
    for start, end in sorted(spans):
        if out and start <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], end))
        else:
            out.append((start, end))
    return out


def without(spans: Sequence[Span], taken: Sequence[Span]) -> list[Span]:
    """Return what is left of ordered spans outside ordered `taken` ones."""
    out: list[Span] = []
    first = 0
    for start, end in spans:
        while first < len(taken) and taken[first][1] <= start:
            first += 1
        here = start
        for take_start, take_end in taken[first:]:
            if take_start >= end:
                break
            if take_start > here:
                out.append((here, take_start))
            here = max(here, take_end)
        if here < end:
            out.append((here, end))
    return out


def _order(override: Override) -> tuple[int, str, int]:
    return override.time, override.rule, -1 if override.machine is None else override.machine


def _fan(demand: Sequence[Span], settings: Settings) -> tuple[list[Span], list[Override]]:
    """Return when the fan runs for the times at which some machine is on, and what rest and minimum run overrode."""
    runs: list[Span] = []
    overrides: list[Override] = []
    asked_stop = 0
    for on, off in demand:
        if runs and on <= runs[-1][1]:
            if asked_stop < on:
                overrides.append(Override(asked_stop, on, "minimum-run", "delay"))
            start = runs.pop()[0]
        else:
            if runs and asked_stop < runs[-1][1]:
                overrides.append(Override(asked_stop, runs[-1][1], "minimum-run", "delay"))
                asked_stop = runs[-1][1]
            start = max(on, runs[-1][1] + settings.rest) if runs else on
            if start > on:
                overrides.append(Override(on, min(start, off), "rest", "machine-on"))
            if start >= off:
                continue
        asked_stop = off + settings.fan_delay
        runs.append((start, max(asked_stop, start + settings.minimum_run)))
    if runs and asked_stop < runs[-1][1]:
        overrides.append(Override(asked_stop, runs[-1][1], "minimum-run", "delay"))
    return runs, overrides


def _wanted(machine: Machine) -> list[Span]:
    """Return when the machine itself wants its gates open; none where it has no gate."""
    if not machine.gated:
        return []
    return merged((on, off + machine.gate_delay) for on, off in machine.on)


def _kept(
    machines: Sequence[Machine], wanted: Sequence[Sequence[Span]], runs: Sequence[Span], settings: Settings, end: int
) -> tuple[list[list[Span]], list[Override]]:
    """Return when gates stay open that no machine wants open, and what that overrode.

    While none is wanted open the held gate is; without one, and with the fan running, the gate that would be the last
    to shut. The fan cannot start in such a time, since a machine that is on wants its own gate open.
    """
    kept: list[list[Span]] = [[] for _ in machines]
    way_open = settings.always_open or not all(machine.gated for machine in machines)
    overrides: list[Override] = []
    closing: dict[int, list[int]] = {}
    for index, spans in enumerate(wanted):
        for _, shut in spans:
            closing.setdefault(shut, []).append(index)
    stops = iter(runs)
    run = next(stops, None)
    for start, until in without([(0, end)], merged(span for spans in wanted for span in spans)):
        last = closing.get(start, [])
        while run is not None and run[1] <= start:
            run = next(stops, None)
        if settings.held is not None:
            index = settings.held
        elif run is not None and run[0] < start and not way_open:
            index, until = last[0], min(until, run[1])
        else:
            continue
        kept[index].append((start, until))
        if index in last:
            overrides.append(Override(start, until, "never-all-shut", "delay", index))
    return kept, overrides


def _states(open_spans: Sequence[Sequence[Span]], runs: Sequence[Span], end: int) -> tuple[State, ...]:
    """Return the day's states from the spans of each gate and of the fan."""
    changes: dict[int, list[tuple[int, bool]]] = {0: [], end: []}
    for start, stop in runs:
        changes.setdefault(start, [])
        changes.setdefault(stop, [])
    for row, spans in enumerate(open_spans):
        for start, stop in spans:
            changes.setdefault(start, []).append((row, True))
            changes.setdefault(stop, []).append((row, False))
    times = sorted(changes)
    standing: set[int] = set()
    starts, stops, fan = {start for start, _ in runs}, {stop for _, stop in runs}, False
    states: list[State] = []
    for time, following in pairwise(times):
        for row, opens in changes[time]:
            (standing.add if opens else standing.discard)(row)
        fan = time in starts or (fan and time not in stops)
        states.append(State(time, following, frozenset(standing), fan))
    return tuple(states)


def starts_beyond(starts: Sequence[int], allowed: int, window: int) -> list[tuple[int, int]]:
    """Return each start that makes more than `allowed` in a window that ends with it, and how many it makes.

    Two starts a whole window apart do not share one.
    """
    out: list[tuple[int, int]] = []
    first = 0
    for index, start in enumerate(starts):
        while start - starts[first] >= window:
            first += 1
        count = index - first + 1
        if count > allowed:
            out.append((start, count))
    return out


def most_starts(starts: Sequence[int], window: int) -> int:
    """Return the most starts in any window."""
    return max((count for _, count in starts_beyond(starts, 0, window)), default=0)
