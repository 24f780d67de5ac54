"""What stays in the duct, from when on, and which later state of the day carries it out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from airbough_service.core.day.chips import Cause
from airbough_service.core.day.working_day import State
from airbough_service.questions.working_day.flows import Open
from airbough_service.questions.working_day.plan import TICKS
from airbough_service.questions.working_day.trial import (
    Last,
    Outcome,
    Settled,
)

MOST_LEFT: Final = 100  # rows told; for each the rest of the day is looked through


@dataclass
class Lying:
    """Chips of one hood that lie in one run, for one cause in one state.

    Attributes:
        outcome: the day.
        group, hood: where they come from.
        place: in the hood's path.
        cause: what left them.
        opened: what stood open then.
        times: first and last time, s.
        count: how often.
        rest: share of the run that the last of them had still to pass.
        number: state from which on they may be carried.
    """

    outcome: Outcome
    group: int
    hood: int
    place: int
    cause: Cause
    opened: Open
    times: tuple[float, float]
    count: int
    rest: float
    number: int

    @property
    def run(self) -> int:
        """The run in which they lie, by number."""
        return self.outcome.air.path(self.hood)[self.place]

    @cached_property
    def carried(self) -> tuple[float, State] | None:
        """When the last of them are carried out, s, and the state that does it; None: not in this day."""
        return self.outcome.carried(self.hood, self.place, self.rest, self.number)


def lying(outcome: Outcome, group: int) -> list[Lying]:
    """Return what stays in the duct of one machine's chips, in order of time."""
    found = [*_of_lasts(outcome, outcome.stranded(group)), *_of_settled(outcome, outcome.settled(group))]
    return sorted(found, key=lambda one: (one.times, one.hood, one.place))


def _of_lasts(outcome: Outcome, lasts: list[Last]) -> Iterator[Lying]:
    """Yield the last chips of spells, those alike together."""
    alike: dict[tuple[int, int, Cause, Open], list[Last]] = {}
    states = outcome.day.states
    for last in lasts:
        if last.in_work and last.slow:
            continue  # they lie with what was cut before them
        number = min(last.journey.number, len(states) - 1)
        assert last.journey.cause is not None
        key = (last.hood, last.journey.place, last.journey.cause, states[number].open)
        alike.setdefault(key, []).append(last)
    for (hood, place, cause, opened), own in alike.items():
        final = own[-1].journey
        times = (own[0].journey.time, final.time)
        yield Lying(outcome, own[0].group, hood, place, cause, opened, times, len(own), final.rest, final.number)


def _of_settled(outcome: Outcome, settled: list[Settled]) -> Iterator[Lying]:
    """Yield what lies down while its machine works."""
    states = outcome.day.states
    for one in settled:
        times = (states[one.numbers[0]].start / TICKS, states[one.numbers[-1]].start / TICKS)
        yield Lying(
            outcome,
            one.group,
            one.hood,
            one.place,
            "too-slow",
            one.opened,
            times,
            len(one.numbers),
            1.0,
            one.numbers[-1] + 1,
        )
