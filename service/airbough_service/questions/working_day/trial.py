"""Trying settings: the whole day again with other delays, and what becomes of the chips in it."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

from airbough.wire.working_day import WorkingDayRequest
from airbough_service.core import deadline
from airbough_service.core.day.chips import (
    Journey,
    Moving,
    carried_on,
    journey,
)
from airbough_service.core.day.working_day import (
    Day,
    Machine,
    Settings,
    Span,
    State,
    follow,
    merged,
)
from airbough_service.questions.working_day.flows import (
    Air,
    Open,
)
from airbough_service.questions.working_day.plan import (
    TICKS,
    Plan,
    ticks,
)

SPELLS_TRIED = 150_000  # spells followed in all while looking for settings that fix


class SpentError(Exception):
    """The day is too long for more trials."""


@dataclass(frozen=True, slots=True)
class Setup:
    """The settings of one trial, in ticks.

    Attributes:
        gate_delays: of each machine.
        rules: of gates and fan.
    """

    gate_delays: tuple[int, ...]
    rules: Settings


@dataclass(frozen=True, slots=True)
class Last:
    """The last chips of one spell of one machine at one hood.

    Attributes:
        group, hood: where they come from.
        off: when the machine goes off, in ticks.
        journey: what becomes of them.
        in_work: whether they lie where the air was too slow already while their machine worked.
    """

    group: int
    hood: int
    off: int
    journey: Journey
    in_work: bool = False

    @property
    def slow(self) -> bool:
        """Whether they are left since the air is too slow, which no delay mends."""
        return self.journey.cause == "too-slow"


@dataclass(frozen=True, slots=True)
class Settled:
    """Chips that lie from the state on in which they are cut, since the air on their way is too slow.

    Attributes:
        group, hood: where they come from.
        place: in the hood's path.
        opened: the state.
        numbers: of the states of the day in which it stands while the machine works, in order.
    """

    group: int
    hood: int
    place: int
    opened: Open
    numbers: tuple[int, ...]


@dataclass
class Outcome:
    """What one trial gave."""

    day: Day
    air: Air
    spells: tuple[tuple[Span, ...], ...]

    @cached_property
    def beginnings(self) -> list[int]:
        """When each state begins."""
        return [state.start for state in self.day.states]

    def lasts(self, group: int) -> list[Last]:
        """Return what becomes of the last chips of each spell that ends with air at the open hood."""
        out = []
        for _, off in self.spells[group]:
            deadline.check()
            before = self.day.states[bisect_right(self.beginnings, off - 1) - 1]
            first = bisect_right(self.beginnings, off) - 1 if off < self.day.states[-1].end else len(self.beginnings)
            for hood in self.air.plan.groups[group].hoods:
                if before.fan and self.air.is_open(before.open, hood):
                    gone = journey(off / TICKS, len(self.air.path(hood)), first, self.moving(hood))
                    through = self.air.through(before.open, hood)
                    lain = gone.outcome == "left" and through is not None and math.isinf(through[gone.place])
                    out.append(Last(group, hood, off, gone, lain))
        return out

    def stranded(self, group: int) -> list[Last]:
        """Return the last chips that stay in the duct."""
        return [last for last in self.lasts(group) if last.journey.outcome == "left"]

    def left(self, group: int) -> list[Last]:
        """Return the last chips that a gate or the fan leaves in the duct: those that a delay may bring out."""
        return [last for last in self.stranded(group) if not last.slow]

    def settled(self, group: int) -> list[Settled]:
        """Return the chips that lie down while their machine works, by hood and state, in the path's first such run."""
        out, standing = [], self.standing(group)
        for hood in self.air.plan.groups[group].hoods:
            for opened, numbers in standing.items():
                through = self.air.through(opened, hood)
                if through is None or not self.air.is_open(opened, hood):
                    continue
                place = next((place for place, time in enumerate(through) if math.isinf(time)), None)
                if place is not None:
                    out.append(Settled(group, hood, place, opened, tuple(numbers)))
        return out

    def standing(self, group: int) -> dict[Open, list[int]]:
        """Return the states of the gates in which a machine works and the fan runs, with the numbers of the states."""
        out: dict[Open, dict[int, None]] = {}
        for span in self.spells[group]:
            for number in self._numbers(span):
                state = self.day.states[number]
                if state.fan:
                    out.setdefault(state.open, {})[number] = None
        return {opened: list(numbers) for opened, numbers in out.items()}

    def carried(self, hood: int, place: int, rest: float, first: int) -> tuple[float, State] | None:
        """Return when later states have carried out what lies in a hood's path, s, and the last; None: not this day."""
        found = carried_on(place, rest, len(self.air.path(hood)), first, self.moving(hood))
        return None if found is None else (found[0], self.day.states[found[1]])

    def moving(self, hood: int) -> Callable[[int], Moving | None]:
        """Return how the chips of a hood's path move in each state of the day, by number."""
        states, air = self.day.states, self.air

        def of(number: int) -> Moving | None:
            deadline.check()
            if not 0 <= number < len(states):
                return None
            state = states[number]
            through = air.through(state.open, hood, fan=state.fan)
            known = state.fan and through is not None
            shut, sure = (air.shut_on(state.open, hood), air.sure(state.open, hood)) if known else ((), ())
            return Moving(state.start / TICKS, state.end / TICKS, state.fan, through, shut, sure)

        return of

    def _numbers(self, span: Span) -> range:
        """Return the numbers of the states that a span touches."""
        return range(bisect_right(self.beginnings, span[0]) - 1, bisect_right(self.beginnings, span[1] - 1))

    def during(self, span: Span) -> tuple[State, ...]:
        """Return the states that a span touches."""
        numbers = self._numbers(span)
        return self.day.states[numbers.start : numbers.stop]

    @cached_property
    def working(self) -> dict[int, set[Open]]:
        """Hood -> the states in which its machine works and the fan runs."""
        seen: dict[int, set[Open]] = {}
        for group, spans in zip(self.air.plan.groups, self.spells, strict=True):
            opened = {state.open for span in spans for state in self.during(span) if state.fan}
            seen.update(dict.fromkeys(group.hoods, opened))
        return seen

    @cached_property
    def starved(self) -> frozenset[int]:
        """The hoods that get less than their design flow at some time while their machine and the fan are on."""
        return frozenset(
            hood for hood, seen in self.working.items() if any(self.air.starves(opened, hood) for opened in seen)
        )


@dataclass
class Trials:
    """The day of one request, to be tried with other settings."""

    request: WorkingDayRequest
    plan: Plan
    air: Air
    spells: tuple[tuple[Span, ...], ...] = ()
    _spent: int = 0
    _known: dict[Setup, Outcome] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.spells = tuple(tuple(merged(group.spells())) for group in self.plan.groups)

    @cached_property
    def asked(self) -> Setup:
        """The settings that the request asks for."""
        request = self.request
        own = [group.day.gate_delay if group.day is not None else None for group in self.plan.groups]
        delays = tuple(ticks(request.gate_delay if delay is None else delay) for delay in own)
        rules = Settings(
            fan_delay=ticks(request.fan_delay),
            minimum_run=ticks(request.minimum_run),
            rest=ticks(request.rest),
            held=self.plan.held,
            always_open=self.air.way_open(),
        )
        return Setup(delays, rules)

    def run(self, setup: Setup) -> Outcome:
        """Return the day with these settings.

        Raises:
            SpentError: after too many trials for a day of so many spells.
        """
        deadline.check()
        if setup not in self._known:
            self._spent += max(1, sum(map(len, self.spells)))
            if self._known and self._spent > SPELLS_TRIED:
                raise SpentError
            machines = [
                Machine(spans, delay, group.moves)
                for spans, delay, group in zip(self.spells, setup.gate_delays, self.plan.groups, strict=True)
            ]
            day = follow(machines, setup.rules, ticks(self.request.duration))
            for stale in [known for known in self._known if known != self.asked]:
                del self._known[stale]  # whole days are large; only the last trial is looked at twice
            self._known[setup] = Outcome(day, self.air, self.spells)
        return self._known[setup]

    def with_delays(self, *, group: int | None = None, gate: int | None = None, fan: int | None = None) -> Setup:
        """Return the asked settings with a gate's or the fan's delay raised to whole seconds."""
        delays = list(self.asked.gate_delays)
        if group is not None and gate is not None:
            delays[group] = max(delays[group], gate * TICKS)
        rules = self.asked.rules
        if fan is not None:
            rules = replace(rules, fan_delay=max(rules.fan_delay, fan * TICKS))
        return Setup(tuple(delays), rules)

    def with_rest(self, rest: int) -> Setup:
        """Return the asked settings with another rest, in ticks."""
        return replace(self.asked, rules=replace(self.asked.rules, rest=rest))
