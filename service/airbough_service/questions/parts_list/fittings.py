"""The pieces that a tree's fittings, gates, changes of size and junctions need, in the direction of flow."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from airbough.wire.fitting import (
    AbruptChange,
    DischargeFitting,
    Elbow,
    ElbowPair,
    KnownCoefficient,
    Offset,
    SlideGateFitting,
    Taper,
    TeeAsElbow,
)
from airbough.wire.tree import (
    Branch,
    Run,
    Straight,
)
from airbough_service.questions.parts_list.parts import (
    ALIKE,
    Need,
    Part,
    Spot,
)
from airbough_service.shop.pieces import (
    tag,
)
from airbough_service.shop.shop import Shop
from airbough_service.shop.stock import SQUARE


def straight_arm(shop: Shop, index: int) -> int | None:
    """Return the number of the run that flows straight into this one; None where none or several do."""
    arms = [arm for arm in shop.shape.children[index] if not isinstance(shop.runs[arm].run.join, Branch)]
    return arms[0] if len(arms) == 1 else None


def junction_need(shop: Shop, index: int, *, reducing: bool = False) -> Need | None:
    """Return the piece in which runs meet to flow into this one; None where fewer than two do.

    `reducing`: its straight inlet is as wide as the straight run, which then needs no change of size of its own.
    """
    arms = shop.shape.children[index]
    if len(arms) < 2:
        return None
    into = shop.runs[index].start
    duct = shop.runs[index].wall.duct
    word = None if duct is None or duct.kind == "hose" else duct.id
    joins = [(shop.runs[arm], shop.runs[arm].run.join) for arm in arms]
    straights = [run for run, join in joins if not isinstance(join, Branch)]
    branches = [(run.end, float(join.angle)) for run, join in joins if isinstance(join, Branch)]
    angle = branches[0][1] if branches else None
    bores = tuple(sorted((end for end, _ in branches), reverse=True))
    first = straights[0].end if reducing and len(straights) == 1 else into
    if len(straights) == 1 and len(branches) == 1:
        return Need("wye" if branches[0][1] < SQUARE else "tee", (first, *bores, into), angle, duct=word)
    if len(straights) == 1 and len(branches) == 2:
        return Need("double-wye", (first, *bores, into), angle, duct=word)
    if not straights and len(branches) == 2 and abs(branches[0][1] - branches[1][1]) <= ALIKE:
        return Need("symmetrical-wye", (*bores, into), angle, duct=word)
    return Need("manifold", (*(run.end for run, _ in joins), into), angle, duct=word)


def at_hood(spot: Spot, run: Run, bore: float) -> Iterator[Part]:
    """Give the piece that changes size from the machine's port to the run."""
    if run.hood is None or run.hood.port_diameter is None:
        return
    port = float(run.hood.port_diameter)
    if abs(port - bore) > ALIKE * bore:
        need = Need("port-adapter", (port, bore), duct=spot.word)
        yield spot.part(need, f"{spot.at}.hood.port_diameter", port, bore)


def gate_of(spot: Spot, run: Run, bore: float) -> Iterator[Part]:
    """Give the run's own gate."""
    if run.gate is not None:
        yield spot.part(Need("gate", (bore,)), f"{spot.at}.gate", bore, bore)


def into_parent(shop: Shop, spot: Spot, index: int, reducing: frozenset[int]) -> Iterator[Part]:
    """Give the change of size of a straight run at its end.

    A manifold is made to the bores that meet in it, and so is a wye into one of the runs named `reducing`.
    """
    parent = shop.shape.parents[index]
    join = shop.runs[index].run.join
    if parent < 0 or isinstance(join, Branch) or parent in reducing:
        return
    need = junction_need(shop, parent)
    if need is not None and need.type == "manifold":
        return
    length = float(join.taper_length) if isinstance(join, Straight) and join.taper_length is not None else None
    yield from change(spot, f"{spot.at}.join", shop.runs[index].end, shop.runs[parent].start, length)


def change(spot: Spot, at: str, before: float, after: float, length: float | None) -> Iterator[Part]:
    """Give the piece between two bores [m]: a taper where a length is told, an abrupt change else."""
    if abs(before - after) > ALIKE * after:
        yield spot.part(change_need(before, after, length, spot.word), at, before, after)


def change_need(before: float, after: float, length: float | None, duct: str | None) -> Need:
    """Return the piece between two bores [m]: a taper where a length is told, an abrupt change else."""
    return Need("taper" if length else "abrupt-change", (before, after), duct=duct, length=length or None)


def fittings_of(
    spot: Spot, fittings: tuple[DischargeFitting, ...], path: str, bore: float
) -> Iterator[tuple[Part, ...]]:
    """Give, for each fitting of the document, its parts in the direction of flow."""
    for number, fitting in enumerate(fittings):
        at = f"{path}.fittings[{number}]"
        parts = tuple(_fitting(spot, fitting, at, bore))
        bore = parts[-1].downstream_bore if parts else bore
        yield parts


def _fitting(spot: Spot, fitting: DischargeFitting, at: str, bore: float) -> Iterator[Part]:
    if isinstance(fitting, Taper):
        after = float(fitting.downstream_diameter)
        need = Need("taper", (bore, after), duct=spot.word, length=float(fitting.length))
        yield spot.part(need, at, bore, after)
    elif isinstance(fitting, AbruptChange):
        after = float(fitting.downstream_diameter)
        yield spot.part(Need("abrupt-change", (bore, after), duct=spot.word), at, bore, after)
    elif isinstance(fitting, Elbow | ElbowPair | Offset):
        yield from _elbows(spot, fitting, at, bore)
    elif isinstance(fitting, TeeAsElbow):
        for _ in range(fitting.count):
            yield spot.part(Need("tee", (bore, bore, bore), 90.0, duct=spot.word), at, bore, bore)
            yield Part(Need("cap", (bore,), duct=spot.word), at, spot.id, bore, bore, loose=True)
    elif isinstance(fitting, SlideGateFitting):
        yield spot.part(Need("gate", (bore,)), at, bore, bore)
    elif isinstance(fitting, KnownCoefficient):
        for _ in range(fitting.count):
            yield spot.part(Need("other", (bore,), duct=spot.word), at, bore, bore)
    elif tag(fitting) in ("stack-head", "weather-cap"):
        yield spot.part(Need(tag(fitting), (bore,), duct=spot.word), at, bore, bore)


def _elbows(spot: Spot, fitting: Elbow | ElbowPair | Offset, at: str, bore: float) -> Iterator[Part]:
    """Give elbows; a pair turns by half of its angle in each, and the spacer between two is duct of the run."""
    whole = float(fitting.angle)
    angle = whole / 2 if isinstance(fitting, ElbowPair) else whole
    ratio = None if fitting.radius_ratio is None else float(fitting.radius_ratio)
    elbow = Need("elbow", (bore,), angle, ratio, fitting.construction, spot.word)
    for _ in range(fitting.count):
        yield spot.part(elbow, at, bore, bore)
        if not isinstance(fitting, Elbow):
            spacer = float(fitting.spacer_ratio) * bore
            if spacer > 0.0:
                yield spot.straight(spacer, bore)
            yield replace(spot.part(elbow, at, bore, bore), paired=True)


def centreline_length(need: Need, own: float | None) -> float | None:
    """Return what a fitting takes of its run's centreline, m: its own length, else what geometry tells."""
    if own is not None:
        return own
    if need.type == "elbow" and need.angle is not None and need.radius_ratio is not None:
        return math.radians(need.angle) * need.radius_ratio * need.bores[0]
    if need.type in ("abrupt-change", "cap"):
        return 0.0
    return need.length
