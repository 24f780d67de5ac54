"""Findings of the fan's power: an overloaded motor, power points that do not reach."""

from __future__ import annotations

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.quantity import Preset
from airbough.wire.tree import Tree
from airbough_service.catalogue.power import power_shape
from airbough_service.solving.motor import Supply
from airbough_service.solving.power import Power, Shaft, overloads
from airbough_service.terms.finding import (
    finding,
    show,
)


def overloaded(request: Tree, found: Power | None, state: str | None = None) -> tuple[Finding, ...]:
    """Return `motor-overloaded` where the shaft takes more than the motor's rated power."""
    if found is None or found.motor_load is None or not overloads(found.motor_load):
        return ()
    assert request.collector is not None
    assert request.collector.motor is not None
    rated = float(request.collector.motor.rated_power)
    overloaded = finding(
        request.units,
        "motor-overloaded",
        f"the shaft takes {show(request.units, 'power', found.shaft_power)}, more than the motor's rated "
        f"{show(request.units, 'power', rated)}: it may overheat or trip",
        at="collector.motor.rated_power",
        state=state,
        quantity="shaft_power",
        kind="power",
        value=found.shaft_power,
        maximum=rated,
        suggestion=Suggestion(text="a motor of more power, a slower fan, or less flow by partly shut gates"),
        source="caller",
    )
    return (overloaded,)


def figures_assumed(preset: Preset, supply: Supply | None) -> tuple[Finding, ...]:
    """Return the note that the motor's current rests on a usual efficiency or power factor, where it does."""
    if supply is None or not supply.assumed:
        return ()
    taken = " and ".join(f"{name.replace('_', ' ')} {getattr(supply, name):g}" for name in supply.assumed)
    told = finding(
        preset,
        "motor-figures-assumed",
        f"the motor's current, {show(preset, 'current', supply.current(supply.rated))} at its rated power, rests on a "
        f"usual {taken}, within about {100.0 * supply.usual.passport.spread:.0f} %; starting takes several times as "
        "much",
        at="collector.motor",
        quantity="motor_full_load_current",
        kind="current",
        value=supply.current(supply.rated),
        suggestion=Suggestion(text="go by the amps on the nameplate; an electrician chooses wire, plug and breaker"),
        source=supply.usual.passport.source,
    )
    return (told,)


def beyond(preset: Preset, shaft: Shaft, flow: float, state: str | None) -> Finding:
    """Return the finding of a flow beyond the power points."""
    low = flow < shaft.lowest
    return finding(
        preset,
        "power-beyond-points",
        "the power points do not reach this flow, and nothing is extrapolated",
        at="collector.power",
        state=state,
        quantity="flow",
        kind="flow",
        value=flow,
        minimum=shaft.lowest if low else None,
        maximum=None if low else shaft.highest,
    )


def assumed(preset: Preset, shaft: Shaft) -> tuple[Finding, ...]:
    """Return the note that one efficiency was taken for that of the best point; none where power points are given."""
    if shaft.best is None or shaft.best.flow <= 0.0:
        return ()
    shape, flow = power_shape(), shaft.best.flow
    return (
        finding(
            preset,
            "efficiency-shape-assumed",
            f"the efficiency given is taken for that of the fan's best point, {show(preset, 'flow', flow)}, where flow "
            f"times static pressure is greatest on its curve; away from it power follows a published shape, down to "
            f"{shape.shape.floor:g} of the best point's without flow ({shape.low:g} to {shape.high:g})",
            at="collector.efficiency",
            quantity="best_flow",
            kind="flow",
            value=flow,
            suggestion=Suggestion(text="give the fan's power points, above all at little flow"),
            source=shape.passports[0].source,
        ),
    )
