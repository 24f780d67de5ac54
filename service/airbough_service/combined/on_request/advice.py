"""Changes of a shop tried by the engine one by one in the state that the answer tells, the most air gained first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import msgspec
from msgspec import structs

from airbough.wire.answer import Advice, Change, HoodResult, RunResult
from airbough.wire.fitting import AbruptChange, Elbow, ElbowPair, Taper
from airbough.wire.quantity import Preset
from airbough.wire.tree import Branch, Run, Tree
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.catalogue.checks import check
from airbough_service.catalogue.sizes import nominal_diameters
from airbough_service.combined.on_request.advice_price import priced
from airbough_service.core import deadline
from airbough_service.core.limits import HOLDS, above, below
from airbough_service.shop import collector
from airbough_service.shop.gates import GateState
from airbough_service.shop.pieces import length_of
from airbough_service.shop.shop import build
from airbough_service.solving.solved_state import Solved, most_starved, solve
from airbough_service.solving.told_state import ToldState
from airbough_service.terms import units
from airbough_service.terms.finding import show
from airbough_service.terms.refusal import Refusal

MOST_TRIED: Final = 60  # changes; those of the runs that lose most
_SMOOTH: Final = "flexible-hose-smooth"


@dataclass(frozen=True, slots=True)
class Trial:
    """One change of one run.

    Attributes:
        text: as a person would say it.
        path: in the document.
        value: as it would stand there, in the preset's unit.
        run: with the change, in SI.
        further: changes that go with it.
        listed: whether a parts list tells what it takes.
    """

    text: str
    path: str
    value: Any
    run: Run
    further: tuple[Change, ...] = ()
    listed: bool = True


def advice(state: ToldState) -> tuple[Advice, ...]:
    """Return what each tried change of a shop brings in the state told, the most air gained first; in SI.

    Left out are changes without gain, and those with which an open machine falls below its design flow or dust
    settles in a run that carried it. Where the request has a stock, each has its price.

    Raises:
        Refusal: faults of the stock.
    """
    request, gates = state.shop.request, GateState(None, dict(state.openings))
    if state.fan is None or not state.known:
        return ()
    before = solve(state.shop, state.fan, gates)
    losing = sorted((run for run in before.runs if not run.idle), key=lambda run: -run.total_loss)
    number = {run.id: run.index for run in state.shop.runs}
    trials = [(number[run.id], trial) for run in losing for trial in _trials(request, number[run.id])]
    tried = [(_tried(state, before, gates, index, trial), index, trial) for index, trial in trials[:MOST_TRIED]]
    found = [(one, index, trial) for one, index, trial in tried if one is not None]
    found.sort(key=lambda one: -one[0].flow_gained)
    gains = [one for one, _, _ in found]
    stock = getattr(request, "stock", None)
    if stock is None:
        return tuple(gains)
    changed = [_with(request, index, trial) if trial.listed else None for _, index, trial in found]
    return priced(request, stock, gains, changed)


def _with(request: Tree, index: int, trial: Trial) -> Tree:
    """Return the tree with one run changed."""
    runs = tuple(trial.run if place == index else run for place, run in enumerate(request.runs))
    return structs.replace(request, runs=runs)


def _tried(state: ToldState, before: Solved, gates: GateState, index: int, trial: Trial) -> Advice | None:
    """Solve the shop with one change; None where it brings nothing, or spoils something."""
    deadline.check()
    request = state.shop.request
    try:
        shop = build(_with(request, index, trial))
        after = solve(shop, collector.build(shop, state.fan_given), gates)
    except Refusal:
        return None
    if not after.runs or _spoils(before, after):
        return None
    gained = float(after.operating.flow[0] - before.operating.flow[0])
    if gained <= HOLDS * float(before.operating.flow[0]):
        return None
    old, new = most_starved(before.hoods), most_starved(after.hoods)
    return Advice(
        text=trial.text,
        run=request.runs[index].id,
        changes=(Change(path=trial.path, value=trial.value), *trial.further),
        flow_gained=gained,
        share_before=None if old is None else old.share_of_design,
        share_after=None if new is None else new.share_of_design,
    )


def _spoils(before: Solved, after: Solved) -> bool:
    """Return whether an open hood falls below its design flow, or dust settles in a run that carried it."""
    starves = any(new.served not in (None, "holds") and old.served == "holds" and _less(new, old)
                  for old, new in zip(before.hoods, after.hoods, strict=True))  # fmt: skip
    return starves or any(_worse(old, new) for old, new in zip(before.runs, after.runs, strict=True))


def _less(new: HoodResult, old: HoodResult) -> bool:
    return new.flow < old.flow


def _worse(old: RunResult, new: RunResult) -> bool:
    """Return whether dust settles in a run that carried it, or more of it where it settled before."""
    if new.carrying in (None, "holds") or new.carrying_ratio is None or old.carrying_ratio is None:
        return False
    return below(new.carrying_ratio, old.carrying_ratio)


def _trials(request: Tree, index: int) -> Iterator[Trial]:
    """Yield the changes that are tried of one run."""
    makers: tuple[Callable[[Tree, int, Run], Iterator[Trial]], ...] = (_wider, _hose, _port, _gentler, _branch, _gate)
    for made in makers:
        yield from made(request, index, request.runs[index])


def _told(kind: str, si: float, preset: Preset) -> float:
    """Return a number as it would be written in a document."""
    return float(f"{units.value(kind, si, preset):.12g}")


def _wider(request: Tree, index: int, run: Run) -> Iterator[Trial]:
    """Yield the next listed diameter, none wider than the run it flows into; the machine's port stays."""
    if any(isinstance(fitting, Taper | AbruptChange) for fitting in run.fittings):
        return
    bore = float(run.diameter)
    wider = next((size for size in nominal_diameters(request.units)[0] if above(size, bore)), None)
    into = next((other for other in request.runs if other.id == run.into), None)
    if wider is None or (into is not None and below(float(into.diameter), wider)):
        return
    hood, further = run.hood, list[Change]()
    if hood is not None and hood.port_diameter is None:
        hood = structs.replace(hood, port_diameter=bore)
        further.append(Change(path=f"runs[{index}].hood.port_diameter", value=_told("diameter", bore, request.units)))
    told = _told("diameter", wider, request.units)
    text = f"{run.id}: {show(request.units, 'diameter', wider)} in place of {show(request.units, 'diameter', bore)}"
    new = structs.replace(run, diameter=wider, hood=hood)
    yield Trial(text, f"runs[{index}].diameter", told, new, tuple(further))


def _hose(request: Tree, index: int, run: Run) -> Iterator[Trial]:
    """Yield a smooth-lined hose in place of another, fully stretched, and half of its length."""
    try:
        kind = None if run.duct is None else catalogue.duct(run.duct).kind
    except UnknownWordError:
        return
    if kind != "hose" or run.roughness is not None:
        return
    if run.duct != _SMOOTH:
        smooth = structs.replace(run, duct=_SMOOTH, stretch=None)
        stretched = () if run.stretch is None else (Change(path=f"runs[{index}].stretch", value=None),)
        text = f"{run.id}: smooth-lined hose, fully stretched"
        yield Trial(text, f"runs[{index}].duct", _SMOOTH, smooth, stretched)
    if run.path is None:
        half = 0.5 * length_of(run)
        rise = None if run.rise is None else 0.5 * float(run.rise)
        told = _told("length", half, request.units)
        text = f"{run.id}: half the hose, {show(request.units, 'length', half)}"
        yield Trial(text, f"runs[{index}].length", told, structs.replace(run, length=half, rise=rise))


def _port(request: Tree, index: int, run: Run) -> Iterator[Trial]:
    """Yield a port as wide as the run, where it is narrower."""
    if run.hood is None or run.hood.port_diameter is None:
        return
    bore, port = float(run.diameter), float(run.hood.port_diameter)
    if below(port, bore):
        told = _told("diameter", bore, request.units)
        text = f"{run.id}: a port of {show(request.units, 'diameter', bore)} at the machine"
        hood = structs.replace(run.hood, port_diameter=bore)
        new = structs.replace(run, hood=hood)
        yield Trial(text, f"runs[{index}].hood.port_diameter", told, new, listed=False)


def _gentler(request: Tree, index: int, run: Run) -> Iterator[Trial]:
    """Yield two elbows of half the angle with a straight between them, in place of each sharp one."""
    for number, fitting in enumerate(run.fittings):
        if not isinstance(fitting, Elbow) or below(float(fitting.angle), check("sharp-turn").value):
            continue
        shared = {name: getattr(fitting, name) for name in ("angle", "radius_ratio", "construction", "count")}
        pair = ElbowPair(**shared, spacer_ratio=check("elbow-spacer").value)
        fittings = (*run.fittings[:number], pair, *run.fittings[number + 1 :])
        half = f"{float(fitting.angle) / 2.0:g}"
        text = f"{run.id}: two elbows of {half} deg, a diameter apart, for one of {float(fitting.angle):g} deg"
        new = structs.replace(run, fittings=fittings)
        if run.path is None:
            yield Trial(text, f"runs[{index}].fittings[{number}]", msgspec.to_builtins(pair), new)
        elif all(isinstance(other, Elbow | ElbowPair) for other in fittings):  # the path gave the turns: all are told
            yield Trial(text, f"runs[{index}].fittings", msgspec.to_builtins(fittings), new)


def _branch(request: Tree, index: int, run: Run) -> Iterator[Trial]:
    """Yield the usual wye in place of a steeper branch."""
    easy = check("easy-branch").value
    if isinstance(run.join, Branch) and above(float(run.join.angle), easy):
        text = f"{run.id}: a wye of {easy:g} deg in place of {float(run.join.angle):g} deg"
        join = structs.replace(run.join, angle=easy)
        yield Trial(text, f"runs[{index}].join.angle", easy, structs.replace(run, join=join))


def _gate(request: Tree, index: int, run: Run) -> Iterator[Trial]:
    """Yield a gate fully open, where it is partly so."""
    if run.gate is not None and float(run.gate.opening) > 0.0 and below(float(run.gate.opening), 1.0):
        gate = structs.replace(run.gate, opening=1.0)
        yield Trial(
            f"{run.id}: its gate fully open", f"runs[{index}].gate.opening", 1.0, structs.replace(run, gate=gate)
        )
