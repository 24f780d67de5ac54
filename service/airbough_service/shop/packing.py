"""A shop's runs as rows of the packed tree: losses by part, gates, the inlet chamber and the discharge behind it."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any, Final

from msgspec import Struct

from airbough.wire.air import AirResult
from airbough.wire.tree import (
    Gate,
    Run,
    Tree,
)
from airbough_service import catalogue
from airbough_service.core.laws.friction import power_law_terms
from airbough_service.core.network import (
    columns,
    tree,
)
from airbough_service.core.network.parted_runs import Part, PartedRuns
from airbough_service.core.network.tree import (
    Arm,
    dynamic,
    pack,
)
from airbough_service.shop.opening import is_shut, passing
from airbough_service.shop.pieces import (
    DuctPart,
    Pieces,
    Wall,
    length_of,
)
from airbough_service.shop.run_leaks import Leaking
from airbough_service.shop.topology import Topology

_MOST_SHARES: Final = 1024  # openings of gates of which it is remembered what they lose
LAWS = dict.fromkeys(catalogue.EDITIONS, columns.FLOW_RATIO) | {"entry-angle": columns.ENTRY, "none": columns.MEET}


class ShopRun(Struct, frozen=True):
    """One run of the document, in SI.

    Attributes:
        index: its number in the document.
        run: as asked, in SI.
        start: bore at its upstream end, m.
        end: bore at its downstream end, m.
        wall: roughness and its origin.
        pieces: its losses.
        arm: how it enters its junction.
        dust: the dust words that reach it, from the hoods.
        parts: its lengths of duct, one for each bore.
        resistance: (a, exponent) of the loss inside the machine, a * flow^exponent in the tree's air; None without.
    """

    index: int
    run: Run
    start: float
    end: float
    wall: Wall
    pieces: Pieces
    arm: Arm
    dust: tuple[str, ...]
    parts: tuple[DuctPart, ...]
    resistance: tuple[float, float] | None

    @property
    def id(self) -> str:
        """The caller's id."""
        return self.run.id

    def at(self, path: str) -> str:
        """Return the path in the document of what stands at a path within the run."""
        return f"runs[{self.index}].{path}"

    @property
    def length(self) -> float:
        """Length of its duct, m."""
        return length_of(self.run)

    @property
    def widest(self) -> DuctPart:
        """The part of its duct where air is slowest; what the run tells of its velocity is told of it."""
        return self.parts[0] if len(self.parts) == 1 else max(self.parts, key=lambda part: part.bore)

    @property
    def narrowest(self) -> DuctPart:
        """The part of its duct where air is fastest."""
        return self.parts[0] if len(self.parts) == 1 else min(self.parts, key=lambda part: part.bore)


class Discharge(Struct, frozen=True):
    """One piece of duct after the fan; `bore` is that of its length."""

    start: float
    bore: float
    end: float
    length: float
    wall: Wall
    pieces: Pieces


def gate_quadratic(run: ShopRun, density: float, opening: float | None = None) -> float:
    """Return a run's gate coefficient, Pa per (m3/s)^2; infinite when shut, 0 without a gate."""
    gate = run.run.gate
    return 0.0 if gate is None else gate_share(gate, opening) * dynamic(density, run.start)


def gate_share(gate: Gate, opening: float | None = None) -> float:
    """Return what a gate loses at an opening, its own where none is given, as its coefficient; infinite when shut."""
    share = passing(gate, opening)
    if not gate.known:
        return _catalogued(share)
    return math.inf if is_shut(share) else gate_coefficient(gate, share)


@lru_cache(_MOST_SHARES)
def _catalogued(share: float) -> float:
    """Return `gate_share` of a gate of which the caller knows no coefficient, open so far."""
    return math.inf if is_shut(share) else catalogue.gate_loss(share).coefficient


def gate_coefficient(gate: Gate, share: float) -> float:
    """Return a gate's coefficient at an opening: the caller's own where one is known there, else the catalogue's."""
    for point in reversed(gate.known):  # of two at one opening the later one counts
        if float(point.opening) == share:
            return point.coefficient
    return catalogue.gate_loss(share).coefficient


def pack_shop(
    request: Tree,
    air: AirResult,
    shape: Topology,
    runs: tuple[ShopRun, ...],
    discharge: tuple[Discharge, ...],
    leaking: Leaking,
) -> tuple[tree.Tree, PartedRuns | None]:
    """Pack runs, the inlet chamber where several enter, the discharge and the leaks."""
    density, viscosity, law = float(air.density), float(air.viscosity), LAWS[request.model.junctions]
    parts = {run.index: packed_parts(request, run, density) for run in runs if len(run.parts) > 1}
    if len(shape.roots) == 1 and not (discharge or parts or leaking.any):
        fields = [row_of(request, run, parent, density) for run, parent in zip(runs, shape.parents, strict=True)]
        return pack(fields, density, viscosity, law), None
    rows = [packed(request, run, parent, density) for run, parent in zip(runs, shape.parents, strict=True)]
    if len(shape.roots) > 1 or discharge:
        rows = behind_inlet(request, rows, shape, discharge, density)
    parted = leaking.parted(rows, parts) if leaking.any or parts else None
    return pack(rows if parted is None else parted.runs, density, viscosity, law), parted


def inlet_loss(shape: Topology, index: int, density: float, end: float) -> float:
    """Return what a run that ends with a bore [m] loses in the collector's inlet chamber, Pa per (m3/s)^2.

    Where several runs enter it, each loses its velocity pressure; else, and for other runs, 0.
    """
    return dynamic(density, end) if shape.parents[index] < 0 and len(shape.roots) > 1 else 0.0


def behind_inlet(
    request: Tree,
    rows: list[tree.Run],
    shape: Topology,
    discharge: tuple[Discharge, ...],
    density: float,
) -> list[tree.Run]:
    """Add the inlet chamber and the discharge behind the runs that end at the collector."""
    first = len(rows)
    widest = max(rows[root].end for root in shape.roots)
    for root in shape.roots:
        lost = inlet_loss(shape, root, density, rows[root].end)
        rows[root] = rows[root]._replace(parent=first, change=rows[root].change + lost)
    behind = [
        tree.Run(
            parent=-1,
            start=piece.start,
            end=piece.end,
            length=_stretched(piece.length, piece.wall),
            roughness=piece.wall.roughness,
            fittings=sums(piece.pieces, density)[2],
            power_law=_power_law(request, piece.wall, piece.bore, _stretched(piece.length, piece.wall), density),
            bore=piece.bore,
        )
        for piece in discharge
    ]
    chamber = tree.Run(parent=-1, start=widest, end=widest, length=0.0, roughness=0.0, law=columns.MEET)
    chain = [chamber, *behind]
    return rows + [run._replace(parent=first + k + 1 if k + 1 < len(chain) else -1) for k, run in enumerate(chain)]


def sums(parts: Pieces, density: float) -> tuple[float, float, float, float]:
    """Return the quadratic coefficients of entry, port, fittings and change of these losses, Pa per (m3/s)^2."""
    return tree.sums(parts.together.terms, density)


def _stretched(length: float, wall: Wall) -> float:
    """Return a length times the factor on its friction, m."""
    return length * wall.multiplier


def packed(request: Tree, run: ShopRun, parent: int, density: float) -> tree.Run:
    """Return a run for packing, what its pieces lose summed up."""
    own = tree.Run(*row_of(request, run, parent, density))
    entry, port, fittings, change = tree.sums(own.terms, density)
    return own._replace(entry=entry, port=port, fittings=fittings, change=change, terms=b"")


def row_of(request: Tree, run: ShopRun, parent: int, density: float) -> tuple[Any, ...]:
    """Return a run for packing, as the fields of `tree.Run`; what its pieces lose stands among its terms."""
    alone = len(run.parts) == 1
    along = run.parts[0] if alone else run.widest
    length, power_law = (along.length if alone else run.length), None
    if request.model.friction == "power-law":
        length, power_law = friction_of(request, run, length, density)
    else:
        length *= run.wall.multiplier
    return (
        parent, run.start, run.end, length, run.wall.roughness, 0.0, 0.0, 0.0, 0.0, power_law, run.resistance,
        0.0 if run.run.gate is None else gate_quadratic(run, density), run.arm, None, along.bore,
        run.pieces.together.terms,
    )  # fmt: skip


def friction_of(request: Tree, run: ShopRun, length: float, density: float) -> tuple[float, tuple[float, float] | None]:
    """Return what a run of one bore rubs by with so much duct: that length with its multiplier, and its power law."""
    stretched = length * run.wall.multiplier
    if request.model.friction != "power-law":
        return stretched, None
    return stretched, _power_law(request, run.wall, run.widest.bore, stretched, density)


def packed_parts(request: Tree, run: ShopRun, density: float) -> tuple[Part, ...]:
    """Return the parts of a run whose bore changes between lengths of duct."""
    lengths = [_stretched(part.length, run.wall) for part in run.parts]
    return tuple(
        Part(
            part.bore,
            lengths[number],
            _power_law(request, run.wall, part.bore, lengths[number], density),
            sums(Pieces(piece for piece in run.pieces if piece.duct_part == number), density)[2],
        )
        for number, part in enumerate(run.parts)
    )


def _power_law(request: Tree, wall: Wall, bore: float, length: float, density: float) -> tuple[float, float] | None:
    """Return (a, exponent) of the power-law friction of the velocity-pressure method: a * flow^exponent in Pa."""
    if request.model.friction != "power-law" or wall.power_law is None or length == 0.0:
        return None
    return power_law_terms(bore, length, wall.power_law, density)
