"""From ways to runs: where each is parted, what joins where, and the fittings between; SI."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, TypeAlias

from airbough_service.questions.outline.geometry import ALIKE
from airbough_service.questions.outline.ways import Spout, Way

MOST_OF_AN_ID: Final = 64
_BRANCHES: Final = 2  # that may join a straight run at one section

How: TypeAlias = Literal["collector", "branch", "pair", "straight", "alone"]


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part of a way between two places where something joins, or at one such place where much joins.

    Attributes:
        id: of its run.
        way: whose part it is.
        begin: its downstream end along the way, m.
        end: its upstream end, m.
        last: whether the way ends with it.
    """

    id: str
    way: Way
    begin: float
    end: float
    last: bool


@dataclass(frozen=True, slots=True, eq=False)
class Joining:
    """How something joins a part at its upstream end.

    Attributes:
        into: the part; None at the collector.
        how: at the collector, a branch into a straight run, one of a pair of equal branches, straight on, or alone.
    """

    into: Part | None
    how: How


@dataclass(slots=True)
class Plan:
    """The parts of all ways, in document order, and how each way, hose and part joins.

    Attributes:
        parts: by way.
        of_way: how the first part of a way joins.
        of_spout: how a hose joins.
        names: run ids that are taken.
    """

    parts: dict[Way, list[Part]] = field(default_factory=dict)
    of_way: dict[Way, Joining] = field(default_factory=dict)
    of_spout: dict[tuple[Way, int], Joining] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)

    def name(self, base: str, suffix: str, number: int = 2) -> str:
        """Return a run id that is free: `saw-hose`, else `saw-hose-2`; the base is cut where it would be too long."""
        tail = suffix
        name = base[: MOST_OF_AN_ID - len(tail)] + tail
        while name in self.names:
            tail = f"{suffix}-{number}" if not suffix[1:].isdigit() else f"-{number}"
            name, number = base[: MOST_OF_AN_ID - len(tail)] + tail, number + 1
        self.names.add(name)
        return name


def planned(ways: Sequence[Way]) -> Plan:
    """Return how the ways are parted; each way comes after what it joins."""
    plan = Plan(names={way.id for way in ways})
    for way in ways:
        if way.host is None:
            plan.of_way[way] = Joining(None, "collector")
        _part(plan, way)
    return plan


@dataclass(slots=True)
class _Parting:
    """Cuts one way from its downstream end up."""

    plan: Plan
    way: Way
    begun: float = 0.0

    def cut(self, end: float, *, last: bool = False) -> Part:
        """Return the part from the last cut to this one."""
        parts, name = self.plan.parts[self.way], self.way.id
        if parts:
            name = self.plan.name(name, f"-{len(parts) + 1}", len(parts) + 2)
        made = Part(name, self.way, self.begun, end, last)
        parts.append(made)
        self.begun = end
        return made

    def branches(self, at: float, guests: Sequence[Way], *, last: bool = False) -> Part:
        """Return the part into whose upstream end these branch off."""
        here = self.cut(at, last=last)
        self.plan.of_way |= {guest: Joining(here, "branch") for guest in guests}
        return here


def _part(plan: Plan, way: Way) -> None:
    """Part one way, and say how its guests and hoses join."""
    plan.parts[way] = []
    parting = _Parting(plan, way)
    groups = list(_groups(way))
    ending = groups.pop() if way.line and groups else (way.run.length, [])
    for at, guests in groups:
        for pair in _by_two(guests):
            parting.branches(at, pair)
    if way.line:
        _end_of_line(parting, *ending)
    else:
        _foot(parting)


def _groups(way: Way) -> Iterator[tuple[float, list[Way]]]:
    """Yield what joins a way, place by place up it, in document order."""
    left = sorted(way.guests, key=lambda guest: guest.at)
    while left:
        at = left[0].at
        yield at, [guest for guest in left if guest.at <= at + ALIKE]
        left = [guest for guest in left if guest.at > at + ALIKE]


def _by_two(guests: Sequence[Way]) -> Iterator[Sequence[Way]]:
    for number in range(0, len(guests), _BRANCHES):
        yield guests[number : number + _BRANCHES]


def _end_of_line(parting: _Parting, at: float, guests: list[Way]) -> None:
    """Say how what ends a line joins it: one goes on, a lone line among others goes straight, two make a wye."""
    plan, lines = parting.plan, [guest for guest in guests if guest.line]
    ending = [guest for guest in guests if not guest.line] + lines
    ahead = ending[-1:] if len(ending) == 1 or len(lines) == 1 else ending[-2:]
    chunks = list(_by_two(ending[: -len(ahead)]))
    straight = len(ahead) == 1 and bool(chunks)
    for pair in chunks[:-1] if straight else chunks:
        parting.branches(at, pair)
    here = parting.branches(at, chunks[-1] if straight else (), last=True)
    how: How = "straight" if straight else "alone" if len(ahead) == 1 else "pair"
    plan.of_way |= {guest: Joining(here, how) for guest in ahead}


def _foot(parting: _Parting) -> None:
    """Say how the hoses join the stiff duct of a machine: the widest port goes straight on, the others branch off."""
    plan, way, end = parting.plan, parting.way, parting.way.run.length
    numbers = range(len(way.spouts))
    widest = max(numbers, key=lambda number: (way.spouts[number].port or 0.0, -number))
    beside = [number for number in numbers if number != widest]
    chunks = [beside[first : first + _BRANCHES] for first in range(0, len(beside), _BRANCHES)] or [[]]
    for chunk in chunks:
        here = parting.cut(end, last=chunk is chunks[-1])
        plan.of_spout |= {(way, number): Joining(here, "branch") for number in chunk}
    plan.of_spout[way, widest] = Joining(here, "straight" if beside else "alone")


def hosed(way: Way) -> bool:
    """Return whether hoods of a machine stand at hoses; else its one port is at the end of its stiff duct."""
    return len(way.spouts) > 1 or way.spouts[0].hose > 0.0


def hose_name(plan: Plan, way: Way, spout: Spout) -> str:
    """Return a free run id for a hose, or for a port without one."""
    return plan.name(way.id, "-hose" if spout.hose > 0.0 else "-port")
