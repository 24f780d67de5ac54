"""What a drawing of a tree shows: the operating point, else the design flows, else sizes alone."""

from __future__ import annotations

import numpy as np

from airbough.wire.answer import (
    Finding,
    HoodResult,
    RunResult,
)
from airbough.wire.drawing import DrawingRequest
from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Branch,
    Straight,
)
from airbough_service.core.network.losses import losses
from airbough_service.core.network.operating import Operating
from airbough_service.judging import (
    checks,
    fan_findings,
    retrial,
)
from airbough_service.judging import (
    shape as geometry,
)
from airbough_service.judging.state_findings import point_findings
from airbough_service.questions.drawing.numbering import by_code
from airbough_service.questions.drawing.picture import (
    DrawnRun,
    Remark,
    TreePicture,
)
from airbough_service.questions.drawing.schedule import percent
from airbough_service.questions.drawing.text import quantity
from airbough_service.shop import collector, gates
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.solving import tree_answer
from airbough_service.solving.design import by_row, design_flows
from airbough_service.solving.grades import starves
from airbough_service.solving.solved_state import most_starved, solve
from airbough_service.terms.finding import ordered, plain
from airbough_service.terms.refusal import Refusal

_SQUARE = 75.0  # degrees from which a branch is drawn at a right angle
Told = tuple[tuple[str, ...], tuple[RunResult, ...], tuple[HoodResult, ...], tuple[Finding, ...]]


def picture(request: DrawingRequest, shop: Shop) -> tuple[TreePicture, tuple[Finding, ...]]:
    """Return what to draw, and the findings that it marks.

    Raises:
        Refusal: more than one state, an unknown id in it, faults of the fan.
    """
    if len(request.states) > 1:
        detail = "a tree is drawn in one state of the gates"
        raise Refusal("not-a-duct-tree", [Fault(path="states", code="one-state-a-drawing", detail=detail)])
    states = gates.named_states(shop, request.states)
    state = states[0] if states else gates.AS_STATED
    lines, runs, hoods, findings = _told(request, shop, state)
    remarks = by_code(findings, [run.id for run in shop.runs])
    if request.states:
        lines = (f"State of the gates: {state.name}", *lines)
    return TreePicture(
        title=request.name or "Duct tree",
        lines=(*lines, air_line(shop)),
        preset=request.units,
        runs=_runs(shop, state.openings, runs, hoods, remarks),
        remarks=remarks,
    ), findings


def air_line(shop: Shop) -> str:
    """Return the air, and the dust, as words."""
    preset = shop.request.units
    air = f"Air at {quantity('density', shop.density, preset)}"
    return f"{air}; dust: {plain(shop.request.dust)}" if shop.request.dust else air


def _told(request: DrawingRequest, shop: Shop, state: gates.GateState) -> Told:
    """Return the lines under the title, runs and hoods where flows are known, and findings."""
    if request.collector is not None and request.collector.fan is not None:
        solved = solve(shop, collector.build(shop), state)
        lines = outcome_lines(solved.operating, request.units)
        worst = most_starved(solved.hoods)
        if worst is not None and worst.share_of_design is not None:
            share = percent(worst.share_of_design)
            lines = (*lines, f"{_served(solved.hoods, worst.share_of_design)}: {worst.run}, {share} of its design flow")
        guess = fan_findings.of(request.units, request.collector)
        return lines, solved.runs, solved.hoods, ordered([*point_findings(solved), *guess])
    design, openings = design_flows(shop, state.openings), state.openings
    if design.missing:
        still = np.zeros(shop.tree.table.shape[0])
        standing = gates.standing(shop, openings)
        runs = tree_answer.runs(shop, losses(shop.tree, shop.gates(openings), still, 0.0), still, standing)
        found = geometry.shape(retrial.Bench(shop, runs)) + checks.without_dust(shop)
        found += checks.cut_off(shop, openings, state.named)
        return ("Sizes only: no fan, and not every open hood has a design flow",), (), (), ordered(found)
    flow = by_row(shop, design, openings)
    parts = losses(shop.tree, shop.gates(openings), flow, 0.0)
    standing = gates.standing(shop, openings)
    runs, hoods = (
        tree_answer.runs(shop, parts, flow, standing),
        tree_answer.hoods(shop, parts, flow, standing.open),
    )
    found = checks.velocities(shop, runs, openings) + checks.without_dust(shop)
    found += geometry.shape(retrial.Bench(shop, runs)) + checks.cut_off(shop, openings, state.named)
    total = float(sum(design.flow[root] for root in shop.shape.roots))
    return (f"Design flows, {quantity('flow', total, request.units)} in all; no fan",), runs, hoods, ordered(found)


def _served(hoods: tuple[HoodResult, ...], least: float) -> str:
    """Return what is said of the open hood with the least share of its design flow, and with it of all others."""
    if starves(least):
        return "Most starved hood"
    if all(hood.share_of_design is not None for hood in hoods if hood.open):
        return "Every open hood gets its design flow; the least served"
    return "Each open hood of a known design flow gets it; the least served"


def outcome_lines(operating: Operating, preset: str) -> tuple[str, ...]:
    """Return an operating point as words."""
    stable = [crossing for crossing in operating.crossings if crossing.stable] or list(operating.crossings)
    if stable:
        point = f"{quantity('flow', stable[0].flow, preset)} at {quantity('pressure', stable[0].pressure, preset)}"
        point += " fan static pressure"
        if len(operating.crossings) == 1:
            return (f"Operating point: {point}",)
        return (f"{len(operating.crossings)} operating points; drawn is the stable one of least flow: {point}",)
    if operating.outcome == "no-flow":
        return ("No flow: no path from a hood to the fan is open",)
    if operating.flow_at_least is not None:
        bound = f"at least {quantity('flow', operating.flow_at_least, preset)}"
    else:
        bound = f"at most {quantity('flow', operating.flow_at_most or 0.0, preset)}"
    return (f"Beyond the fan's curve: {bound}; the flow of each run is not known",)


def _runs(
    shop: Shop, openings: dict[int, float], runs: tuple[RunResult, ...], hoods: tuple[HoodResult, ...],
    remarks: tuple[Remark, ...],
) -> tuple[DrawnRun, ...]:  # fmt: skip
    marks: dict[str, list[int]] = {}
    for remark in remarks:
        for place in remark.places:
            marks.setdefault(place, []).append(remark.number)
    at_hood = {hood.run: hood for hood in hoods}
    return tuple(
        _run(shop, run, openings, runs[run.index] if runs else None, at_hood.get(run.id), tuple(marks.get(run.id, ())))
        for run in shop.runs
    )


def _run(
    shop: Shop, run: ShopRun, openings: dict[int, float], answer: RunResult | None, hood: HoodResult | None,
    marks: tuple[int, ...],
) -> DrawnRun:  # fmt: skip
    parent = shop.shape.parents[run.index]
    join, gate, asked = run.run.join, run.run.gate, run.run.hood
    design = None if asked is None or asked.flow is None else float(asked.flow)
    return DrawnRun(
        id=run.id,
        into=parent if parent >= 0 else None,
        start=run.start,
        end=run.end,
        length=run.length,
        straight=isinstance(join, Straight),
        square=isinstance(join, Branch) and float(join.angle) >= _SQUARE,
        hose=run.wall.duct is not None and run.wall.duct.kind == "hose",
        machine=_machine(run),
        flow=None if answer is None else answer.flow,
        velocity=None if answer is None else answer.velocity,
        design_flow=design,
        share=hood.share_of_design if hood is not None and hood.open else None,
        idle=answer is not None and answer.idle,
        opening=None if gate is None else openings.get(run.index, float(gate.opening)),
        remarks=marks,
    )


def _machine(run: ShopRun) -> str:
    hood = run.run.hood
    if hood is None:
        return ""
    if hood.machine is None:
        return hood.machine_id or ""
    machine = plain(hood.machine)
    return machine if hood.machine_id is None or plain(hood.machine_id) == machine else f"{hood.machine_id}, {machine}"
