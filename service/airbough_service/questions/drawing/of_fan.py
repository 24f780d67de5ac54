"""What a diagram of a fan shows: its curve, and each state's system curve and crossings."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from airbough.wire.answer import Finding
from airbough.wire.drawing import DrawingRequest
from airbough_service.core.laws.fan import Fan
from airbough_service.core.network.operating import system_curve
from airbough_service.judging import fan_findings
from airbough_service.judging.state_findings import outcome_findings
from airbough_service.questions.drawing.numbering import by_code
from airbough_service.questions.drawing.of_tree import air_line
from airbough_service.questions.drawing.picture import (
    Crossed,
    DrawnState,
    FanPicture,
)
from airbough_service.questions.drawing.text import number, quantity, unit
from airbough_service.shop import collector, gates
from airbough_service.shop.shop import Shop
from airbough_service.solving.solved_state import Solved, solve
from airbough_service.terms.finding import ordered, plain

_SAMPLES: Final = 160
_PAST_THE_END: Final = 1.4
_NO_PRESSURE: Final = 1.0e-9  # Pa: what a cubic leaves at its last point
_MOST_POINTS: Final = 12  # of a curve, told in words
_OWN: Final = "as in the document"


def picture(request: DrawingRequest, shop: Shop) -> tuple[FanPicture, tuple[Finding, ...]]:
    """Return what to draw, and the findings that it tells.

    Raises:
        Refusal: faults of the fan, unknown ids in a state.
    """
    fan = collector.build(shop)
    names = [_OWN, *(state.name for state in request.states)]
    solved = [solve(shop, fan, state) for state in (gates.AS_STATED, *gates.named_states(shop, request.states))]
    findings = ordered(finding for name, one in zip(names, solved, strict=True) for finding in _findings(one, name))
    return FanPicture(
        title=f"{request.name}: fan and system" if request.name else "Fan and system",
        lines=(_fan_line(request), _given_line(request), air_line(shop)),
        preset=request.units,
        fan=_curve(fan),
        points=() if _guessed(request) else _points(fan),
        states=tuple(_state(name, one) for name, one in zip(names, solved, strict=True)),
        remarks=by_code(findings, [run.id for run in shop.runs], by_state=True),
    ), findings


def _findings(solved: Solved, name: str) -> list[Finding]:
    """Return the findings on how fan and system meet; those of runs and hoods belong to the drawing of the tree."""
    return [*fan_findings.of(solved.shop.request.units, solved.shop.request.collector), *outcome_findings(solved, name)]


def _guessed(request: DrawingRequest) -> bool:
    """Return whether no curve of the fan is given."""
    return request.collector is not None and request.collector.known_by is not None


def _fan_line(request: DrawingRequest) -> str:
    fan = request.collector.fan if request.collector is not None else None
    assert fan is not None
    rated, speed = plain(fan.rated_as), f"{fan.speed_ratio:g}"
    if _guessed(request):
        return f"A guess, no curve of the maker's, drawn as fan static pressure at this air; speed ratio {speed}"
    return f"Fan rated as {rated}, drawn as fan static pressure at this air; speed ratio {speed}"


def _given_line(request: DrawingRequest) -> str:
    """Return the points as the fan's maker gives them, in the maker's own terms and rated air."""
    fan = request.collector.fan if request.collector is not None else None
    assert fan is not None
    if _guessed(request):
        return "Given are a few figures of the collector; its curve was guessed from them, and has the band told below"
    told = [(float(point.pressure), float(point.flow)) for point in fan.curve[:_MOST_POINTS]]
    preset = request.units
    points = [f"{quantity('pressure', pressure, preset)} at {number('flow', flow, preset)}" for pressure, flow in told]
    more = f" and {len(fan.curve) - _MOST_POINTS} more" if len(fan.curve) > _MOST_POINTS else ""
    air = "the air given" if fan.rated_air is not None else "standard air"
    return f"Given as {plain(fan.rated_as)} at {air}: {', '.join(points)} {unit('flow', request.units)}{more}"


def _points(fan: Fan) -> tuple[tuple[float, float], ...]:
    """Return the given points at this speed and air, those of negative pressure left out."""
    flows = [fan.lowest, *(float(end) for end in fan.pieces[:, 1])]
    return tuple((flow, pressure) for flow in flows if (pressure := fan.static_pressure(flow)) >= 0.0)


def _curve(fan: Fan) -> tuple[tuple[float, float], ...]:
    flows = np.unique(np.concatenate([np.linspace(a, b, 24) for a, b in fan.pieces[:, :2]]))
    told = ((float(flow), fan.static_pressure(float(flow))) for flow in flows)
    return tuple((flow, 0.0 if abs(pressure) < _NO_PRESSURE else pressure) for flow, pressure in told)


def _state(name: str, solved: Solved) -> DrawnState:
    operating = solved.operating
    if operating.outcome == "no-flow":
        return DrawnState(name, ())
    beyond: Literal["", "high", "low"] = ""
    off = None
    if operating.outcome == "beyond-fan-curve":
        beyond = "high" if operating.flow_at_least is not None else "low"
        end = operating.flow_at_least if operating.flow_at_least is not None else operating.flow_at_most
        off = Crossed(end or 0.0, operating.pressure_needed or 0.0)
    crossings = tuple(Crossed(crossing.flow, crossing.pressure, crossing.stable) for crossing in operating.crossings)
    return DrawnState(name, _needed(solved), crossings, off, beyond)


def _needed(solved: Solved) -> tuple[tuple[float, float], ...]:
    """Return the fan static pressure that the system needs, from no flow to past the curve's end."""
    shop, fan = solved.shop, solved.fan
    flows = fan.highest * _PAST_THE_END * np.linspace(0.0, 1.0, _SAMPLES)
    over_tree = np.asarray(system_curve(shop.tree.table, shop.tree.links, solved.gate, flows))
    out: list[tuple[float, float]] = []
    for flow, pressure in zip(flows.tolist(), over_tree.tolist(), strict=True):
        if np.isfinite(pressure):
            out.append((flow, pressure + fan.collector_loss(flow) - fan.recovery * flow * flow))
    return tuple(out)
