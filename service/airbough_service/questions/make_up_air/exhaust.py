"""What the hoods take out of the room: the operating point where there is a fan, else the design flows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
)
from airbough.wire.make_up_air import MakeUpAirRequest
from airbough.wire.problem import Fault
from airbough_service.core.laws import make_up_air as laws
from airbough_service.core.network.operating import operate
from airbough_service.judging import checks
from airbough_service.judging.state_findings import outcome_findings
from airbough_service.shop import collector
from airbough_service.shop.shop import Shop
from airbough_service.solving.design import by_row, design_flows
from airbough_service.solving.solved_state import Solved, solve
from airbough_service.terms.refusal import Refusal

ALIKE: Final = 1.0e-12  # share of a flow within which two rounds are one
MOST_ROUNDS: Final = 200


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


@dataclass(frozen=True, slots=True)
class Settled:
    """Where fan and room meet: what is still exhausted [m3/s], and by how much the room is drawn down [Pa]."""

    flow: float
    depressurization: float


def settled(solved: Solved, known: laws.Envelope, share: float) -> Settled | None:
    """Return what the fan exhausts against the depressurisation that it causes; None where its curve has no such point.

    The fan draws from the room as through one more loss in series, so that the room is put on its curve as a loss with
    the square of the flow, again until both give the same depressurisation.

    Args:
        solved: the tree with the room at the pressure of outdoors.
        known: what lets air into the room.
        share: of the exhaust that comes back through the collector.
    """
    shop, flow = solved.shop, float(solved.operating.flow[0])
    for _ in range(MOST_ROUNDS):
        drawn = laws.depressurisation(known, flow * (1.0 - share), shop.density)
        room = np.array([[drawn / (flow * flow), 2.0]])
        fan = replace(solved.fan, terms=np.vstack((solved.fan.terms, room)))
        found = operate(shop.tree, fan, solved.gate)
        if not found.crossings:
            return None
        last, flow = flow, float(found.flow[0])
        if abs(flow - last) <= ALIKE * last:
            return Settled(flow, laws.depressurisation(known, flow * (1.0 - share), shop.density))
    return None


def _designed(shop: Shop) -> Exhaust:
    """Return the sum of the open hoods' design flows, with what then leaks in."""
    found = design_flows(shop)
    if found.missing:
        raise Refusal("not-computable", found.faults)
    return Exhaust(float(by_row(shop, found)[0]), "design-flows", findings=tuple(checks.cut_off(shop, {})))
