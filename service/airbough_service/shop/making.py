"""A run as it is made: its wall, its bores and its losses. Runs that are made alike are worked out once."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final

from msgspec import Struct

from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.tree import Run
from airbough_service.core import deadline
from airbough_service.shop import pieces
from airbough_service.shop.pieces import (
    CHANGES,
    DuctPart,
    Found,
    Making,
    Pieces,
    Wall,
    length_of,
)

_CHANGES: Final = frozenset[type](CHANGES)
_NO_HOOD: Final = (False, None, None, None)
_MOST_KEPT: Final = 2048  # runs that are remembered,
_MOST_FITTINGS: Final = 12  # with no more fittings than these


class Made(Struct, frozen=True):
    """A run as it is made, whatever flows and wherever it ends.

    Attributes:
        start: bore at its upstream end, m.
        end: bore at its downstream end, m.
        wall: roughness and its origin.
        pieces: its losses, but for those of its junction.
        parts: its lengths of duct where its bore changes; None where it does not.
        faults: what is wrong with it, with paths within the run.
    """

    start: float
    end: float
    wall: Wall
    pieces: Pieces
    parts: tuple[DuctPart, ...] | None
    faults: tuple[Fault, ...]

    def along(self, run: Run) -> tuple[DuctPart, ...]:
        """Return the lengths of duct of a run that is made so."""
        return (DuctPart(self.start, length_of(run), "diameter"),) if self.parts is None else self.parts


def made(run: Run, preset: Preset) -> Made:
    """Return a run as it is made; `preset`: in which faults tell their limits."""
    length, hood, fittings = length_of(run), run.hood, run.fittings
    placed = bool(fittings) and not _CHANGES.isdisjoint(map(type, fittings))
    told = (
        run.diameter,
        length if placed else float(length > 0.0),
        run.duct,
        run.roughness,
        run.stretch,
        run.friction_multiplier,
        run.power_law,
        fittings,
        *(_NO_HOOD if hood is None else (True, hood.entry, hood.port_diameter, hood.port_coefficient)),
        preset,
    )
    return _kept(told) if len(fittings) <= _MOST_FITTINGS else _made(told)


def _made(told: tuple[Any, ...]) -> Made:
    """Return a run as it is made, from the fields of `Making`."""
    deadline.check()
    making = Making(*told)
    found, start = Found(preset=making.preset), float(making.diameter)
    along = pieces.course(found, making)
    wall = pieces.wall(found, making, along.parts[0].bore)
    if making.has_hood:
        pieces.hood(found, making, start)
    hose = wall.duct is not None and wall.duct.kind == "hose"
    end = pieces.fittings(found, making, along, hose=hose)
    if hose and len(along.parts) > 1:
        found.fault(along.parts[1].at, "change-inside-hose", "a hose has one bore; part it into two runs")
    parts = None if _CHANGES.isdisjoint(map(type, making.fittings)) else along.parts
    return Made(start, end, wall, Pieces(found.pieces), parts, tuple(found.faults))


_kept = lru_cache(_MOST_KEPT)(_made)
