"""What the hoods take out of the room: the operating point where there is a fan, else the design flows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
)
from airbough.wire.make_up_air import MakeUpAirRequest
from airbough.wire.problem import Fault
from airbough_service.judging.state import outcome_findings
from airbough_service.shop import collector
from airbough_service.shop.shop import Shop
from airbough_service.solving.design import design_flows
from airbough_service.solving.operating_point import Solved, solve
from airbough_service.terms.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Exhaust:
    """The exhaust flow [m3/s], where it is from, and what was solved for it."""

    flow: float
    flow_from: Literal["operating-point", "design-flows"]
    runs: tuple[RunResult, ...] = ()
    hoods: tuple[HoodResult, ...] = ()
    findings: tuple[Finding, ...] = ()
    solved: Solved | None = None


def exhaust(shop: Shop, request: MakeUpAirRequest) -> Exhaust:
    """Return the exhaust flow.

    Raises:
        Refusal: a fan beyond its curve; without a fan, an open hood without a design flow.
    """
    if request.collector is None or request.collector.fan is None:
        return _designed(shop)
    solved = solve(shop, collector.build(shop))
    if solved.operating.outcome == "beyond-fan-curve":
        detail = "fan and system cross beyond the curve's points, so the exhaust flow is not known"
        raise Refusal("not-computable", [Fault(path="collector.fan.curve", code="fan-beyond-curve", detail=detail)])
    flow = float(solved.operating.flow[0])
    return Exhaust(flow, "operating-point", solved.runs, solved.hoods, tuple(outcome_findings(solved, None)), solved)


def _designed(shop: Shop) -> Exhaust:
    """Return the sum of the open hoods' design flows."""
    found = design_flows(shop)
    if found.missing:
        raise Refusal("not-computable", found.faults)
    return Exhaust(float(sum(found.flow[root] for root in shop.shape.roots)), "design-flows")
