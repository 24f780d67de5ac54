"""The chapter of a balance: which path governs, and what each other branch must do to keep it."""

from __future__ import annotations

from collections.abc import Mapping

from airbough.report.blocks import Block, Chapter, Paragraph, Table
from airbough.report.words import bare, heading, percent, quantity, rule
from airbough.wire.balance import BalanceAnswer, BranchBalance


def chapter(answer: BalanceAnswer) -> Chapter:
    """Return the branches that another governs, with what to do at each."""
    units = answer.units
    path = ", ".join(answer.system.governing_path)
    blocks: list[Block] = [Paragraph(f"The path that asks most of the fan: {path}.")]
    unit = units.get("pressure", "")
    rows = [
        (branch.run, bare(branch.pressure, unit), bare(branch.governing_pressure, unit), _to_do(branch, units))
        for branch in answer.branches
        if branch.action != "none"
    ]
    if not rows:
        return Chapter("The balance", [*blocks, Paragraph("No branch needs a gate or another diameter.")])
    headings = ("branch", heading("needs", units, "pressure"), heading("gets", units, "pressure"), "what to do")
    words = "Each branch below needs less suction than it gets at its junction, so more than its design flow would go "
    words += "there and less elsewhere. A gate is told by the share of its area that stays open."
    return Chapter("The balance", [*blocks, Paragraph(words), Table(headings, rows, left=1)])


def _to_do(branch: BranchBalance, units: Mapping[str, str]) -> str:
    """Return what is to be done at a branch, as words."""
    if branch.action == "leave":
        return "leave it: an open gate alone loses more"
    if branch.action == "raise-flow":
        flow = "more air" if branch.flow is None else quantity(branch.flow, units, "flow")
        return f"let it take {flow}"
    if branch.action == "resize":
        return _resized(branch, units)
    loss = "" if branch.gate_loss is None else f", which adds {quantity(branch.gate_loss, units, 'pressure')}"
    at = branch.gate_run or branch.run
    if branch.gate_opening is None:
        return f"a gate in {at}{loss}; no opening of a usual one does"
    travel = (
        "" if branch.gate_travel is None else f", its blade pulled out {percent(branch.gate_travel)} of the diameter"
    )
    return f"gate of {at} {percent(branch.gate_opening)} open{travel}{loss}"


def _resized(branch: BranchBalance, units: Mapping[str, str]) -> str:
    """Return the diameter that a branch should have, as words."""
    if branch.listed_diameter is not None:
        return f"{rule(branch.listed_diameter, units, 'diameter')} in place of its diameter"
    if branch.diameter is not None:
        return f"a diameter of {rule(branch.diameter, units, 'diameter')}, which nobody lists"
    return "another diameter; none was found that does it alone"
