"""Which hoods and gates belong to which machine, and whether the day asked for can be one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from airbough.wire.problem import Fault
from airbough.wire.working_day import (
    MOST_EVENTS,
    Chips,
    MachineDay,
    WorkingDayRequest,
)
from airbough_service.core.day.working_day import Span
from airbough_service.shop.gates import Openings
from airbough_service.shop.machines import Machine
from airbough_service.shop.opening import SMALLEST_OPENING, is_shut
from airbough_service.shop.shop import Shop
from airbough_service.terms.refusal import Refusal

TICKS = 1_000_000_000
"""Ticks in a second: the core counts whole nanoseconds, so that 0.1 + 0.2 is 0.3."""


@dataclass(slots=True)
class Group:
    """A machine in its day.

    Attributes:
        machine: its hoods and gates.
        row: its number in the request's `machines`; None where it is not named.
        day: its row of the request.
        always_open: whether its gates stand open all day.
    """

    machine: Machine
    row: int | None = None
    day: MachineDay | None = None
    always_open: bool = False

    @property
    def name(self) -> str:
        """Its `machine_id`, or the id of its hood's run."""
        return self.machine.name

    @property
    def hoods(self) -> tuple[int, ...]:
        """Runs at whose hoods it stands, by number."""
        return self.machine.hoods

    @property
    def gates(self) -> tuple[int, ...]:
        """Runs whose gates move with it, by number."""
        return self.machine.gates

    @property
    def moves(self) -> bool:
        """Whether it has gates that open and shut."""
        return bool(self.gates) and not self.always_open

    def openings(self, wide: Openings) -> Openings:
        """Return the openings of its gates when open; `wide`: those of the document, full where it shuts them."""
        own = None if self.day is None or self.day.opening is None else float(self.day.opening)
        return {gate: wide[gate] if own is None else own for gate in self.gates}

    def spells(self) -> tuple[Span, ...]:
        """Return when it is on, in ticks and in order."""
        times = () if self.day is None else self.day.times
        return tuple(sorted((ticks(spell.on), ticks(spell.off)) for spell in times))


@dataclass(frozen=True, slots=True)
class Plan:
    """The day asked for.

    Attributes:
        groups: machines in order of name, whatever the order of the rows.
        held: number of the machine whose gates are held open.
    """

    groups: tuple[Group, ...]
    held: int | None


def ticks(seconds: float | str) -> int:
    """Return seconds as whole ticks."""
    return round(float(seconds) * TICKS)


def plan(shop: Shop, request: WorkingDayRequest) -> Plan:
    """Return who is who in the day.

    Raises:
        Refusal: with every fault of names, times and settings.
    """
    groups = [Group(machine) for machine in shop.machines.each]
    faults = [*_settings(request), *_named(shop, request, groups), *_bin(request)]
    held = None if request.held_gate is None else _gated(shop, request.held_gate, "held_gate", groups, faults)
    for index, name in enumerate(request.always_open):
        group = _gated(shop, name, f"always_open[{index}]", groups, faults)
        if group is not None:
            group.always_open = True
    if held is not None and held.always_open:
        faults.append(Fault(path="held_gate", code="always-open", detail=f"{held.name!r} stands open all day"))
    if faults:
        raise Refusal("not-a-duct-tree", faults)
    ordered = sorted(groups, key=lambda group: (group.name, group.hoods))
    return Plan(tuple(ordered), next((index for index, group in enumerate(ordered) if group is held), None))


def _group(shop: Shop, word: str, path: str, groups: list[Group], faults: list[Fault]) -> Group | None:
    """Return the machine that a word names, or note that it names none."""
    machine = shop.machines.named(word, path, faults)
    return None if machine is None else groups[shop.machines.words[word]]


def _gated(shop: Shop, word: str, path: str, groups: list[Group], faults: list[Fault]) -> Group | None:
    """Return the machine with gates that a word names, or note that it has none."""
    group = _group(shop, word, path, groups, faults)
    if group is not None and not group.gates:
        faults.append(Fault(path=path, code="no-gate", detail=f"{word!r} has no gate"))
    return group


def _named(shop: Shop, request: WorkingDayRequest, groups: list[Group]) -> Iterator[Fault]:
    """Tie the rows of `machines` to their groups; yield what is wrong with them."""
    events = 2 * sum(len(day.times) for day in request.machines)
    if events > MOST_EVENTS:
        yield Fault(path="machines", code="too-many-events", detail=f"{events} on and off times; {MOST_EVENTS} at most")
        return
    for index, day in enumerate(request.machines):
        path = f"machines[{index}]"
        faults: list[Fault] = []
        group = _group(shop, day.machine, f"{path}.machine", groups, faults)
        yield from faults
        if group is not None and group.row is not None:
            detail = f"this machine already stands at machines[{group.row}]"
            yield Fault(path=f"{path}.machine", code="duplicate-machine", detail=detail)
        elif group is not None:
            group.row, group.day = index, day
        yield from _times(day, path, float(request.duration))
        if day.opening is not None and (is_shut(float(day.opening)) or float(day.opening) > 1.0):
            yield Fault(path=f"{path}.opening", code="outside-range", detail=f"{SMALLEST_OPENING:g} to 1")
        if day.chips is not None:
            yield from _chips(day.chips, f"{path}.chips")


def _times(day: MachineDay, path: str, duration: float) -> Iterator[Fault]:
    """Yield a fault for each time outside the day, each spell without length, and each overlap."""
    sound = []
    for index, spell in enumerate(day.times):
        at = f"{path}.times[{index}]"
        outside = [name for name, time in (("on", spell.on), ("off", spell.off)) if not 0.0 <= float(time) <= duration]
        allowed = f"0 to {duration:g} s, the `duration`, which counts from 0:00"
        for name in outside:
            yield Fault(path=f"{at}.{name}", code="outside-day", detail=allowed)
        if outside:
            continue
        if ticks(spell.off) <= ticks(spell.on):
            yield Fault(path=f"{at}.off", code="off-not-after-on", detail="off comes after on")
        else:
            sound.append((ticks(spell.on), ticks(spell.off), index))
    sound.sort()
    reach = (0, -1)
    for on, off, index in sound:
        if on < reach[0]:
            later, earlier = max(reach[1], index), min(reach[1], index)
            detail = f"the machine is already on by times[{earlier}]"
            yield Fault(path=f"{path}.times[{later}].on", code="overlap", detail=detail)
        reach = max(reach, (off, index))


def _settings(request: WorkingDayRequest) -> Iterator[Fault]:
    """Yield the faults of the settings of all."""
    price = request.price_per_kwh
    if price is not None and not (math.isfinite(price) and price >= 0.0):
        yield Fault(path="price_per_kwh", code="outside-range", detail="0 or more")


def _chips(chips: Chips, path: str) -> Iterator[Fault]:
    """Yield a fault where the volume of chips does not follow from what is given."""
    solid = {"wood_volume_per_hour": chips.wood_volume_per_hour, "wood_density": chips.wood_density}
    if chips.loose_volume_per_hour is not None:
        for name in (name for name, value in solid.items() if value is not None):
            detail = "`loose_volume_per_hour` is given already"
            yield Fault(path=f"{path}.{name}", code="given-twice", detail=detail)
        return
    for name, value in {**solid, "bulk_density": chips.bulk_density}.items():
        if value is None:
            detail = "give `loose_volume_per_hour`, or `wood_volume_per_hour`, `wood_density` and `bulk_density`"
            yield Fault(path=f"{path}.{name}", code="parameter-missing", detail=detail)


def _bin(request: WorkingDayRequest) -> Iterator[Fault]:
    """Yield the faults of the bin."""
    if request.bin is None:
        return
    if all(day.chips is None for day in request.machines):
        yield Fault(path="machines", code="chips-missing", detail="a bin needs `chips` of at least one machine")
    if float(request.bin.volume) <= 0.0:
        yield Fault(path="bin.volume", code="outside-range", detail="above 0")
    elif request.bin.filled is not None and float(request.bin.filled) > float(request.bin.volume):
        yield Fault(path="bin.filled", code="outside-range", detail="at most the bin's volume")


def loose_volume(chips: Chips) -> float:
    """Return the loose volume an hour, m3."""
    if chips.loose_volume_per_hour is not None:
        return float(chips.loose_volume_per_hour)
    assert chips.wood_volume_per_hour is not None
    assert chips.wood_density is not None
    assert chips.bulk_density is not None
    return float(chips.wood_volume_per_hour) * float(chips.wood_density) / float(chips.bulk_density)
