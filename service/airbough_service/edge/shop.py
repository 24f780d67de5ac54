"""The shop: a request's tree made ready for the solver, with every number's origin kept beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from airbough.wire.air import AirTold
from airbough.wire.collector import Collector, DischargePiece
from airbough.wire.problem import Fault
from airbough.wire.tree import Gate, Run, Tree
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.core import columns, deadline, tree
from airbough_service.core.friction import power_law_terms
from airbough_service.core.leakage import Leaks
from airbough_service.core.tree import Arm, dynamic, pack
from airbough_service.edge import fan_checks, joins, pieces
from airbough_service.edge.airs import air_of
from airbough_service.edge.leaks import Leaking
from airbough_service.edge.leaks import leaking as leaks_of
from airbough_service.edge.pieces import SMALLEST_OPENING, Found, Junction, Piece, Wall
from airbough_service.edge.refusal import Refusal
from airbough_service.edge.topology import Topology, examine

LAWS = {"flow-ratio": columns.MOMENTUM, "entry-angle": columns.ENTRY, "none": columns.MEET}
Factors = dict[str, float]


@dataclass(frozen=True, slots=True)
class ShopRun:
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
    """

    index: int
    run: Run
    start: float
    end: float
    wall: Wall
    pieces: tuple[Piece, ...]
    arm: Arm
    dust: tuple[str, ...]

    @property
    def id(self) -> str:
        """The caller's id."""
        return self.run.id


@dataclass(frozen=True, slots=True)
class Discharge:
    """One piece of duct after the fan."""

    start: float
    end: float
    length: float
    wall: Wall
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Shop:
    """A request's tree, ready to solve.

    Attributes:
        request: in SI.
        air: what the answer tells of it; density in kg/m3 and viscosity in Pa*s.
        shape: parents and children by number in the document.
        runs: in document order.
        discharge: pieces after the fan, in the direction of flow.
        junctions: what the junction laws rest on.
        tree: packed; row of run i is ``tree.place[i]``; the inlet chamber and the discharge have rows of their own.
        leaking: the runs' leaks by class.
        leaks: the packed runs with their leaks, None where none leaks.
    """

    request: Tree
    air: AirTold
    shape: Topology
    runs: tuple[ShopRun, ...]
    discharge: tuple[Discharge, ...]
    junctions: tuple[Junction, ...]
    tree: tree.Tree
    leaking: Leaking
    leaks: Leaks | None

    @property
    def density(self) -> float:
        """Density of the tree's air, kg/m3."""
        return float(self.air.density)

    def row(self, index: int) -> int:
        """Return the packed row of a run."""
        return int(self.tree.place[index])

    def gates(self, openings: dict[int, float] | None = None) -> NDArray[np.float64]:
        """Return every row's gate coefficient, Pa per (m3/s)^2, infinite where shut; shape (rows,).

        Args:
            openings: run number -> opening in place of the document's; leakage is heeded.
        """
        gate = self.tree.gate.copy()
        for index, opening in (openings or {}).items():
            gate[self.row(index)] = gate_quadratic(self.runs[index], self.density, opening)
        return gate

    def with_factors(self, factors: Factors) -> Shop:
        """Return the shop with every use of a catalogue entry multiplied by its factor (for uncertainty)."""
        packed, leaks = _pack(self.request, self.air, self.shape, self.runs, self.discharge, self.leaking, factors)
        return replace(self, tree=packed, leaks=leaks)

    def with_leaking(self, leaking: Leaking) -> Shop:
        """Return the shop with other leaks, by run of the document."""
        packed, leaks = _pack(self.request, self.air, self.shape, self.runs, self.discharge, leaking, {})
        return replace(self, tree=packed, leaks=leaks, leaking=leaking)


def gate_quadratic(run: ShopRun, density: float, opening: float | None = None) -> float:
    """Return a run's gate coefficient, Pa per (m3/s)^2; infinite when shut, 0 without a gate."""
    gate = run.run.gate
    if gate is None:
        return 0.0
    share = max(float(gate.opening) if opening is None else opening, float(gate.leakage))
    if share < SMALLEST_OPENING:
        return math.inf
    return gate_coefficient(gate, share) * dynamic(density, run.start)


def gate_coefficient(gate: Gate, share: float) -> float:
    """Return a gate's coefficient at an opening: the caller's own where one is known there, else the catalogue's."""
    own = {float(point.opening): point.coefficient for point in gate.known}
    return own[share] if share in own else catalogue.gate_loss(share).coefficient


def build(request: Tree) -> Shop:
    """Make a request's tree ready for the solver.

    Args:
        request: any tree question, quantities in SI.

    Raises:
        Refusal: with every fault of the tree and its words, each with its path.
    """
    air, faults = air_of(request.air, "air")
    shape, more = examine(request)
    leaking, leaks_wrong = leaks_of(request.runs)
    found = Found(faults=[*faults, *more, *leaks_wrong, *fan_checks.of_request(request)], preset=request.units)
    runs = [_run(found, request, shape, index) for index in range(len(request.runs))]
    discharge = _discharge(found, request)
    dusts = _dusts(found, request, shape)
    if shape is not None and not more:
        runs = [_join(found, request, shape, runs, index, dusts) for index in range(len(runs))]
    if found.faults or shape is None:
        _refuse(found.faults)
    assert shape is not None
    packed, leaks = _pack(request, air, shape, tuple(runs), discharge, leaking, {})
    return Shop(request, air, shape, tuple(runs), discharge, tuple(found.junctions), packed, leaking, leaks)


def _refuse(faults: list[Fault]) -> None:
    """Raise the refusal of these faults."""
    words_only = all(fault.code == "unknown-word" for fault in faults)
    raise Refusal("unknown-word" if words_only else "not-a-duct-tree", faults)


def _run(found: Found, request: Tree, shape: Topology | None, index: int) -> ShopRun:
    """Gather one run: wall, entry, fittings; junctions follow once all bores are known."""
    deadline.check()
    run, path = request.runs[index], f"runs[{index}]"
    own = found.own()
    start = float(run.diameter)
    wall = pieces.wall(own, run, path, start)
    pieces.hood(own, run, path, start)
    hose = wall.duct is not None and wall.duct.kind == "hose"
    end = pieces.fittings(own, run.fittings, path, start, hose=hose)
    if run.rise is not None and abs(float(run.rise)) > float(run.length) * (1.0 + 1.0e-9):
        own.fault(f"{path}.rise", "rise-longer-than-run", "a run cannot rise or fall by more than its length")
    if run.gate is not None:
        _gate(own, run, path)
    if request.model.friction == "power-law":
        pieces.needs_power_law(own, run, path, wall)
    return ShopRun(index, run, start, end, wall, tuple(own.pieces), Arm(), ())


def _gate(found: Found, run: Run, path: str) -> None:
    """Note a gate share too small to be told from shut."""
    assert run.gate is not None
    for name, share in (("opening", float(run.gate.opening)), ("leakage", float(run.gate.leakage))):
        if 0.0 < share < SMALLEST_OPENING:
            found.fault(f"{path}.gate.{name}", "outside-range", f"0, or {SMALLEST_OPENING:g} to 1")


def _join(
    found: Found, request: Tree, shape: Topology, runs: list[ShopRun], index: int, dusts: list[tuple[str, ...]]
) -> ShopRun:
    """Add to a run what its junction says."""
    deadline.check()
    run, parent = runs[index], shape.parents[index]
    if parent < 0:
        return replace(run, dust=dusts[index])
    into = runs[parent].start
    own = found.own()
    alone = len(shape.children[parent]) == 1
    # Under entry-angle static pressures meet, and that already holds what a change of bore costs.
    if alone or request.model.junctions == "flow-ratio":
        joins.change(own, request, index, run.end, into)
    arm = joins.arm(own, request, shape, index, run.end, into)
    return replace(run, pieces=(*run.pieces, *own.pieces), arm=arm, dust=dusts[index])


def _dusts(found: Found, request: Tree, shape: Topology | None) -> list[tuple[str, ...]]:
    """Return the dust words that reach each run from the hoods upstream."""
    words: list[tuple[str, ...]] = [() for _ in request.runs]
    if request.dust is not None:
        _dust(found, "dust", request.dust)
    for index, run in enumerate(request.runs):
        if run.hood is not None:
            word = run.hood.dust or request.dust
            if run.hood.dust is not None:
                _dust(found, f"runs[{index}].hood.dust", run.hood.dust)
            words[index] = () if word is None else (word,)
    if shape is None:
        return words
    for index in reversed(downstream_first(shape)):
        parent = shape.parents[index]
        if parent >= 0:
            words[parent] = tuple(dict.fromkeys((*words[parent], *words[index])))
    return words


def _dust(found: Found, path: str, word: str) -> None:
    """Note a dust that the catalogue does not have."""
    try:
        catalogue.dust(word)
    except UnknownWordError as error:
        found.faults.append(pieces.nearest_fault(path, error))


def downstream_first(shape: Topology) -> list[int]:
    """Return the runs from the collector to the hoods."""
    order = list(shape.roots)
    for index in order:
        order.extend(shape.children[index])
    return order


def _discharge(found: Found, request: Tree) -> tuple[Discharge, ...]:
    """Gather the pieces after the fan."""
    out, collector = [], request.collector or Collector()
    for index, piece in enumerate(collector.discharge):
        path = f"collector.discharge[{index}]"
        own = found.own()
        start = float(piece.diameter)
        wall = pieces.wall(own, piece, path, start)
        if request.model.friction == "power-law":
            pieces.needs_power_law(own, piece, path, wall)
        hose = wall.duct is not None and wall.duct.kind == "hose"
        end = pieces.fittings(own, piece.fittings, path, start, hose=hose)
        out.append(Discharge(start, end, float(piece.length), wall, tuple(own.pieces)))
    return _with_changes(found, out, collector.discharge)


def _with_changes(found: Found, out: list[Discharge], asked: tuple[DischargePiece, ...]) -> tuple[Discharge, ...]:
    """Add the abrupt change between pieces of unlike bore, and the open end where no head or cap stands."""
    for index in range(1, len(out)):
        before, here = out[index - 1].end, out[index].start
        if abs(before - here) > 1.0e-9 * here:
            own = found.own()
            path = f"collector.discharge[{index}].diameter"
            loss = pieces.ask(own, path, lambda a=before, b=here: catalogue.change_of_size(a, b, None))  # type: ignore[misc]
            if loss is not None:
                pieces.add(own, "fitting", path, "abrupt-change", min(before, here), loss)
            out[index] = replace(out[index], pieces=(*own.pieces, *out[index].pieces))
    ends = {"free-discharge", "stack-head", "weather-cap"}
    if out and not any(pieces.tag(fitting) in ends for fitting in asked[-1].fittings):
        last = out[-1]
        own = found.own()
        path = f"collector.discharge[{len(out) - 1}]"
        loss = pieces.ask(own, path, lambda: catalogue.fitting_loss("free-discharge", {}, last.end))
        if loss is not None:
            pieces.add(own, "fitting", path, "free-discharge", last.end, loss)
        out[-1] = replace(last, pieces=(*last.pieces, *own.pieces))
    return tuple(out)


def _pack(
    request: Tree,
    air: AirTold,
    shape: Topology,
    runs: tuple[ShopRun, ...],
    discharge: tuple[Discharge, ...],
    leaking: Leaking,
    factors: Factors,
) -> tuple[tree.Tree, Leaks | None]:
    """Pack runs, the inlet chamber where several enter, the discharge and the leaks."""
    rows = [packed(request, run, shape.parents[run.index], float(air.density), factors) for run in runs]
    if len(shape.roots) > 1 or discharge:
        rows = _behind_inlet(request, rows, shape, discharge, float(air.density), factors)
    leaks = leaking.packed(rows) if leaking.any else None
    chosen = rows if leaks is None else list(leaks.runs)
    return pack(chosen, float(air.density), float(air.viscosity), LAWS[request.model.junctions]), leaks


def _behind_inlet(
    request: Tree,
    rows: list[tree.Run],
    shape: Topology,
    discharge: tuple[Discharge, ...],
    density: float,
    factors: Factors,
) -> list[tree.Run]:
    """Add the inlet chamber and the discharge behind the runs that end at the collector."""
    first, several = len(rows), len(shape.roots) > 1
    widest = max(rows[root].end for root in shape.roots)
    for root in shape.roots:
        lost = dynamic(density, rows[root].end) if several else 0.0
        rows[root] = replace(rows[root], parent=first, change=rows[root].change + lost)
    behind = [
        tree.Run(
            parent=-1,
            start=piece.start,
            end=piece.end,
            length=piece.length * piece.wall.multiplier * factors.get(piece.wall.multiplier_entry, 1.0),
            roughness=piece.wall.roughness * factors.get(piece.wall.entry, 1.0),
            fittings=_part(piece.pieces, "fitting", density, factors),
            power_law=_power_law(request, piece.wall, piece.start, piece.length * piece.wall.multiplier, density),
        )
        for piece in discharge
    ]
    chamber = tree.Run(parent=-1, start=widest, end=widest, length=0.0, roughness=0.0, law=columns.MEET)
    chain = [chamber, *behind]
    return rows + [replace(run, parent=first + k + 1 if k + 1 < len(chain) else -1) for k, run in enumerate(chain)]


def _part(parts: tuple[Piece, ...], part: str, density: float, factors: Factors) -> float:
    """Return the quadratic coefficient of one part of a run's losses, Pa per (m3/s)^2."""
    return sum(
        piece.coefficient * piece.count * dynamic(density, piece.bore) * factors.get(piece.entry, 1.0)
        for piece in parts
        if piece.part == part
    )


def packed(request: Tree, run: ShopRun, parent: int, density: float, factors: Factors) -> tree.Run:
    """Return a run for packing."""
    gate = gate_quadratic(run, density)
    stretch = run.wall.multiplier * factors.get(run.wall.multiplier_entry, 1.0)
    return tree.Run(
        parent=parent,
        start=run.start,
        end=run.end,
        length=float(run.run.length) * stretch,
        roughness=run.wall.roughness * factors.get(run.wall.entry, 1.0),
        entry=_part(run.pieces, "entry", density, factors),
        port=_part(run.pieces, "port", density, factors),
        fittings=_part(run.pieces, "fitting", density, factors),
        change=_part(run.pieces, "change", density, factors),
        power_law=_power_law(request, run.wall, run.start, float(run.run.length) * stretch, density),
        resistance=_resistance(run),
        gate=gate * factors.get("slide-gate", 1.0) if gate > 0.0 else gate,
        arm=run.arm,
    )


def _power_law(request: Tree, wall: Wall, bore: float, length: float, density: float) -> tuple[float, float] | None:
    """Return (a, exponent) of the power-law friction of the velocity-pressure method: a * flow^exponent in Pa."""
    if request.model.friction != "power-law" or wall.power_law is None or length == 0.0:
        return None
    return power_law_terms(bore, length, wall.power_law, density)


def _resistance(run: ShopRun) -> tuple[float, float] | None:
    """Return (a, exponent) of the loss inside the machine."""
    if run.run.hood is None or run.run.hood.resistance is None or float(run.run.hood.resistance.pressure) == 0.0:
        return None
    inside = run.run.hood.resistance
    return float(inside.pressure) / float(inside.flow) ** inside.exponent, inside.exponent
