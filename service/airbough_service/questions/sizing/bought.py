"""What is bought for a run by itself: duct, turns, gates, and the changes of size in it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from airbough.wire.fitting import (
    AbruptChange,
    Elbow,
    ElbowPair,
    Offset,
    SlideGateFitting,
    Taper,
    TeeAsElbow,
)
from airbough.wire.tree import Run
from airbough_service.questions.sizing.resized import Change, alike, next_to, sides
from airbough_service.questions.sizing.stock import (
    Kind,
    Part,
    Shelf,
    Sought,
    nanometres,
)
from airbough_service.shop import pieces
from airbough_service.shop.shop import ShopRun


def bought(run: ShopRun, shelf: Shelf, *, kept: bool) -> tuple[Part, ...] | None:
    """Return a run's own pieces, or None where the stock lacks one; a `kept` run has it all the same.

    Runs of the same lengths, bores and fittings are looked up once.
    """
    own, parts = run.run, tuple([(part.bore, part.length) for part in run.parts])
    stretch = pieces.stretch_of(run.wall, own)
    key = ("bought", own.duct, own.gate is None, own.fittings, run.start, parts, stretch, kept)
    if key not in shelf.joints:
        shelf.joints[key] = _bought(run, shelf, kept=kept)
    return shelf.joints[key]  # type: ignore[return-value]  # only this function fills it


def _bought(run: ShopRun, shelf: Shelf, *, kept: bool) -> tuple[Part, ...] | None:
    out: list[Part] = []
    for kind, part in _wanted(run, shelf, kept=kept):
        if part is None and not kept:
            return None
        out.append(Part(kind.kind, kind.count, length=kind.length) if part is None else part)
    return tuple(out)


def _wanted(run: ShopRun, shelf: Shelf, *, kept: bool) -> list[tuple[Part, Part | None]]:
    """Return each piece that a run needs, and what the stock has for it."""
    duct, bore = run.run.duct, run.start
    out: list[tuple[Part, Part | None]] = []
    for part in run.parts:
        length = bought_length(run, part.length)
        if length > 0.0:
            out.append(
                (Part(Kind("duct", (nanometres(part.bore),)), length=length), shelf.duct(duct, part.bore, length))
            )
    if run.run.gate is not None:
        out.append((Part(Kind("gate", (nanometres(bore),))), shelf.gate(bore)))
    for fitting in run.run.fittings:
        if isinstance(fitting, Taper | AbruptChange):
            wanted = Part(_asked(run.run, fitting).kind, fitting_length=_length(fitting))
            found = shelf.changes(_asked(run.run, fitting))
            fits = [part for part in found if kept or part.fitting_length == wanted.fitting_length]
            out.append((wanted, min(fits, key=lambda part: part.cost, default=None)))
            bore = sides(fitting)[1]
        elif isinstance(fitting, SlideGateFitting):
            out.append((Part(Kind("gate", (nanometres(bore),))), shelf.gate(bore)))
        elif isinstance(fitting, Elbow | ElbowPair | Offset | TeeAsElbow):
            for asked, count in _turn(fitting, bore, duct):
                out.append((Part(asked.kind, count), shelf.fitting(asked, count)))
    return out


def _turn(fitting: Elbow | ElbowPair | Offset | TeeAsElbow, bore: float, duct: str | None) -> list[tuple[Sought, int]]:
    """Return the pieces that make a turn and how many of each; pairs are two elbows, a tee has a cap."""
    size = nanometres(bore)
    if isinstance(fitting, TeeAsElbow):
        tee, cap = Kind("wye", (size, size, size), 90.0), Kind("cap", (size,))
        return [(Sought(kind, duct), fitting.count) for kind in (tee, cap)]
    angle, each = float(fitting.angle), 1 if isinstance(fitting, Elbow) else 2
    if isinstance(fitting, ElbowPair):
        angle /= 2.0
    asked = Sought(Kind("elbow", (size,), angle), duct, fitting.radius_ratio, fitting.construction)
    return [(asked, each * fitting.count)]


def taper_lengths(run: Run, bore: float, shelf: Shelf) -> Iterator[dict[int, float]]:
    """Give the lengths of the tapers next to a run's duct in a bore, m, by their number, in each way the stock has."""
    tapers = {
        number: change
        for number, change in next_to(run, bore).items()
        if isinstance(change, Taper) and not alike(*sides(change))
    }
    stocked = [[part.fitting_length or 0.0 for part in shelf.changes(_asked(run, taper))] for taper in tapers.values()]
    yield from (dict(zip(tapers, lengths, strict=True)) for lengths in product(*stocked))


def _asked(run: Run, change: Change) -> Sought:
    """Return what the stock is asked for a change of size."""
    upstream, downstream = sides(change)
    return Sought(Kind(pieces.tag(change), (nanometres(upstream), nanometres(downstream))), run.duct)


def _length(change: Change) -> float | None:
    """Return the length of a change of size, m; None where it is abrupt."""
    return float(change.length) if isinstance(change, Taper) else None


def bought_length(run: ShopRun, length: float) -> float:
    """Return the straight duct to buy for a length of a run, m; hose is sold at full stretch."""
    return length / pieces.stretch_of(run.wall, run.run)
