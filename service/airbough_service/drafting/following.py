"""Length, rise and turns of a run that follow from its path, where the caller leaves them out."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final, TypeAlias, TypeVar

import msgspec
from msgspec import Struct, structs

from airbough.wire.answer import Assumed
from airbough.wire.compare import CompareRequest
from airbough.wire.fitting import AbruptChange, Elbow, ElbowPair, HoseBend, RunFitting, SlideGateFitting, Taper
from airbough.wire.quantity import Preset
from airbough.wire.tree import Run, Tree
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.core.laws.polyline import Turn
from airbough_service.drafting.turns import elbows
from airbough_service.shop import paths
from airbough_service.shop.guessed_fan import with_guess
from airbough_service.terms import units

AnyRequest = TypeVar("AnyRequest", bound=Struct)

_MOST: Final = 1024  # corners of which the fitting is remembered
_DIGITS: Final = 6  # of an angle: what a sum of squares leaves beyond is no turn
NO_TURNS: Final = (Taper, AbruptChange, SlideGateFitting)
"""What a caller may list and still leave the turns to the path; a known coefficient may be a turn."""
DRAWN: Final = (Elbow, ElbowPair, HoseBend)
"""What a corner of a path is filled in as."""
Drawn: TypeAlias = Elbow | ElbowPair | HoseBend


def followed(request: AnyRequest) -> tuple[AnyRequest, tuple[Assumed, ...]]:
    """Return a request with what follows from its runs' paths, and each thing filled in; quantities in SI.

    A run whose path is faulty stays as it is: the shop's faults tell it. A request without a tree comes back as it is.
    """
    if isinstance(request, CompareRequest):
        before, after = _tree(request.before)[0], _tree(request.after)[0]
        return structs.replace(request, before=before, after=after), ()
    return _tree(request) if isinstance(request, Tree) else (request, ())


def _tree(request: Any) -> tuple[Any, tuple[Assumed, ...]]:
    """Return a tree and what was filled in."""
    request, told = _with_fan(request)
    if not [run for run in request.runs if run.path is not None]:
        return request, tuple(told)
    runs = []
    for index, run in enumerate(request.runs):
        line = None if run.path is None else paths.centreline(run.path)
        if line is None or line.faults:
            runs.append(run)
            continue
        runs.append(along(run, line))
        told += _assumed(run, runs[-1], f"runs[{index}]", request.units)
    return structs.replace(request, runs=tuple(runs)), tuple(told)


def _with_fan(request: Any) -> tuple[Any, list[Assumed]]:
    """Return a tree whose collector has a fan, guessed where only a few figures of it are known."""
    collector = None if request.collector is None else with_guess(request.collector)
    if collector is None or collector.fan is None:
        return request, []
    curve = units.document(collector.fan, request.units).curve
    reason = "guessed from what the collector is known by; no curve of it"
    said = Assumed(
        path="collector.fan.curve", value=msgspec.to_builtins(curve), reason=reason, source="common-practice"
    )
    return structs.replace(request, collector=collector), [said]


def along(run: Run, line: paths.Centreline) -> Run:
    """Return a run with a faultless path with the length, rise and turns that follow from it."""
    changes: dict[str, Any] = {}
    if run.length is None:
        changes["length"] = line.length
    if run.rise is None:
        changes["rise"] = line.rise
    if not run.fittings or all(isinstance(fitting, NO_TURNS) for fitting in run.fittings):
        changes["fittings"] = _with_turns(run, line.turns, line.length)
    return structs.replace(run, **changes)


def _with_turns(run: Run, turns: tuple[Turn, ...], whole: float) -> tuple[RunFitting, ...]:
    """Return the run's fittings with a turn for each corner, each in the diameter in which it stands."""
    hose = bool(turns) and _hose(run)
    if not run.fittings:
        return tuple([_turn(turn, hose) for turn in turns])
    out: list[RunFitting] = []
    left = [*turns]
    for index, fitting in enumerate(run.fittings):
        if isinstance(fitting, Taper | AbruptChange):
            at = (whole if index else 0.0) if fitting.at is None else float(fitting.at)
            while left and left[0].at <= at:
                out.append(_turn(left.pop(0), hose))
        out.append(fitting)
    return (*out, *(_turn(turn, hose) for turn in left))


def _turn(turn: Turn, hose: bool) -> Drawn:
    """Return the fitting of a corner: an elbow of the usual radius or two, in a hose a bend of the same."""
    return _drawn(round(turn.angle, _DIGITS), hose)


@lru_cache(_MOST)
def _drawn(angle: float, hose: bool) -> Drawn:
    """Return the fitting of a corner of an angle, deg, in a hose or in stiff duct; equal corners have one."""
    ratio = _usual_radius()
    return HoseBend(angle=angle, radius_ratio=ratio) if hose else elbows(angle, ratio)


def _usual_radius() -> float:
    """Return the usual centreline radius of an elbow over its diameter."""
    return float(catalogue.family("elbow").parameters["radius_ratio"].default)  # type: ignore[arg-type]  # a ratio's


def _hose(run: Run) -> bool:
    """Return whether a run is a hose; an unknown word is told by the shop."""
    try:
        return run.duct is not None and catalogue.duct(run.duct).kind == "hose"
    except UnknownWordError:
        return False


def _assumed(written: Run, found: Run, at: str, preset: Preset) -> list[Assumed]:
    """Return what was filled in of one run."""
    out = []
    for name, reason in (("length", "from corner to corner along its path"), ("rise", "from its path")):
        if getattr(written, name) is None:
            value = units.value("length", float(getattr(found, name)), preset)
            out.append(Assumed(path=f"{at}.{name}", value=value, run=written.id, reason=reason))
    for number, fitting in enumerate(found.fittings):
        if len(found.fittings) > len(written.fittings) and isinstance(fitting, DRAWN):
            out.append(_assumed_turn(fitting, f"{at}.fittings[{number}]", written.id))
    return out


def _assumed_turn(fitting: Drawn, at: str, run: str) -> Assumed:
    """Return a turn that was filled in, as it would stand in the document."""
    value, reason = _said_of_turn(fitting)
    return Assumed(path=at, value={**value}, run=run, reason=reason, source="common-practice")


@lru_cache(_MOST)
def _said_of_turn(fitting: Drawn) -> tuple[dict[str, Any], str]:
    """Return a turn as it would stand in the document, and why; nobody may change it."""
    what = "a bend of the hose" if isinstance(fitting, HoseBend) else "an elbow of the usual construction"
    if isinstance(fitting, ElbowPair):
        what = "two elbows of the usual construction, half of it each,"
    reason = f"its path turns here by {fitting.angle:g} deg: {what} with the usual centreline radius"
    return msgspec.to_builtins(fitting), reason
