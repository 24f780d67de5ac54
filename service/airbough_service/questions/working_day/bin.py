"""Chips of the day and the bin, from the caller's volumes and densities alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from airbough.wire.answer import (
    Change,
    Finding,
    Suggestion,
)
from airbough_service.core.day.chips import full_at
from airbough_service.core.limits import above
from airbough_service.questions.working_day.findings import at
from airbough_service.questions.working_day.plan import (
    TICKS,
    loose_volume,
)
from airbough_service.questions.working_day.trial import Trials
from airbough_service.terms import units
from airbough_service.terms.finding import (
    finding,
    show,
)

HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Heap:
    """The chips of the day, as they lie in the bin.

    Attributes:
        volumes: of each machine, m3; None where the caller gives no `chips`.
        total: m3; None where no machine gives any.
        full_at: when the bin is full, s; None: not in this day, or no bin.
        left: room left at the end, m3; None without a bin.
        needed: bin that would hold all, m3.
    """

    volumes: tuple[float | None, ...]
    total: float | None
    full_at: float | None = None
    left: float | None = None
    needed: float = 0.0


def heap(trials: Trials) -> Heap:
    """Return the chips of the day; each machine makes them evenly while it is on, fan or no fan."""
    rates: list[float | None] = [
        None if group.day is None or group.day.chips is None else loose_volume(group.day.chips) / HOUR
        for group in trials.plan.groups
    ]
    spells = [[(on / TICKS, off / TICKS) for on, off in own] for own in trials.spells]
    on = [sum(end - start for start, end in own) / TICKS for own in trials.spells]
    volumes = tuple(None if rate is None else rate * time for rate, time in zip(rates, on, strict=True))
    known = [volume for volume in volumes if volume is not None]
    total, bin_ = (sum(known) if known else None), trials.request.bin
    if bin_ is None or total is None:
        return Heap(volumes, total)
    room = float(bin_.volume) - float(bin_.filled or 0.0)
    full = full_at([rate or 0.0 for rate in rates], spells, room)
    return Heap(volumes, total, full, max(room - total, 0.0), float(bin_.filled or 0.0) + total)


def findings(trials: Trials, chips: Heap) -> Iterator[Finding]:
    """Yield the finding of a bin that is full within the day."""
    bin_, preset = trials.request.bin, trials.request.units
    if bin_ is None or chips.full_at is None or not above(chips.needed, float(bin_.volume)):
        return
    needed = units.value("volume", chips.needed, preset)
    when = at(round(chips.full_at * TICKS))
    yield finding(
        preset,
        "bin-full",
        f"the bin is full at {when}; the day makes {show(preset, 'volume', chips.total or 0.0)}",
        at="bin.volume",
        quantity="volume",
        kind="volume",
        value=float(bin_.volume),
        minimum=chips.needed,
        suggestion=Suggestion(
            text=f"empty it before {when}; a bin that holds {show(preset, 'volume', chips.needed)} lasts the day",
            changes=(Change(path="bin.volume", value=needed),),
            gain={"bin_left": 0.0},
        ),
    )
