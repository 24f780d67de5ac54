"""Findings of strength: walls that do not hold, with what would, tried by the engine; walls not known."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from airbough.wire.answer import (
    Change,
    Finding,
    Suggestion,
)
from airbough.wire.strength import (
    RunStrength,
    StrengthRequest,
)
from airbough_service.catalogue.gauges import (
    buckling,
    sheets,
)
from airbough_service.core.laws.buckling import greatest_spacing
from airbough_service.core.limits import above
from airbough_service.questions.strength.walls import (
    CLOSEST,
    Allowance,
    KnownWall,
    UnknownWall,
)
from airbough_service.shop.shop import Shop
from airbough_service.terms import units
from airbough_service.terms.finding import (
    finding,
    show,
)

DIGITS: Final = 3  # a suggested spacing or thickness is rounded to these, on the side that holds


def judged(
    shop: Shop,
    request: StrengthRequest,
    known: list[KnownWall | UnknownWall],
    allowed: Allowance,
    strengths: tuple[RunStrength, ...],
) -> list[Finding]:
    """Return the findings of every run's wall."""
    by_run = {strength.run: strength for strength in strengths}
    found = []
    for run, wall in zip(shop.runs, known, strict=True):
        if isinstance(wall, UnknownWall):
            message = f"the wall of {run.id} is not judged: {wall.reason}"
            found.append(finding(request.units, "unknown-wall", message, at=f"runs[{run.index}]", run=run.id))
        elif not by_run[run.id].holds:
            found.append(_too_weak(request, run.index, wall, allowed, by_run[run.id]))
    return found


def _too_weak(
    request: StrengthRequest, index: int, wall: KnownWall, allowed: Allowance, strength: RunStrength
) -> Finding:
    """Return the finding of a wall that does not hold: a danger only where no reserve could decide it."""
    preset = request.units
    beyond = above(strength.worst_suction, strength.buckling_pressure)
    end = ": no reserve is left" if beyond else "; whether it stands is left to that reserve"
    field = "wall_thickness" if wall.gauge is None else "gauge"
    reaches, limit = (show(preset, "pressure", value) for value in (strength.worst_suction, strength.allowable_suction))
    return finding(
        preset,
        "duct-may-collapse" if beyond else "wall-reserve-short",
        f"suction in {strength.run} reaches {reaches}; an ideal round shell of its wall buckles at "
        f"{show(preset, 'pressure', strength.buckling_pressure)}, of which {limit} is left as the estimated limit "
        f"after seams, dents and the safety factor{end}",
        at=f"runs[{index}].{field}",
        run=strength.run,
        state=strength.worst_state,
        quantity="suction",
        kind="pressure",
        value=strength.worst_suction,
        maximum=strength.allowable_suction,
        suggestion=_suggestion(request, index, wall, allowed, strength),
        source=buckling().long.source,
    )


def _suggestion(
    request: StrengthRequest, index: int, wall: KnownWall, allowed: Allowance, strength: RunStrength
) -> Suggestion:
    """Return a heavier gauge that holds, else rings that do."""
    needed = strength.worst_suction / allowed.share
    spacing = _ring_spacing(request, wall, needed)
    for sheet in sheets(wall.material.id) if wall.gauge is not None else ():
        heavier = wall.with_gauge(sheet.gauge, sheet.judged)
        if sheet.judged > wall.thickness and not above(needed, heavier.buckling):
            rings = "" if spacing is None else f", or rings at most {show(request.units, 'length', spacing)} apart"
            change = Change(path=f"runs[{index}].gauge", value=sheet.gauge)
            text = f"{sheet.gauge} gauge{rings}, brings the suction under the estimated limit"
            return Suggestion(text=text, changes=(change,), gain=_gain(request, heavier, allowed))
    if spacing is None:
        return Suggestion(text="no gauge listed here is enough, and rings would stand too close: choose another duct")
    return _rings(request, wall, allowed, strength, spacing)


def _rings(
    request: StrengthRequest, wall: KnownWall, allowed: Allowance, strength: RunStrength, spacing: float
) -> Suggestion:
    """Return rings close enough."""
    rings = {item.run: float(item.spacing) for item in request.stiffening} | {strength.run: spacing}
    value = [{"run": run, "spacing": units.value("length", far, request.units)} for run, far in rings.items()]
    ringed = replace(wall, spacing=spacing)
    return Suggestion(
        text=f"rings at most {show(request.units, 'length', spacing)} apart bring the suction under the estimated "
        "limit",
        changes=(Change(path="stiffening", value=value),),
        gain=_gain(request, ringed, allowed),
    )


def _ring_spacing(request: StrengthRequest, wall: KnownWall, needed: float) -> float | None:
    """Return the greatest ring spacing that holds [m], a round number in the preset; None where it is too close."""
    exact = greatest_spacing(wall.shell, needed)
    assert exact is not None  # an unstiffened tube that holds is not asked about
    told = units.value("length", exact, request.units)
    step = 10.0 ** (math.floor(math.log10(told)) + 1 - DIGITS)
    spacing = exact * (math.floor(told / step) * step / told)
    return spacing if spacing >= CLOSEST * wall.bore else None


def _gain(request: StrengthRequest, wall: KnownWall, allowed: Allowance) -> dict[str, float]:
    """Return what the change brings, in the preset."""
    return {"allowable_suction": units.value("pressure", wall.buckling * allowed.share, request.units)}
