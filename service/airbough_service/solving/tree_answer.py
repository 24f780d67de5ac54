"""What was solved, in the answer's structs, still in SI."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from typing import Final

import numpy as np
from msgspec import Struct, structs
from numpy.typing import NDArray

from airbough.wire.answer import (
    Carrying,
    Engine,
    Finding,
    HoodResult,
    RunPart,
    RunResult,
    Source,
    WholeSystem,
)
from airbough.wire.outline import OutlineRequest
from airbough.wire.tree import Tree
from airbough_service import (
    __version__,
    catalogue,
)
from airbough_service.catalogue import Dust, Passport
from airbough_service.catalogue.power import power_shape
from airbough_service.core import deadline
from airbough_service.core.laws.transport import velocity_in
from airbough_service.core.network.losses import TOLD, Losses, run_lines
from airbough_service.core.network.parted_runs import whole_runs
from airbough_service.shop import gates
from airbough_service.shop.collector import outlet_change
from airbough_service.shop.gates import Standing
from airbough_service.shop.pieces import (
    Wall,
)
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.solving.grades import carrier, carrying, dusts_of, serving
from airbough_service.terms import sources, units
from airbough_service.terms.sources import Origin
from airbough_service.terms.units import AllAtOnce

Floats = NDArray[np.float64]
CAUTIONS: Final = ("estimates", "local-codes", "combustible-dust", "bonding-and-grounding", "lungs")
"""Cautions that every tree answer carries."""
_MOST_TEXTS: Final = 256  # lists of cautions that are remembered as texts
CAUTIONS_OF_FINDINGS: Final[dict[str, tuple[str, ...]]] = {
    "below-transport-velocity": ("settled-dust", "housekeeping"),
    "combustion-appliance-backdraft": ("combustion-appliance-backdraft",),
    "fan-above-rated-speed": ("fan-speed",),
    "fine-dust-returned-to-room": ("fine-dust-returned-to-room",),
    "needlessly-fast": ("noise",),
    "nonconductive-duct": ("nonconductive-duct",),
}
"""Finding code -> the cautions that it brings."""


def engine(request: Tree | OutlineRequest) -> Engine:
    """Return what computed the answer."""
    return Engine(
        version=__version__,
        catalogue=catalogue.digest(),
        friction=request.model.friction,
        junctions=request.model.junctions,
    )


class RunState(Struct, frozen=True, gc=False):
    """One run in a solved state, in SI: what `RunResult` tells of it, under the same names."""

    id: str
    diameter: float
    flow: float
    velocity: float
    velocity_pressure: float
    reynolds: float
    entry_loss: float
    port_loss: float
    resistance_loss: float
    gate_loss: float
    friction_loss: float
    fitting_loss: float
    join_loss: float
    total_loss: float
    static_pressure: float
    total_pressure: float
    idle: bool
    flow_upstream: float | None
    carrying_ratio: float | None
    carrying: Carrying | None
    parts: tuple[RunPart, ...] | None


_KINDS: Final = ("flow", "velocity", "pressure", None, *["pressure"] * (TOLD - 4))  # of numbers; None: a plain one
_TOLD_KINDS: Final = frozenset({"diameter", "flow", "velocity", "pressure"})


class Runs(AllAtOnce[RunResult]):
    """Every run of a state in document order: rows of `RunState`, of which `units.told` makes results all at once.

    Attributes:
        lines: their numbers from `flow` on, shape (runs, numbers).
        dusts: by run, those that reach it from the hoods open in this state.
        in_parts: whether a run has several rows.
    """

    lines: Floats
    dusts: list[tuple[Dust, ...]]
    in_parts: bool = False

    def told(self, preset: str) -> tuple[tuple[RunResult, ...], frozenset[str]] | None:
        """Return the runs in a preset, and the kinds in them; None where one has several rows, or not all is finite."""
        numbers, factor = self.lines / _factors(preset), units.factor("diameter", preset)
        if self.in_parts or not math.isfinite(numbers.sum()):
            return None
        each = zip(self, numbers.tolist(), strict=True)
        return tuple([_told(own, units.as_written(own.diameter, factor), row) for own, row in each]), _TOLD_KINDS

    def plainly(self) -> tuple[RunResult, ...]:
        """Return the runs in SI, one by one."""
        return tuple([RunResult(**structs.asdict(own)) for own in self])


@cache
def _factors(preset: str) -> Floats:
    """Return the SI value of 1 in the preset's unit of each number of a run."""
    return np.array([1.0 if kind is None else units.factor(kind, preset) for kind in _KINDS])


def _told(own: RunResult, diameter: float, row: list[float]) -> RunResult:
    """Return a run from its numbers in a preset."""
    (
        flow, velocity, velocity_pressure, reynolds, entry, port, resistance, gate, friction, fittings, join, total,
        static, pressure,
    ) = row  # fmt: skip
    return RunResult(
        id=own.id,
        diameter=diameter,
        flow=flow,
        velocity=velocity,
        velocity_pressure=velocity_pressure,
        reynolds=reynolds,
        idle=own.idle,
        entry_loss=entry,
        port_loss=port,
        resistance_loss=resistance,
        gate_loss=gate,
        friction_loss=friction,
        fitting_loss=fittings,
        join_loss=join,
        total_loss=total,
        static_pressure=static,
        total_pressure=pressure,
        carrying_ratio=own.carrying_ratio,
        carrying=own.carrying,
    )


def runs(shop: Shop, losses: Losses, flow: Floats, standing: Standing | None = None) -> Runs:
    """Return every run in document order; `flow` and `losses` are by packed row, in the state that stands so.

    A run of several rows is told whole: flow and velocity at its downstream end, a leaking one's `flow_upstream` at
    the other; where its bore changes, diameter and velocity are of its widest part, where air is slowest.
    """
    deadline.check()
    state = gates.standing(shop) if standing is None else standing
    upstream: list[float | None] = [None] * len(shop.runs)
    rows = widest = shop.tree.place[: len(shop.runs)]
    if shop.parted is not None:
        losses, flow, arriving = whole_runs(shop.tree, shop.parted, losses, flow)
        upstream = arriving[rows].tolist() if shop.leaking.any else upstream
        widest = np.array([shop.widest_row(index) for index in range(len(shop.runs))], rows.dtype)
    bores = [run.parts[0].bore if len(run.parts) == 1 else run.widest.bore for run in shop.runs]
    lines = run_lines(shop.tree, losses, flow, rows, widest, bores)
    dusts = dusts_of(shop, is_open=state.open)
    each = zip(shop.runs, bores, lines.tolist(), upstream, state.active, dusts, strict=True)
    out = Runs([_run(run, bore, own, above, reaching, not meant) for run, bore, own, above, meant, reaching in each])  # type: ignore[misc]  # read alike
    out.lines, out.dusts, out.in_parts = lines, dusts, shop.parted is not None
    return out


def _run(
    run: ShopRun, bore: float, own: list[float], upstream: float | None, dusts: Sequence[catalogue.Dust], idle: bool
) -> RunState:
    """Return one run from its bore and its numbers, with how it carries the dusts that reach it."""
    ratio, graded = None, None
    if dusts:
        slowest = own[1] if upstream is None or own[0] <= upstream else velocity(run, upstream)
        ratio = slowest / carrier(dusts).transport_velocity
        graded = carrying(ratio)
    parts = _parts(run, own[0]) if len(run.parts) > 1 else None
    return RunState(run.run.id, bore, *own, idle, upstream, ratio, graded, parts)  # type: ignore[call-arg, arg-type]


def _parts(run: ShopRun, flow: float) -> tuple[RunPart, ...]:
    """Return the parts of a run whose bore changes between lengths of duct, in the direction of flow."""
    return tuple(
        RunPart(diameter=part.bore, length=part.length, velocity=velocity_in(flow, part.bore)) for part in run.parts
    )


def inlet_static_pressure(shop: Shop, answers: tuple[RunResult, ...]) -> float:
    """Return the deepest static pressure of the runs that enter the collector, Pa; from its runs as told, in SI."""
    return min(answers[root].static_pressure for root in shop.shape.roots)


def discharge_loss(shop: Shop, losses: Losses, flow: float, recovery: float) -> float:
    """Return the total pressure lost after the fan, less what of the outlet's velocity pressure helps there, Pa.

    Args:
        shop: the tree.
        losses: by packed row; the pieces after the fan stand first.
        flow: at the fan, m3/s.
        recovery: of the outlet's velocity pressure, Pa per (m3/s)^2.
    """
    rows = len(shop.discharge)
    return float(losses.total[:rows].sum()) - recovery * flow * flow if rows else 0.0


def whole(shop: Shop, answers: tuple[RunResult, ...]) -> WholeSystem | None:
    """Return the system as a whole from its runs as told, in SI; None where none are."""
    if not answers:
        return None
    inlets = [answers[root] for root in shop.shape.roots]
    return WholeSystem(flow=sum(run.flow for run in inlets), inlet_static_pressure=inlet_static_pressure(shop, answers))


def velocity(run: ShopRun, flow: float) -> float:
    """Return the velocity in a run's own bore, its widest where it changes, m/s."""
    return flow / (math.pi * run.widest.bore**2 / 4.0)


def fastest(run: ShopRun, flow: float) -> float:
    """Return the velocity in a run's narrowest part, m/s."""
    return flow / (math.pi * run.narrowest.bore**2 / 4.0)


def least_flow(told: RunResult) -> float:
    """Return the flow where a run's air is slowest: a leaking run lets air in on its way, m3/s."""
    return told.flow if told.flow_upstream is None else min(told.flow, told.flow_upstream)


def hoods(shop: Shop, losses: Losses, flow: Floats, opened: Sequence[bool] | None = None) -> tuple[HoodResult, ...]:
    """Return every hood in document order; `opened`, by run: whether its hood is open in this state."""
    out, is_open = [], gates.open_hoods(shop) if opened is None else opened
    flows, static, at_hood = flow.tolist(), losses.at_hood.tolist(), shop.tree.place.tolist()
    for run in shop.runs:
        hood = run.run.hood
        if hood is None:
            continue
        row = at_hood[run.index]
        q = flows[row]
        design = None if hood.flow is None else float(hood.flow)
        out.append(
            HoodResult(
                run=run.id,
                machine=hood.machine,
                flow=q,
                open=is_open[run.index],
                static_pressure=static[row],
                design_flow=design,
                share_of_design=None if design is None else q / design,
                served=None if design is None or not is_open[run.index] else serving(q / design),
            )
        )
    return tuple(out)


def origins(shop: Shop) -> frozenset[Origin]:
    """Return the documents of every number that the answer rests on, and how these were had."""
    return sources.of_bits(_bits(shop))


def _bits(shop: Shop) -> int:
    """Return `origins` as bits."""
    bits = sources.bits_of(
        *[item.passport for item in shop.hoods.filled], *shop.leaking.passports, *_behind_inlet(shop)
    )
    power_law = shop.request.model.friction == "power-law"
    for run, joined in zip(shop.runs, shop.joined, strict=True):
        wall = run.wall.power_law_origins if power_law else run.wall.origins
        bits |= run.pieces.together.origins | joined.origins | wall
    for words in {run.dust for run in shop.runs}:
        bits |= _origins_of_dusts(words)
    return bits


@lru_cache(_MOST_TEXTS)
def _origins_of_dusts(words: tuple[str, ...]) -> int:
    """Return where dusts come from, as `sources.bits`."""
    return sources.bits_of(*[catalogue.dust(word).passport for word in words])


def told_sources(shop: Shop) -> tuple[Source, ...]:
    """Return the documents of every number that the answer rests on."""
    return sources.told_of_bits(_bits(shop))


def _behind_inlet(shop: Shop) -> Iterable[Passport | None]:
    """Yield the passports of power, of the fan's outlet and of the discharge, with repeats."""
    collector = shop.request.collector
    if collector is not None and collector.efficiency is not None and not collector.power:
        yield from power_shape().passports
    if shop.discharge:
        fan = None if collector is None else collector.fan
        change = outlet_change(shop, fan)[0]
        yield None if change is None else change.passport
    for discharge in shop.discharge:
        yield _wall(shop, discharge.wall)
        for piece in discharge.pieces:
            yield piece.passport


def _wall(shop: Shop, wall: Wall) -> Passport | None:
    """Return where a wall's friction comes from under the model's law."""
    if shop.request.model.friction != "power-law" or wall.power_law is None:
        return wall.passport
    return wall.power_law_passport


def cautions(shop: Shop, found: Iterable[Finding], extra: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the cautions of a tree answer as texts: those of all, of its dusts, machines and findings, and more."""
    words = list(CAUTIONS)
    dusts, machines = set[tuple[str, ...]](), set[str]()
    for run in shop.runs:
        if run.dust not in dusts:
            dusts.add(run.dust)
            words += _of_dusts(run.dust)
        hood = run.run.hood
        if hood is not None and hood.machine is not None and hood.machine not in machines:
            machines.add(hood.machine)
            words += _of_machine(hood.machine)
    for code in {item.code: None for item in found}:
        words += CAUTIONS_OF_FINDINGS.get(code, ())
    words += extra
    return _texts(tuple(dict.fromkeys(words)))


@lru_cache(_MOST_TEXTS)
def _of_dusts(words: tuple[str, ...]) -> tuple[str, ...]:
    """Return the cautions of dusts."""
    return tuple([caution for word in words for caution in catalogue.dust(word).cautions])


@lru_cache(_MOST_TEXTS)
def _of_machine(word: str) -> tuple[str, ...]:
    """Return the cautions of a machine, be it one of the catalogue or not."""
    own = catalogue.machine(word).cautions if catalogue.machine_id(word) is not None else ()
    return ("guards", *own)


@lru_cache(_MOST_TEXTS)
def _texts(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(catalogue.caution(word).text for word in words)
