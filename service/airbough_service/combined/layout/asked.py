"""The request made ready: machines with their flows in every state, and what pieces cost; every fault at once."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np
from msgspec import Struct, structs
from numpy.typing import NDArray

from airbough.wire.answer import Assumed, Source
from airbough.wire.collector import Collector
from airbough.wire.layout import LayoutMachine, LayoutRequest
from airbough.wire.outline import OutlineAnswer, OutlineLine, OutlineMachine, OutlineRequest
from airbough.wire.problem import Fault
from airbough.wire.sizing import SizingLimits, SizingRequest, SizingRules, SizingState
from airbough.wire.tree import Tree
from airbough_service import catalogue
from airbough_service.catalogue.checks import check
from airbough_service.combined.layout.faults import faults_of, rise_of
from airbough_service.combined.layout.shopping import Shopping
from airbough_service.core.choosing.placing.sets import Flows
from airbough_service.drafting.following import followed
from airbough_service.questions.outline import question as outlining
from airbough_service.questions.sizing.checks import prepared
from airbough_service.questions.sizing.kits import joining
from airbough_service.questions.sizing.options import Options
from airbough_service.questions.sizing.states import State, states
from airbough_service.shop.shop import Shop
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

Floats = NDArray[np.float64]
AnyRequest = TypeVar("AnyRequest", bound=Struct)
Opened = tuple[tuple[str, tuple[str, ...]], ...]
_ROW: Final = re.compile(r"(lines|machines)\[(\d+)\]\.?(.*)", re.DOTALL)
_RUN: Final = re.compile(r"runs\[(\d+)\]\.?(.*)", re.DOTALL)
_OWN: Final = tuple(name for name in LayoutMachine.__struct_fields__ if name != "place")
ALIKE: Final = 1.0e-9  # share by which two diameters may differ
_APART: Final = 1.0  # m between the machines of the trial line; any length does


@dataclass(frozen=True, slots=True)
class Trial:
    """All machines along one straight line, by which sizing's own reckoning is asked.

    Attributes:
        sizing: what sizing is asked of it, in SI.
        shop: made ready.
        states: sized for.
        options: its runs in every diameter.
        hoods: run numbers of each machine's hoods.
        stiff: run number of each machine's stiff duct.
    """

    sizing: SizingRequest
    shop: Shop
    states: tuple[State, ...]
    options: Options
    hoods: tuple[tuple[int, ...], ...]
    stiff: tuple[int, ...]

    def hosed(self, machine: int) -> bool:
        """Return whether a machine's hoods stand at hoses; else its one at the end of its stiff duct."""
        return self.hoods[machine] != (self.stiff[machine],)


@dataclass(frozen=True, slots=True)
class Asked:
    """A request made ready.

    Attributes:
        request: in SI.
        shopping: what pieces cost.
        design: what each machine takes in each state, at design flows.
        opened: names of the states, and the ids of what runs in each.
        drop: shape (machines,), length of each riser, m.
        hose_price: shape (machines,), what each machine's hoses cost.
        foot: shape (machines, diameters), what its hoses meet in or change size by at the foot of a riser of a diameter
            costs; infinite where the stock has no pieces for that.
        port: shape (machines,), least diameter of a stiff duct that itself holds the machine's hood, m; else 0.
        gated: shape (machines,), whether a gate stands in the stiff duct.
        trial: by which losses are reckoned.
        assumed: what was taken for the caller.
        sources: of what was assumed.
    """

    request: LayoutRequest
    shopping: Shopping
    design: Flows
    opened: Opened
    drop: Floats
    hose_price: Floats
    foot: Floats
    port: Floats
    gated: NDArray[np.bool_]
    trial: Trial
    assumed: tuple[Assumed, ...]
    sources: tuple[Source, ...]


def asked(request: LayoutRequest) -> Asked:
    """Return the request made ready.

    Raises:
        Refusal: with every fault of the room and the machines, else of stock and states.
    """
    faults = list(faults_of(request))
    told: OutlineAnswer | None = None
    try:
        told = outlining.answer(_trial(request))
    except Refusal as refusal:
        faults += [_of_row(fault) for fault in refusal.faults]
    if faults or told is None:
        words_only = all(fault.code == "unknown-word" for fault in faults)
        raise Refusal("unknown-word" if words_only else "not-computable", list(dict.fromkeys(faults)))
    sizing = sizing_request(request, told, float(request.allowance or 0.0))
    try:
        shop, shelf, fixed = prepared(sizing)
        found = states(sizing, shop)
    except Refusal as refusal:
        raise Refusal(refusal.kind, [_of_run(fault, request, told) for fault in refusal.faults]) from None
    shopping = Shopping(shelf, sizing.runs[0].duct, check("gentle-radius").value, check("easy-branch").value)
    options = Options(sizing, shop, found, fixed)
    number = {machine.id: index for index, machine in enumerate(request.machines)}
    hoods, stiff = [list[int]() for _ in number], [0] * len(number)
    for index, run in enumerate(sizing.runs):
        machine = number.get(told.rows[run.id])
        if machine is not None and run.hood is not None:
            hoods[machine].append(index)
        if machine is not None and run.id == told.rows[run.id]:
            stiff[machine] = index
    trial = Trial(sizing, shop, found, options, tuple(map(tuple, hoods)), tuple(stiff))
    hosed = [trial.hosed(machine) for machine in range(len(stiff))]
    return Asked(
        request=request,
        shopping=shopping,
        design=_flows(request, shop, found, hoods),
        opened=opened(request),
        drop=np.array([_drop(request, machine) for machine in request.machines]),
        hose_price=np.array(
            [
                sum(options.of(hood, shelf)[0].cost for hood in own) if with_hose else 0.0
                for own, with_hose in zip(hoods, hosed, strict=True)
            ]
        ),
        foot=np.array([_foot(request, trial, shopping, machine) for machine in range(len(stiff))]),
        port=np.array(
            [0.0 if with_hose else _port(sizing.runs[own[0]]) for own, with_hose in zip(hoods, hosed, strict=True)]
        ),
        gated=np.array([sizing.runs[own].gate is not None for own in stiff]),
        trial=trial,
        assumed=tuple(_told(item) for item in told.assumed if not _laid_out(item.path)),
        sources=told.sources,
    )


def opened(request: LayoutRequest) -> Opened:
    """Return the states by name: those named, else each machine alone."""
    if request.states:
        return tuple((state.name, state.open) for state in request.states)
    return tuple((machine.id, (machine.id,)) for machine in request.machines)


def collector_of(request: LayoutRequest) -> Collector:
    """Return the collector as an outline has it."""
    return Collector(**{name: getattr(request.collector, name) for name in Collector.__struct_fields__})


def machine_row(request: LayoutRequest, machine: LayoutMachine, **where: Any) -> OutlineMachine:
    """Return the outline's row of a machine."""
    own = {name: getattr(machine, name) for name in _OWN}
    return OutlineMachine(**own, drop=_drop(request, machine), duct=request.duct, **where)


def outline_of(
    request: LayoutRequest, lines: Iterable[OutlineLine], machines: Iterable[OutlineMachine]
) -> OutlineRequest:
    """Return the outline of some lines, in SI."""
    return OutlineRequest(
        units=request.units,
        lines=tuple(lines),
        machines=tuple(machines),
        name=request.name,
        air=request.air,
        dust=request.dust,
        collector=collector_of(request),
        model=request.model,
    )


def line_name(request: LayoutRequest, number: int) -> str:
    """Return the id of a line, the trunk's first, that no machine has."""
    name, taken = f"line-{number + 1}", {machine.id for machine in request.machines}
    while name in taken:
        name += "'"
    return name


def sizing_request(request: LayoutRequest, told: OutlineAnswer, allowance: float = 0.0) -> SizingRequest:
    """Return what sizing is asked of an outline's tree, in SI.

    An allowance leaves flows and velocities as they are and asks for the pressure of so much more air: the fan is told
    slower by as much, for its flow goes with its speed and its pressure with the square, as losses with the flow.

    Args:
        request: in SI.
        told: the outline's answer.
        allowance: share of more air.
    """
    tree = followed(units.to_si(told.tree))[0]
    hoods = [run.id for run in tree.runs if run.hood is not None]
    if allowance > 0.0 and tree.collector is not None and tree.collector.fan is not None:
        fan = tree.collector.fan
        slower = structs.replace(fan, speed_ratio=fan.speed_ratio / (1.0 + allowance))
        tree = structs.replace(tree, collector=structs.replace(tree.collector, fan=slower))
    named = tuple(SizingState(name=name, open=machines) for name, machines in opened(request))
    fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    limits = {name: getattr(request.limits, name) for name in type(request.limits).__struct_fields__}
    if limits["pressure_available"] is not None:
        limits["pressure_available"] /= (1.0 + allowance) ** 2
    return SizingRequest(
        **fields,
        stock=request.stock,
        flows="design",
        states=named,
        rules=SizingRules(
            transport_velocity="must",
            upper_velocity=request.rules.upper_velocity,
            no_narrowing=request.rules.no_narrowing,
        ),
        limits=SizingLimits(**limits),
        fixed=tuple(name for name in hoods if name != told.rows[name]),
    )


def _trial(request: LayoutRequest) -> OutlineRequest:
    """Return an outline of all machines along one straight line, by which their rows are checked and filled in."""
    height, name = float(request.room.duct_height), line_name(request, 0)
    end = _APART * (len(request.machines) + 1)
    trunk = OutlineLine(id=name, path=((0.0, -1.0, height), (0.0, 0.0, height), (end, 0.0, height)), duct=request.duct)
    aside = check("riser-aside").value
    rows = [
        machine_row(request, machine, line=name, at=_APART * (number + 2), off=aside)
        for number, machine in enumerate(request.machines)
    ]
    return outline_of(request, [trunk], rows)


def _drop(request: LayoutRequest, machine: LayoutMachine) -> float:
    """Return the length of a machine's riser, m."""
    return float(request.room.duct_height) - float(machine.place[2]) - rise_of(machine)


def _port(run: Any) -> float:
    return 0.0 if run.hood.port_diameter is None else float(run.hood.port_diameter)


def _foot(request: LayoutRequest, trial: Trial, shopping: Shopping, machine: int) -> Floats:
    """Return what a machine's hoses meet in at the foot of its riser costs, by the riser's diameter."""
    if not trial.hosed(machine):
        return np.zeros(len(shopping.sizes))
    stiff = trial.stiff[machine]
    arms = trial.shop.shape.children[stiff]
    bores = [trial.shop.runs[arm].end for arm in arms]
    meeting = joining(trial.sizing, arms, stiff, kept=False)
    narrow = request.rules.no_narrowing == "must"
    return np.array([
        math.inf if narrow and max(bores) > size * (1.0 + ALIKE) else shopping.cheapest(meeting, bores, size)
        for size in shopping.sizes
    ])  # fmt: skip


def _flows(request: LayoutRequest, shop: Shop, found: tuple[State, ...], hoods: list[list[int]]) -> Flows:
    """Return what each machine takes in each state, and how fast its dust must and may go."""
    flow = np.array(
        [[sum(state.flow[hood] if state.active[hood] else 0.0 for hood in own) for own in hoods] for state in found]
    )
    alone = [[shop.runs[hood].run.hood.flow for hood in own] for own in hoods]  # type: ignore[union-attr]  # each holds one
    least, most = np.zeros(len(hoods)), np.zeros(len(hoods))
    for machine, own in enumerate(hoods):
        dusts = [catalogue.dust(word) for hood in own for word in shop.runs[hood].dust]
        least[machine] = max((dust.transport_velocity for dust in dusts), default=0.0)
        most[machine] = max((dust.upper_velocity for dust in dusts), default=0.0)
    limits = request.limits
    if limits.transport_velocity is not None:
        least[:] = float(limits.transport_velocity)
    if limits.upper_velocity is not None:
        most[:] = float(limits.upper_velocity)
    if request.rules.upper_velocity == "off":
        most[:] = np.inf
    return Flows(flow, least, most, np.array([sum(float(one or 0.0) for one in own) for own in alone]))


def _of_row(fault: Fault) -> Fault:
    """Return a fault of the trial's rows as one of the request."""
    found = _ROW.fullmatch(fault.path)
    if found is None or (found[1] == "machines" and found[3] != "duct"):
        return fault
    return structs.replace(fault, path=found[3] or "machines")


def _of_run(fault: Fault, request: LayoutRequest, told: OutlineAnswer) -> Fault:
    """Return a fault of the trial's runs as one of the request."""
    found = _RUN.fullmatch(fault.path)
    if found is None:
        return fault
    numbers = {machine.id: index for index, machine in enumerate(request.machines)}
    machine = numbers.get(told.rows[told.tree.runs[int(found[1])].id])
    path = "duct" if machine is None or found[2] == "duct" else f"machines[{machine}]"
    return structs.replace(fault, path=path)


def _laid_out(path: str) -> bool:
    """Return whether something was assumed of the trial's line alone."""
    return path == "lines" or path.startswith("lines[") or path.endswith((".at", ".off", ".drop", ".diameter", ".wye"))


def _told(item: Assumed) -> Assumed:
    found = _ROW.fullmatch(item.path)
    return structs.replace(item, path="duct") if found is not None and found[3] == "duct" else item
