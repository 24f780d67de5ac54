"""Findings of one solved state: how fan and system meet, velocities, hoods, suction, motor."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.collector import (
    Fan,
)
from airbough.wire.quantity import Preset
from airbough_service.core.limits import above
from airbough_service.judging import (
    checks,
    retrial,
    shape,
)
from airbough_service.judging import power_findings as motor
from airbough_service.shop.shop import (
    Shop,
)
from airbough_service.solving.motor import supply_of
from airbough_service.solving.power import shaft_of
from airbough_service.solving.solved_state import Solved, end_pressure, power_of
from airbough_service.terms.finding import (
    finding,
    ordered,
    show,
)

Floats = NDArray[np.float64]


def state_findings(solved: Solved, state: str | None = None) -> list[Finding]:
    """Return the findings of this state alone, without those of the tree's shape."""
    shop = solved.shop
    out = outcome_findings(solved, state)
    if solved.operating.crossings:
        out += checks.velocities(shop, solved.runs, solved.openings, state, solved.standing.open)
        out += checks.starved(shop, solved.hoods, state)
        out += checks.transitional(shop, solved.runs)
    if solved.runs:
        out += checks.suction(shop, solved.runs)
    return out


def point_findings(solved: Solved) -> tuple[Finding, ...]:
    """Return every finding of an operating point, in order."""
    shop = solved.shop
    bench = retrial.Bench(shop, solved.runs)
    if solved.operating.crossings:
        bench = retrial.Bench(shop, solved.runs, solved.fan, solved.gate, solved.operating.flow)
    out = [
        *checks.without_dust(shop),
        *with_its_fan(solved),
        *motor.figures_assumed(shop.request.units, supply_of(shop)),
    ]
    if solved.runs:
        out += shape.shape(bench)
    return ordered(out)


def with_its_fan(solved: Solved) -> list[Finding]:
    """Return the findings of a state, of the collector's own fan in it, and of its power."""
    collector = solved.shop.request.collector
    return [*state_findings(solved), *over_speed(solved.shop, collector.fan if collector else None), *powered(solved)]


def powered(solved: Solved, fan: Fan | None = None, state: str | None = None) -> tuple[Finding, ...]:
    """Return the findings of shaft power and motor load in a state; `fan`: not the collector's own."""
    shop, flow = solved.shop, float(solved.operating.flow[0])
    shaft = solved.shaft if fan is None else shaft_of(shop, solved.fan, fan)
    if shaft is None or not solved.known:
        return ()
    if not solved.operating.crossings:
        return motor.assumed(shop.request.units, shaft)
    if not shaft.reaches(flow):
        return (motor.beyond(shop.request.units, shaft, flow, state),)
    found = power_of(solved, fan)
    return (*motor.assumed(shop.request.units, shaft), *motor.overloaded(shop.request, found, state))


def over_speed(shop: Shop, fan: Fan | None, path: str = "collector.fan") -> list[Finding]:
    """Return the danger of a fan asked to run faster than its curve."""
    if fan is None or not above(fan.speed_ratio, 1.0):
        return []
    return [
        finding(
            shop.request.units,
            "fan-above-rated-speed",
            f"the fan runs at {fan.speed_ratio:g} times the speed of its curve; wheel and motor may not stand it",
            at=f"{path}.speed_ratio",
            quantity="speed_ratio",
            value=fan.speed_ratio,
            maximum=1.0,
            suggestion=Suggestion(text="stay at or below the maker's greatest speed; power grows with its cube"),
        )
    ]


def outcome_findings(solved: Solved, state: str | None) -> list[Finding]:
    """Return the findings of the outcome itself."""
    shop, operating = solved.shop, solved.operating
    preset = shop.request.units
    out = [] if any(solved.standing.open) else [_all_shut(solved, state)]
    out += checks.cut_off(shop, solved.openings, solved.named, state)
    if operating.outcome == "beyond-fan-curve":
        return [*out, _beyond_curve(solved, state)]
    if not solved.known:
        out.append(shut_off_not_on_curve(preset, state))
    if operating.outcome == "several-operating-points":
        out.append(
            finding(
                preset,
                "several-operating-points",
                f"fan and system cross {len(operating.crossings)} times; the stable one of least flow is shown",
                at="collector.fan.curve",
                state=state,
                quantity="crossings",
                value=float(len(operating.crossings)),
                maximum=1.0,
                suggestion=Suggestion(text="open further gates to leave the dip of the curve"),
                source=checks.CALLER,
            )
        )
    return out


def shut_off_not_on_curve(preset: Preset, state: str | None = None) -> Finding:
    """Return the finding of a fan whose curve does not begin at no flow."""
    return finding(
        preset,
        "shut-off-not-on-curve",
        "the curve's first point has flow; what the fan does without flow is not known, so no pressure is told",
        at="collector.fan.curve[0].flow",
        state=state,
        suggestion=Suggestion(text="give the curve's point at no flow"),
    )


def _all_shut(solved: Solved, state: str | None) -> Finding:
    """Return the danger of a fan that draws on shut gates: nothing flows, or what leaks past them."""
    preset, flow = solved.shop.request.units, float(solved.operating.flow[0])
    what = f"only {show(preset, 'flow', flow)} leaks in, the duct sees nearly the fan's full suction"
    if solved.operating.outcome == "beyond-fan-curve":
        what = "only what leaks in flows, the duct sees nearly the fan's full suction"
    if solved.operating.outcome == "no-flow":
        what = "no air flows, the duct sees the fan's full suction"
        if solved.known:
            what += f" of {show(preset, 'pressure', solved.fan.static_pressure(0.0))}"
    return finding(
        preset,
        "all-gates-shut",
        f"every way to the fan is shut while it runs: {what}",
        state=state,
        quantity="open_gates",
        value=0.0,
        minimum=1.0,
        suggestion=Suggestion(text="keep one machine's whole way to the fan open whenever it runs"),
        source="common-practice",
    )


def _beyond_curve(solved: Solved, state: str | None) -> Finding:
    """Return the finding of a crossing off the curve: what the fan gives at the curve's end against what is needed."""
    operating, preset = solved.operating, solved.shop.request.units
    high = operating.flow_at_least is not None
    end = operating.flow_at_least if high else operating.flow_at_most
    assert end is not None
    given, needed = end_pressure(solved.fan, end), operating.pressure_needed
    return finding(
        preset,
        "fan-beyond-curve",
        f"fan and system cross at {'more' if high else 'less'} flow than the curve's end, {show(preset, 'flow', end)}; "
        "nothing is extrapolated",
        at="collector.fan.curve",
        state=state,
        quantity="fan_static_pressure",
        kind="pressure",
        value=given,
        maximum=needed if high else None,
        minimum=None if high else needed,
        suggestion=Suggestion(text="give further points of the curve, or change gates or diameters"),
        source=checks.CALLER,
    )


def motor_findings(solved: Solved, fan: Fan) -> tuple[Finding, ...]:
    """Return what a fan to compare asks of the motor; power points are those of the collector's own fan alone."""
    collector = solved.shop.request.collector
    return () if collector is None or collector.power else powered(solved, fan)
