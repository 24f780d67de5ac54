"""The shop: a request's tree made ready for the solver, with every number's origin kept beside it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.air import Air, AirResult
from airbough.wire.answer import Assumed
from airbough.wire.collector import (
    Collector,
    DischargePiece,
)
from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Run,
    Tree,
)
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.core import deadline
from airbough_service.core.network import tree
from airbough_service.core.network.parted_runs import PartedRuns
from airbough_service.core.network.tree import Arm
from airbough_service.shop import (
    collector_checks,
    junction_laws,
    paths,
    pieces,
)
from airbough_service.shop.air import air_of, rated_term
from airbough_service.shop.filling import Hoods, filled
from airbough_service.shop.machines import Machines, machines_of
from airbough_service.shop.opening import SMALLEST_OPENING, too_small
from airbough_service.shop.packing import (
    LAWS,
    Discharge,
    ShopRun,
    gate_coefficient,
    gate_quadratic,
    pack_shop,
    packed,
)
from airbough_service.shop.pieces import (
    Beside,
    Found,
    Junction,
)
from airbough_service.shop.run_leaks import Leaking
from airbough_service.shop.run_leaks import leaking as leaks_of
from airbough_service.shop.topology import (
    Topology,
    examine,
)
from airbough_service.terms.refusal import Refusal

__all__ = [
    "LAWS",
    "Discharge",
    "Shop",
    "ShopRun",
    "build",
    "gate_coefficient",
    "gate_quadratic",
    "packed",
]


@dataclass(frozen=True, slots=True)
class Shop:
    """A request's tree, ready to solve.

    Attributes:
        request: in SI, hoods filled from their machines.
        air: what the answer tells of it; density in kg/m3 and viscosity in Pa*s.
        shape: parents and children by number in the document.
        machines: which hoods and gates belong to which machine.
        hoods: the catalogue's machines at the hoods, and what was filled from them.
        runs: in document order.
        discharge: pieces after the fan, in the direction of flow.
        junctions: what the junction laws rest on.
        beside: what the branches' shares in the losses of straight runs rest on.
        tree: packed; a run that leaks or changes its bore has several rows (``hood_row``, ``end_row``, ``part_rows``),
            the inlet chamber and discharge own ones.
        leaking: the runs' leaks by class.
        parted: the runs of several rows, None where every run is one row.
    """

    request: Tree
    air: AirResult
    shape: Topology
    machines: Machines
    hoods: Hoods
    runs: tuple[ShopRun, ...]
    discharge: tuple[Discharge, ...]
    junctions: tuple[Junction, ...]
    beside: tuple[Beside, ...]
    tree: tree.Tree
    leaking: Leaking
    parted: PartedRuns | None

    @property
    def assumed(self) -> tuple[Assumed, ...]:
        """What was filled in for the caller, in the preset."""
        return tuple(item.told(self.request.units) for item in self.hoods.filled)

    @property
    def density(self) -> float:
        """Density of the tree's air, kg/m3."""
        return float(self.air.density)

    def hood_row(self, index: int) -> int:
        """Return the packed row of a run's upstream end, where its hood and gate are."""
        return int(self.tree.place[index])

    def end_row(self, index: int) -> int:
        """Return the packed row of a run's downstream end, where it enters its junction."""
        return int(self.tree.place[index if self.parted is None else self.parted.lower[index]])

    def part_rows(self, index: int, number: int) -> list[int]:
        """Return the packed rows of one part of a run's duct; two where the leak stands in it."""
        if self.parted is None:
            return [self.hood_row(index)]
        return [int(self.tree.place[own.row]) for own in self.parted.rows[index] if own.part == number]

    def rows(self, index: int) -> list[int]:
        """Return the packed rows of a run, in the direction of flow."""
        if self.parted is None:
            return [self.hood_row(index)]
        return [int(self.tree.place[own.row]) for own in self.parted.rows[index]]

    def widest_row(self, index: int) -> int:
        """Return the packed row, the last of them, of a run's widest part, of which its velocity is told."""
        run = self.runs[index]
        return self.part_rows(index, run.parts.index(run.widest))[-1]

    def leak_row(self, index: int) -> int:
        """Return the packed row of a leaking run's leak."""
        assert self.parted is not None
        return int(self.tree.place[self.parted.leak[index]])

    @property
    def hood_rows(self) -> NDArray[np.int64]:
        """The packed row of every run's upstream end, in document order."""
        return np.asarray(self.tree.place[: len(self.runs)], np.int64)

    @property
    def end_rows(self) -> NDArray[np.int64]:
        """The packed row of every run's downstream end, in document order."""
        lower = range(len(self.runs)) if self.parted is None else self.parted.lower[: len(self.runs)]
        return np.asarray(self.tree.place[np.asarray(lower, np.int64)], np.int64)

    def gates(self, openings: dict[int, float] | None = None) -> NDArray[np.float64]:
        """Return every row's gate coefficient, Pa per (m3/s)^2, infinite where shut; shape (rows,).

        Args:
            openings: run number -> opening in place of the document's; leakage is heeded.
        """
        gate = self.tree.gate.copy()
        for index, opening in (openings or {}).items():
            gate[self.hood_row(index)] = gate_quadratic(self.runs[index], self.density, opening)
        return gate

    def with_leaking(self, leaking: Leaking) -> Shop:
        """Return the shop with other leaks, by run of the document."""
        packed, parted = pack_shop(self.request, self.air, self.shape, self.runs, self.discharge, leaking)
        return replace(self, tree=packed, parted=parted, leaking=leaking)


def build(request: Tree) -> Shop:
    """Make a request's tree ready for the solver.

    Args:
        request: any tree question, quantities in SI.

    Raises:
        Refusal: with every fault of the tree and its words, each with its path.
    """
    shape, more = examine(request)
    machines, disagreeing = (None, []) if shape is None else machines_of(request.runs, shape)
    request, hoods, unfilled = filled(request, machines)
    air, faults = air_of(request.air, "air")
    faults += unfilled
    faults += _rated_airs(request)
    leaking, leaks_wrong = leaks_of(request.runs)
    found = Found(faults=[*faults, *more, *leaks_wrong, *collector_checks.of_request(request)], preset=request.units)
    runs = [_run(found, request, shape, index, air) for index in range(len(request.runs))]
    found.faults += disagreeing
    discharge = _discharge(found, request)
    dusts = _dusts(found, request, shape)
    if shape is not None and not more:
        found.faults += junction_laws.faults(request, shape)
        runs = [_join(found, request, shape, runs, index, dusts) for index in range(len(runs))]
    if found.faults or shape is None:
        _refuse(found.faults)
    assert shape is not None
    assert machines is not None
    packed, parted = pack_shop(request, air, shape, tuple(runs), discharge, leaking)
    laws = tuple(found.junctions), tuple(found.beside)
    return Shop(request, air, shape, machines, hoods, tuple(runs), discharge, *laws, packed, leaking, parted)


def in_air(shop: Shop, asked: Air | None) -> Shop | None:
    """Return a shop in other air, None where that is refused; what does not hang on air is not looked at again."""
    air, faults = air_of(asked, "air")
    if faults:
        return None
    request = structs.replace(shop.request, air=asked)
    runs = tuple(
        [run if run.resistance is None else structs.replace(run, resistance=_inside(run.run, air)) for run in shop.runs]
    )
    packed, parted = pack_shop(request, air, shop.shape, runs, shop.discharge, shop.leaking)
    return replace(shop, request=request, air=air, runs=runs, tree=packed, parted=parted)


def rebored(shop: Shop, index: int, bore: float) -> tuple[Tree, dict[int, ShopRun]] | None:
    """Return the request with one run in another bore, and that run and those that flow into it as they then are.

    Returns:
        None where a law does not answer that bore, or a taper in the run does not begin with it.
    """
    runs = list(shop.request.runs)
    runs[index] = structs.replace(runs[index], diameter=bore)
    request = structs.replace(shop.request, runs=tuple(runs))
    changed = altered(shop, request, {index})
    return None if changed is None else (request, changed)


def altered(shop: Shop, request: Tree, indexes: Collection[int]) -> dict[int, ShopRun] | None:
    """Return runs that a request tells otherwise than the shop's, and those that flow into them, as they then are.

    Args:
        shop: the tree as it stands.
        request: in SI, hoods filled; it differs in these runs alone, and in nothing that joins or dust hang on.
        indexes: their numbers.

    Returns:
        None where the document would be refused.
    """
    found = Found(preset=request.units)
    alike = list(shop.runs)
    dusts = [run.dust for run in alike]
    for index in indexes:
        alike[index] = _run(found, request, shop.shape, index, shop.air)
    arms = {arm for index in indexes for arm in shop.shape.children[index]}.difference(indexes)
    for arm in arms:
        own = tuple([piece for piece in alike[arm].pieces if piece.part != "change"])
        alike[arm] = structs.replace(alike[arm], pieces=own)
    changed = {index: _join(found, request, shop.shape, alike, index, dusts) for index in (*indexes, *arms)}
    return None if found.faults else changed


def _refuse(faults: list[Fault]) -> None:
    """Raise the refusal of these faults."""
    words_only = all(fault.code == "unknown-word" for fault in faults)
    raise Refusal("unknown-word" if words_only else "not-a-duct-tree", faults)


def _rated_airs(request: Tree) -> list[Fault]:
    """Return the faults of the air that machines' resistances are rated in."""
    out = []
    for index, run in enumerate(request.runs):
        if run.hood is not None and run.hood.resistance is not None:
            out += air_of(run.hood.resistance.rated_air, f"runs[{index}].hood.resistance.rated_air")[1]
    return out


def _inside(run: Run, air: AirResult) -> tuple[float, float] | None:
    """Return (a, exponent) of the loss inside a machine in the tree's air."""
    if run.hood is None or run.hood.resistance is None or float(run.hood.resistance.pressure) == 0.0:
        return None
    return rated_term(run.hood.resistance, air), run.hood.resistance.exponent


def _run(found: Found, request: Tree, shape: Topology | None, index: int, air: AirResult) -> ShopRun:
    """Gather one run: wall, entry, fittings; junctions follow once all bores are known."""
    deadline.check()
    run, path = request.runs[index], f"runs[{index}]"
    own = found.own()
    if run.path is not None or run.length is None:
        found.faults += paths.faults(run, path)
    start = float(run.diameter)
    along = pieces.course(own, run, path)
    wall = pieces.wall(own, run, path, along.parts[0].bore)
    pieces.hood(own, run, path, start)
    hose = wall.duct is not None and wall.duct.kind == "hose"
    end = pieces.fittings(own, run, path, along, hose=hose)
    if hose and len(along.parts) > 1:
        own.fault(along.parts[1].at, "change-inside-hose", "a hose has one bore; part it into two runs")
    if run.rise is not None and abs(float(run.rise)) > pieces.length_of(run) * (1.0 + 1.0e-9):
        own.fault(f"{path}.rise", "rise-longer-than-run", "a run cannot rise or fall by more than its length")
    if run.gate is not None:
        _gate(own, run, path)
    if request.model.friction == "power-law":
        pieces.needs_power_law(own, run, path, wall)
    return ShopRun(index, run, start, end, wall, tuple(own.pieces), Arm(), (), along.parts, _inside(run, air))


def _gate(found: Found, run: Run, path: str) -> None:
    """Note a gate share too small to be told from shut."""
    assert run.gate is not None
    for name, share in (("opening", float(run.gate.opening)), ("leakage", float(run.gate.leakage))):
        if too_small(share):
            found.fault(f"{path}.gate.{name}", "outside-range", f"0, or {SMALLEST_OPENING:g} to 1")


def _join(
    found: Found, request: Tree, shape: Topology, runs: list[ShopRun], index: int, dusts: list[tuple[str, ...]]
) -> ShopRun:
    """Add to a run what its junction says."""
    run, parent = runs[index], shape.parents[index]
    if parent < 0:
        return structs.replace(run, dust=dusts[index])
    into = runs[parent].start
    own = found.own()
    junction_laws.change(own, request, index, run.end, into, alone=len(shape.children[parent]) == 1)
    arm = junction_laws.arm(own, request, shape, index, run.end, into)
    return structs.replace(run, pieces=(*run.pieces, *own.pieces), arm=arm, dust=dusts[index])


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
    for index in reversed(shape.order):
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


def _discharge(found: Found, request: Tree) -> tuple[Discharge, ...]:
    """Gather the pieces after the fan."""
    out, collector = [], request.collector or Collector()
    for index, piece in enumerate(collector.discharge):
        path = f"collector.discharge[{index}]"
        own = found.own()
        along = pieces.course(own, piece, path)
        start, bore = float(piece.diameter), along.parts[0].bore
        wall = pieces.wall(own, piece, path, bore)
        if request.model.friction == "power-law":
            pieces.needs_power_law(own, piece, path, wall)
        hose = wall.duct is not None and wall.duct.kind == "hose"
        end = pieces.fittings(own, piece, path, along, hose=hose)
        if len(along.parts) > 1:
            own.fault(along.parts[1].at, "change-inside-piece", "the bore changes between two pieces of the discharge")
        out.append(Discharge(start, bore, end, float(piece.length), wall, tuple(own.pieces)))
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
            out[index] = structs.replace(out[index], pieces=(*own.pieces, *out[index].pieces))
    ends = {"free-discharge", "stack-head", "weather-cap"}
    if out and not any(pieces.tag(fitting) in ends for fitting in asked[-1].fittings):
        last = out[-1]
        own = found.own()
        path = f"collector.discharge[{len(out) - 1}]"
        loss = pieces.ask(own, path, lambda: catalogue.fitting_loss("free-discharge", {}, last.end))
        if loss is not None:
            pieces.add(own, "fitting", path, "free-discharge", last.end, loss)
        out[-1] = structs.replace(last, pieces=(*last.pieces, *own.pieces))
    return tuple(out)
