"""A run in another bore: a change of size first or last in it keeps its far side and follows the duct's bore."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import count
from typing import Final, NamedTuple, TypeAlias

from msgspec import structs

from airbough.wire.fitting import AbruptChange, RunFitting, Taper
from airbough.wire.tree import Run, Straight
from airbough_service.shop.pieces import Found, course, length_of

Change: TypeAlias = Taper | AbruptChange
Lengths: TypeAlias = Mapping[int, float]
"""Of tapers, m, by their number among a run's fittings."""
ALIKE: Final = 1.0e-9  # share by which bores may differ and be one

MOST_OF_ID: Final = 64  # characters


class Ends(NamedTuple):
    """The changes of size next to a run's duct, by number among its fittings; None where there is none.

    Attributes:
        before: the last one upstream of the duct.
        after: the first one downstream of it.
    """

    before: int | None
    after: int | None


def changes(run: Run) -> list[int]:
    """Return the numbers of a run's fittings that change its bore."""
    return [number for number, fitting in enumerate(run.fittings) if isinstance(fitting, Change)]


def inside(run: Run) -> int | None:
    """Return the number of a change of size with duct on both sides, or in a run without length other fittings."""
    along = course(Found(), run)
    if len(along.parts) > 1:
        return along.begins[1] - 1
    if length_of(run) > 0.0:
        return None
    return next((number for number in changes(run) if 0 < number < len(run.fittings) - 1), None)


def ends(run: Run) -> Ends:
    """Return the changes of size next to the duct of a run that has none inside."""
    if not changes(run):
        return Ends(None, None)
    begins = course(Found(), run).begins[0] if length_of(run) > 0.0 else 1
    own = changes(run)
    return Ends(
        next((number for number in reversed(own) if number < begins), None),
        next((number for number in own if number >= begins), None),
    )


def next_to(run: Run, bore: float) -> dict[int, Change]:
    """Return the changes of size next to a run's duct in another bore, m, by their number."""
    before, after = ends(run)
    out: dict[int, Change] = {}
    if before is not None:
        out[before] = structs.replace(run.fittings[before], downstream_diameter=bore)  # type: ignore[assignment]
    if after is not None:
        out[after] = structs.replace(out.get(after, run.fittings[after]), upstream_diameter=bore)  # type: ignore[assignment]
    return out


def resized(run: Run, bore: float, lengths: Lengths) -> Run:
    """Return a run whose duct has another bore, m, and whose tapers next to it have these lengths, m."""
    changed = next_to(run, bore)
    fittings: list[RunFitting] = []
    for number, own in enumerate(run.fittings):
        fitting = changed.get(number, own)
        if number in lengths:
            fitting = structs.replace(fitting, length=lengths[number])
        if number not in changed or not alike(*sides(changed[number])):
            fittings.append(fitting)
    start = run.diameter if ends(run).before is not None else bore
    return structs.replace(run, diameter=start, fittings=tuple(fittings))


def ended(run: Run, end: float, bore: float, length: float | None) -> Run:
    """Return a run with a change of size at its end, from one bore to another, m, over a length, m, or abrupt.

    It says that all duct lies before it, as does a change that was last before: alone, or not last, neither is clear.
    """
    whole = length_of(run)
    at = whole if whole > 0.0 else None
    change: RunFitting = AbruptChange(upstream_diameter=end, downstream_diameter=bore, at=at)
    if length is not None:
        change = Taper(upstream_diameter=end, downstream_diameter=bore, length=length, at=at)
    own = list(run.fittings)
    if len(own) > 1 and isinstance(own[-1], Change) and own[-1].at is None:
        own[-1] = structs.replace(own[-1], at=at)
    return structs.replace(run, fittings=(*own, change))


def without_length(into: Run, name: str, bore: float, length: float | None = None) -> Run:
    """Return the run of no length between a wye of a bore, m, and a run; length: of the change of size after it, m."""
    return Run(
        id=name,
        into=into.id,
        diameter=bore,
        length=0.0,
        duct=into.duct,
        roughness=into.roughness,
        power_law=into.power_law,
        stretch=into.stretch,
        gauge=into.gauge,
        wall_thickness=into.wall_thickness,
        join=Straight(taper_length=length),
    )


def free_id(name: str, known: Collection[str]) -> str:
    """Return an id for the wye of a run, none of those known."""
    names = (f"{name[: MOST_OF_ID - len(end)]}{end}" for number in count(1) for end in [_ending(number)])
    return next(name for name in names if name not in known)


def _ending(number: int) -> str:
    return "-wye" if number == 1 else f"-wye-{number}"


def sides(change: Change) -> tuple[float, float]:
    """Return the bores before and after a change of size, m."""
    return float(change.upstream_diameter), float(change.downstream_diameter)


def alike(one: float, other: float) -> bool:
    """Return whether two bores are one."""
    return abs(one - other) <= ALIKE * max(one, other)
