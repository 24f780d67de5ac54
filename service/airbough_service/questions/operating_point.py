"""POST /v1/trees/operating-point: what really flows in this state of the gates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from msgspec import structs
from numpy.typing import NDArray

from airbough.wire.answer import (
    Finding,
    HoodTold,
    RunTold,
    Suggestion,
)
from airbough.wire.collector import (
    Collector,
    Fan,
)
from airbough.wire.operating_point import (
    Crossing,
    FanOutcome,
    OperatingPointAnswer,
    OperatingPointRequest,
    OperatingPointSystem,
)
from airbough.wire.tree import Tree
from airbough_service.core.laws import fan as curves
from airbough_service.core.network.losses import (
    Losses,
    losses,
)
from airbough_service.core.network.operating import (
    Operating,
    operate,
)
from airbough_service.core.network.tree import dynamic
from airbough_service.judging import (
    checks,
    shape,
)
from airbough_service.shop import collector as fans
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.solving import (
    power,
    tree_answer,
)
from airbough_service.solving.power import Power
from airbough_service.terms import sources
from airbough_service.terms.finding import (
    HOLDS,
    finding,
    ordered,
    show,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Solved:
    """One state solved.

    Attributes:
        shop: the tree.
        fan: what the collector leaves for it.
        gate: gate coefficients by packed row.
        openings: run number -> opening where the state departs from the document.
        operating: outcome and flows.
        losses: by packed row.
        runs, hoods: told, in SI; empty beyond the curve.
    """

    shop: Shop
    fan: curves.Fan
    gate: Floats
    openings: dict[int, float]
    operating: Operating
    losses: Losses
    runs: tuple[RunTold, ...]
    hoods: tuple[HoodTold, ...]


def solve(shop: Shop, fan: curves.Fan, openings: dict[int, float] | None = None) -> Solved:
    """Solve one state of the gates.

    Raises:
        Refusal: suction beyond what one density can answer.
    """
    gate = shop.gates(openings)
    operating = operate(shop.tree, fan, gate)
    at_fan = fan.left_for_tree(float(operating.flow[0])) if operating.outcome != "beyond-fan-curve" else 0.0
    parts = losses(shop.tree, gate, operating.flow, at_fan)
    runs: tuple[RunTold, ...] = ()
    hoods: tuple[HoodTold, ...] = ()
    if operating.outcome != "beyond-fan-curve":
        runs = tree_answer.runs(shop, parts, operating.flow, openings)
        hoods = tree_answer.hoods(shop, parts, operating.flow, openings)
        checks.refuse_deep_suction(shop, runs)
    return Solved(shop, fan, gate, openings or {}, operating, parts, runs, hoods)


def answer(request: OperatingPointRequest) -> OperatingPointAnswer:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of tree and fan.
    """
    shop = build(request)
    if request.fans:
        return _several(shop, request)
    solved = solve(shop, fans.build(shop))
    return _answer(request, solved, findings(solved))


def _several(shop: Shop, request: OperatingPointRequest) -> OperatingPointAnswer:
    """Answer for several fans: the document's own fan, or else the first, gives the runs."""
    collector = request.collector or Collector()
    each = [solve(shop, fans.build(shop, named.fan, f"fans[{index}].fan")) for index, named in enumerate(request.fans)]
    main = each[0] if collector.fan is None else solve(shop, fans.build(shop))
    outcomes = tuple(
        _outcome(named.name, named.fan, f"fans[{index}]", solved)
        for index, (named, solved) in enumerate(zip(request.fans, each, strict=True))
    )
    return structs.replace(_answer(request, main, findings(main)), fans=outcomes)


def _outcome(name: str, fan: Fan, path: str, solved: Solved) -> FanOutcome:
    """Return what one of several fans brings."""
    worst, whole = most_starved(solved.hoods), system(solved)
    found = ordered([*state_findings(solved), *over_speed(solved.shop, fan, f"{path}.fan"), *_motor(solved, fan)])
    return FanOutcome(
        fan=name,
        outcome=solved.operating.outcome,
        flow=whole.flow,
        fan_static_pressure=whole.fan_static_pressure,
        findings=tuple(dict.fromkeys(item.code for item in found)),
        most_starved_hood=None if worst is None else worst.run,
        share_of_design=None if worst is None else worst.share_of_design,
    )


def most_starved(hoods: tuple[HoodTold, ...]) -> HoodTold | None:
    """Return the open hood with the least share of its design flow."""
    known = [hood for hood in hoods if hood.open and hood.share_of_design is not None]
    return min(known, key=lambda hood: hood.share_of_design or 0.0, default=None)


def slowest(runs: tuple[RunTold, ...]) -> RunTold | None:
    """Return the run with the slowest air of those where air flows."""
    return min((run for run in runs if not run.idle and run.flow > 0.0), key=lambda run: run.velocity, default=None)


def state_findings(solved: Solved, state: str | None = None) -> list[Finding]:
    """Return the findings of this state alone, without those of the tree's shape."""
    shop = solved.shop
    out = outcome_findings(solved, state)
    if solved.operating.crossings:
        out += checks.velocities(shop, solved.runs, solved.openings, state)
        out += checks.starved(shop, solved.hoods, state)
        out += checks.transitional(shop, solved.runs)
    if solved.runs:
        out += checks.suction(shop, solved.runs)
    return out


def findings(solved: Solved) -> tuple[Finding, ...]:
    """Return every finding of an operating point, in order."""
    shop, collector = solved.shop, solved.shop.request.collector
    bench = shape.Bench(shop, solved.runs)
    if solved.operating.crossings:
        bench = shape.Bench(shop, solved.runs, solved.fan, solved.gate, solved.operating.flow)
    out = state_findings(solved) + checks.without_dust(shop) + over_speed(shop, collector.fan if collector else None)
    out += powered(solved)[1]
    if solved.runs:
        out += shape.shape(bench)
    return ordered(out)


def _motor(solved: Solved, fan: Fan) -> tuple[Finding, ...]:
    """Return what a fan to compare asks of the motor; power points are those of the collector's own fan alone."""
    collector = solved.shop.request.collector
    return () if collector is None or collector.power else powered(solved, fan)[1]


def powered(solved: Solved, fan: Fan | None = None) -> tuple[Power | None, tuple[Finding, ...]]:
    """Return shaft power and motor load at the operating point, and their findings; `fan`: not the collector's own."""
    if not solved.operating.crossings:
        return None, ()
    shop, flow = solved.shop, float(solved.operating.flow[0])
    own = shop.request.collector.fan if shop.request.collector is not None else None
    outlet = dynamic(shop.density, fans.outlet_diameter(shop, fan or own)) * flow * flow
    return power.powered(shop.request, shop, flow, solved.fan.static_pressure(flow) + outlet)


def over_speed(shop: Shop, fan: Fan | None, path: str = "collector.fan") -> list[Finding]:
    """Return the danger of a fan asked to run faster than its curve."""
    if fan is None or fan.speed_ratio <= 1.0 + HOLDS:
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
    if operating.outcome == "beyond-fan-curve":
        return [_beyond_curve(solved, state)]
    out = [] if tree_answer.way_open(shop, solved.openings) else [_all_shut(solved, state)]
    if operating.outcome == "several-operating-points":
        out.append(
            finding(
                preset,
                "several-operating-points",
                f"fan and system cross {len(operating.crossings)} times; the stable one of least flow is told",
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


def _all_shut(solved: Solved, state: str | None) -> Finding:
    """Return the danger of a fan that draws on shut gates: nothing flows, or what leaks past them."""
    preset, flow = solved.shop.request.units, float(solved.operating.flow[0])
    what = f"only {show(preset, 'flow', flow)} leak in, the duct sees nearly the fan's full suction"
    if solved.operating.outcome == "no-flow":
        what = "no air flows, the duct sees the fan's full suction"
        if solved.fan.lowest == 0.0:
            what += f" of {show(preset, 'pressure', solved.fan.static_pressure(0.0))}"
    return finding(
        preset,
        "all-gates-shut",
        f"every gate is shut while the fan runs: {what}",
        state=state,
        quantity="open_gates",
        value=0.0,
        minimum=1.0,
        suggestion=Suggestion(text="keep one gate open whenever the fan runs"),
        source="common-practice",
    )


def _beyond_curve(solved: Solved, state: str | None) -> Finding:
    """Return the finding of a crossing off the curve: what the fan gives at the curve's end against what is needed."""
    operating, preset = solved.operating, solved.shop.request.units
    high = operating.flow_at_least is not None
    end = operating.flow_at_least if high else operating.flow_at_most
    assert end is not None
    given, needed = solved.fan.static_pressure(end), operating.pressure_needed
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
        suggestion=Suggestion(text="give further points of the curve, or change gates or bores"),
        source=checks.CALLER,
    )


def _answer(request: Tree, solved: Solved, items: tuple[Finding, ...]) -> OperatingPointAnswer:
    """Put the answer together, in SI."""
    shop = solved.shop
    extra = [item.code for item in items if item.code in _caution_words()]
    return OperatingPointAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=shop.air,
        name=request.name,
        outcome=solved.operating.outcome,
        runs=solved.runs,
        hoods=solved.hoods,
        system=system(solved),
        findings=items,
        sources=sources.told((passport.source, passport.how) for passport in tree_answer.used(shop)),
        cautions=tree_answer.cautions(shop, extra),
    )


def _caution_words() -> frozenset[str]:
    """Return the findings that bring a caution of the same name."""
    return frozenset({"nonconductive-duct", "fine-dust-returned-to-room", "combustion-appliance-backdraft"})


def system(solved: Solved) -> OperatingPointSystem:
    """Return the system as a whole, in SI."""
    shop, operating, fan = solved.shop, solved.operating, solved.fan
    at_fan = float(operating.flow[0])
    worst, slow = most_starved(solved.hoods), slowest(solved.runs)
    rest: dict[str, Any] = {}
    if operating.crossings:
        spent = powered(solved)[0]
        rest = {
            "shaft_power": None if spent is None else spent.shaft_power,
            "motor_load": None if spent is None else spent.motor_load,
            "mass_residual": solved.losses.mass_residual,
            "energy_residual": solved.losses.energy_residual,
            "most_starved_hood": None if worst is None else worst.run,
            "slowest_run": None if slow is None else slow.id,
        }
    if operating.outcome != "beyond-fan-curve":
        rest |= {
            "flow": at_fan,
            "fan_static_pressure": fan.static_pressure(at_fan),
            "inlet_static_pressure": min(solved.runs[root].static_pressure for root in shop.shape.roots),
            "collector_loss": fan.collector_loss(at_fan),
            "discharge_loss": discharge_loss(solved),
        }
    return OperatingPointSystem(
        crossings=tuple(Crossing(flow=c.flow, pressure=c.pressure, stable=c.stable) for c in operating.crossings),
        flow_at_least=operating.flow_at_least,
        flow_at_most=operating.flow_at_most,
        pressure_needed=operating.pressure_needed,
        **rest,
    )


def discharge_loss(solved: Solved) -> float:
    """Return the total pressure lost after the fan, less the outlet's velocity pressure, Pa."""
    if not solved.shop.discharge:
        return 0.0
    rows = len(solved.shop.discharge)
    lost = float(solved.losses.total[:rows].sum())
    return lost - solved.fan.recovery * float(solved.operating.flow[0]) ** 2
