"""The shop: a request's tree made ready for the solver, with every number's origin kept beside it."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from msgspec import Struct, structs
from numpy.typing import NDArray

from airbough.wire.air import Air, AirResult
from airbough.wire.answer import Assumed
from airbough.wire.collector import Collector
from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Run,
    Tree,
)
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.core.network import tree
from airbough_service.core.network.parted_runs import PartedRuns
from airbough_service.shop import (
    collector_checks,
    junction_laws,
    making,
    paths,
    pieces,
)
from airbough_service.shop.air import air_of, rated_term
from airbough_service.shop.filling import Hoods, filled
from airbough_service.shop.junction_laws import Joined
from airbough_service.shop.machines import Machines, machines_of
from airbough_service.shop.making import Made
from airbough_service.shop.opening import SMALLEST_OPENING, too_small, unclear
from airbough_service.shop.packing import (
    LAWS,
    Discharge,
    ShopRun,
    gate_coefficient,
    gate_quadratic,
    pack_shop,
    packed,
)
from airbough_service.shop.pieces import Found, Pieces, placed
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


class Shop(Struct, frozen=True, dict=True):
    """A request's tree, ready to solve.

    Attributes:
        request: in SI, hoods filled from their machines.
        air: what the answer tells of it; density in kg/m3 and viscosity in Pa*s.
        shape: parents and children by number in the document.
        machines: which hoods and gates belong to which machine.
        hoods: the catalogue's machines at the hoods, and what was filled from them.
        runs: in document order.
        discharge: pieces after the fan, in the direction of flow.
        joined: by run, how it enters its junction, and what that rests on.
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
    joined: tuple[Joined, ...]
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
        if self.parted is None:
            return self.hood_rows
        return np.asarray(self.tree.place[np.asarray(self.parted.lower[: len(self.runs)], np.int64)], np.int64)

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
        return structs.replace(self, tree=packed, parted=parted, leaking=leaking)


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
    faults += [*more, *leaks_wrong, *collector_checks.of_request(request)]
    made = [making.made(run, request.units) for run in request.runs]
    power_law = request.model.friction == "power-law"
    for index, (run, own) in enumerate(zip(request.runs, made, strict=True)):
        moving = run.rise is not None or run.gate is not None
        if own.faults or power_law or run.path or run.length is None or (moving and _may_be_wrong(run)):
            faults += _faults(request, index, own)
    faults += disagreeing
    discharge = _discharge(faults, request)
    dusts = _dusts(faults, request, shape)
    joined: list[Joined] = []
    if shape is not None and not more:
        joined = junction_laws.each_joined(request, shape, [(own.start, own.end) for own in made])
        for found in ([own.unused for own in joined], [own.faults for own in joined]):
            for index, wrong in enumerate(found):
                faults += placed(wrong, f"runs[{index}]") if wrong else ()
    if faults or shape is None:
        _refuse(faults)
    assert shape is not None
    assert machines is not None
    runs = tuple(
        [
            _run(index, run, own, entering, dust, air)
            for index, (run, own, entering, dust) in enumerate(zip(request.runs, made, joined, dusts, strict=True))
        ]
    )
    packed, parted = pack_shop(request, air, shape, runs, discharge, leaking)
    return Shop(request, air, shape, machines, hoods, runs, discharge, tuple(joined), packed, leaking, parted)


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
    return structs.replace(shop, request=request, air=air, runs=runs, tree=packed, parted=parted)


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
    faults: list[Fault] = []
    arms = {arm for index in indexes for arm in shop.shape.children[index]}.difference(indexes)
    made = {index: making.made(request.runs[index], request.units) for index in (*indexes, *arms)}
    changed = {}
    for index, own in made.items():
        parent = shop.shape.parents[index]
        entering = Joined()
        if parent >= 0:
            into = made[parent].start if parent in made else shop.runs[parent].start
            word = junction_laws.word_of(request, shop.shape, parent)
            entering = junction_laws.joined(request, index, word, own.end, into)
        faults += [*_faults(request, index, own), *entering.faults]
        changed[index] = _run(index, request.runs[index], own, entering, shop.runs[index].dust, shop.air)
    return None if faults else changed


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
    """Return (a, exponent) of the loss inside a machine in the tree's air; None without."""
    if run.hood is None or run.hood.resistance is None or float(run.hood.resistance.pressure) == 0.0:
        return None
    return rated_term(run.hood.resistance, air), run.hood.resistance.exponent


def _may_be_wrong(run: Run) -> bool:
    """Return whether a run's rise or gate is worth a look for faults."""
    if run.rise is not None and abs(float(run.rise)) > pieces.length_of(run):
        return True
    return run.gate is not None and unclear(run.gate)


def _faults(request: Tree, index: int, made: Made) -> list[Fault]:
    """Return what is wrong with one run, but for its junction."""
    run, gate = request.runs[index], request.runs[index].gate
    looked_at = run.path is not None or run.length is None
    faults = paths.faults(run, f"runs[{index}]") if looked_at else []
    if made.faults:
        faults += placed(made.faults, f"runs[{index}]")
    if run.rise is not None and abs(float(run.rise)) > pieces.length_of(run) * (1.0 + 1.0e-9):
        detail = "a run cannot rise or fall by more than its length"
        faults.append(Fault(path=f"runs[{index}].rise", code="rise-longer-than-run", detail=detail))
    if gate is not None:
        for name, share in (("opening", gate.opening), ("leakage", gate.leakage)):
            if too_small(float(share)):
                detail = f"0, or {SMALLEST_OPENING:g} to 1"
                faults.append(Fault(path=f"runs[{index}].gate.{name}", code="outside-range", detail=detail))
    if request.model.friction == "power-law":
        found = Found()
        pieces.needs_power_law(found, run, made.wall)
        faults += placed(found.faults, f"runs[{index}]")
    return faults


def _run(index: int, run: Run, made: Made, joined: Joined, dust: tuple[str, ...], air: AirResult) -> ShopRun:
    """Return one run of the document."""
    own = made.pieces.and_then(joined.change) if joined.change else made.pieces
    inside = None if run.hood is None or run.hood.resistance is None else _inside(run, air)
    return ShopRun(index, run, made.start, made.end, made.wall, own, joined.arm, dust, made.along(run), inside)


def _dusts(faults: list[Fault], request: Tree, shape: Topology | None) -> list[tuple[str, ...]]:
    """Return the dust words that reach each run from the hoods upstream, noting those that are no dust."""
    words: list[tuple[str, ...]] = [()] * len(request.runs)
    usual = () if request.dust is None else (request.dust,)
    if request.dust is not None:
        _dust(faults, "dust", request.dust)
    for index, run in enumerate(request.runs):
        if run.hood is None:
            continue
        words[index] = usual
        if run.hood.dust is not None:
            _dust(faults, f"runs[{index}].hood.dust", run.hood.dust)
            words[index] = (run.hood.dust,)
    if shape is None:
        return words
    for index in reversed(shape.order):
        parent, own = shape.parents[index], words[index]
        if parent >= 0 and own != words[parent]:
            words[parent] = tuple(dict.fromkeys((*words[parent], *own))) if words[parent] else own
    return words


def _dust(faults: list[Fault], path: str, word: str) -> None:
    """Note a dust that the catalogue does not have."""
    try:
        catalogue.dust(word)
    except UnknownWordError as error:
        faults.append(pieces.nearest_fault(path, error))


def _discharge(faults: list[Fault], request: Tree) -> tuple[Discharge, ...]:
    """Gather the pieces after the fan."""
    out, collector = [], request.collector or Collector()
    for index, piece in enumerate(collector.discharge):
        own = Found(preset=request.units)
        along = pieces.course(own, piece)
        start, bore = float(piece.diameter), along.parts[0].bore
        wall = pieces.wall(own, piece, bore)
        if request.model.friction == "power-law":
            pieces.needs_power_law(own, piece, wall)
        hose = wall.duct is not None and wall.duct.kind == "hose"
        end = pieces.fittings(own, piece, along, hose=hose)
        if len(along.parts) > 1:
            own.fault(along.parts[1].at, "change-inside-piece", "the bore changes between two pieces of the discharge")
        faults += placed(own.faults, f"collector.discharge[{index}]")
        out.append(Discharge(start, bore, end, float(piece.length), wall, Pieces(own.pieces)))
    return _with_changes(faults, out, request)


def _with_changes(faults: list[Fault], out: list[Discharge], request: Tree) -> tuple[Discharge, ...]:
    """Add the abrupt change between pieces of unlike bore, and the open end where no head or cap stands."""
    if not out:
        return ()
    for index in range(1, len(out)):
        before, here = out[index - 1].end, out[index].start
        if abs(before - here) > 1.0e-9 * here:
            own = Found(preset=request.units)
            loss = pieces.ask(own, "diameter", lambda a=before, b=here: catalogue.change_of_size(a, b, None))  # type: ignore[misc]
            if loss is not None:
                pieces.add(own, "fitting", "diameter", "abrupt-change", min(before, here), loss)
            faults += placed(own.faults, f"collector.discharge[{index}]")
            out[index] = structs.replace(out[index], pieces=Pieces((*own.pieces, *out[index].pieces)))
    asked = () if request.collector is None else request.collector.discharge
    ends = {"free-discharge", "stack-head", "weather-cap"}
    if not any(pieces.tag(fitting) in ends for fitting in asked[-1].fittings):
        last = out[-1]
        own = Found(preset=request.units)
        loss = pieces.ask(own, "", lambda: catalogue.fitting_loss("free-discharge", {}, last.end))
        if loss is not None:
            pieces.add(own, "fitting", "", "free-discharge", last.end, loss)
        faults += placed(own.faults, f"collector.discharge[{len(out) - 1}]")
        out[-1] = structs.replace(last, pieces=Pieces((*last.pieces, *own.pieces)))
    return tuple(out)
