"""A traced tree made a document, sized by the sizing question and solved in every state by that of the gate states."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Final

import msgspec
from msgspec import structs

from airbough.wire.answer import Finding
from airbough.wire.gate_states import GateStatesRequest
from airbough.wire.layout import LayoutStateResult
from airbough.wire.outline import OutlineAnswer, OutlineRequest
from airbough.wire.sizing import SizingAnswer
from airbough.wire.state import NamedState
from airbough.wire.tree import Tree
from airbough_service.combined.layout.asked import Asked, sizing_request
from airbough_service.combined.layout.hanging import hung
from airbough_service.combined.layout.places import Places
from airbough_service.combined.layout.writing import Written, written
from airbough_service.core.choosing.placing.trace import Stretch, Traced
from airbough_service.drafting.following import followed
from airbough_service.questions import sizing
from airbough_service.questions.gate_states import question as gate_states
from airbough_service.questions.outline import question as outlining
from airbough_service.solving.grades import starves
from airbough_service.terms import units
from airbough_service.terms.refusal import Refusal

LEAST: Final = 0.01  # by which the allowance is raised
MOST_ALLOWED: Final = 0.5
PRESSURE: Final = ("design_flow", "pressure_available")


@dataclass(frozen=True, slots=True)
class Tried:
    """A layout.

    Attributes:
        traced: the tree on the lattice.
        outline: in SI.
        rows: which row of the outline each run of the traced tree is of.
        allowance: share of more air for whose pressure it is sized.
        sized: what sizing says.
        tree: sized, in its preset.
        states: solved.
        findings: of sizing, or with a fan of the states.
    """

    traced: Traced
    outline: OutlineRequest
    rows: dict[int, str]
    allowance: float
    sized: SizingAnswer
    tree: Tree
    states: tuple[LayoutStateResult, ...]
    findings: tuple[Finding, ...]

    @property
    def price(self) -> Decimal:
        """What sizing says that it costs, rounded to coins for each entry of the stock."""
        assert self.sized.price is not None
        return self.sized.price

    @property
    def starved(self) -> float | None:
        """The least share of a design flow in any state, where it is below 1 and the fan could give it."""
        short = any(broken.rule in PRESSURE for broken in self.sized.broken)
        shares = [state.share_of_design for state in self.states if state.share_of_design is not None]
        least = min(shares, default=1.0)
        return least if not short and starves(least) else None

    @property
    def broken(self) -> int:
        """How many places break a rule, but for an upper velocity that nobody asked to be kept."""
        return sum((item.rule, item.weight) != ("upper_velocity", "trade") for item in self.sized.broken)

    @property
    def holds(self) -> bool:
        """Whether no rule but an upper velocity is broken, nothing overlaps and every solved state holds."""
        solved = all(state.holds is not False for state in self.states)
        return solved and not self.broken and not self.traced.overlaps

    @property
    def rounded(self) -> Decimal:
        """By how much the price may be rounded up."""
        assert self.sized.price is not None
        entries = {piece.at for run in self.sized.sizes for piece in run.pieces}
        return Decimal(1).scaleb(int(self.sized.price.as_tuple().exponent)) * len(entries) / 2

    @property
    def rank(self) -> tuple[bool, int, Decimal]:
        """What holds first; then the fewest rules broken, states that do not hold and overlaps; then by price."""
        failing = sum(state.holds is False for state in self.states)
        return not self.holds, self.broken + failing + bool(self.traced.overlaps), self.price


def tried(asked: Asked, where: Places, traced: Traced) -> Tried | None:
    """Return a tree sized and solved, for more air where that keeps its states; None where no diameters keep the rules.

    Where the caller says nothing, the allowance is raised while a state starves; it stays 0 where that does not help.
    """
    made = written(asked, where, traced.root)
    try:
        told = hung(asked, outlining.answer(made.outline))
    except Refusal:
        return None
    stated = asked.request.allowance
    allowance = 0.0 if stated is None else float(stated)
    first = found = _sized(asked, traced, made, told, allowance)
    while stated is None and found is not None and found.starved is not None and allowance < MOST_ALLOWED:
        allowance = min(allowance + max(1.0 / found.starved - 1.0, LEAST), MOST_ALLOWED)
        found = _sized(asked, traced, made, told, allowance)
    return min((one for one in (first, found) if one is not None), key=lambda one: one.rank, default=None)


def _sized(asked: Asked, traced: Traced, made: Written, told: OutlineAnswer, allowance: float) -> Tried | None:
    try:
        sized = sizing.answer(sizing_request(asked.request, told, allowance))
    except Refusal:
        return None
    if sized.outcome != "sized" or sized.price is None:
        return None
    tree = structs.replace(msgspec.convert(sized.document, Tree), collector=told.tree.collector)
    states, findings = _states(asked, sized, tree)
    return Tried(traced, made.outline, made.rows, allowance, sized, tree, states, findings)


def unsized(asked: Asked, where: Places, traced: Traced) -> tuple[Finding, ...]:
    """Return what sizing says of a tree that it does not size; its places are of no document that is told."""
    try:
        told = outlining.answer(written(asked, where, traced.root).outline)
        found = sizing.answer(sizing_request(asked.request, told, float(asked.request.allowance or 0.0))).findings
    except Refusal:
        return ()
    return tuple(structs.replace(one, at=None) for one in found)


def _states(asked: Asked, sized: SizingAnswer, tree: Tree) -> tuple[tuple[LayoutStateResult, ...], tuple[Finding, ...]]:
    """Return the layout in every state, and what was found there."""
    opened = dict(asked.opened)
    collector = asked.request.collector
    if collector.fan is None and collector.known_by is None:
        return tuple(
            LayoutStateResult(
                name=state.state,
                open=opened[state.state],
                flow=state.flow,
                fan_static_pressure=state.fan_static_pressure,
            )
            for state in sized.states
        ), sized.findings
    in_si = followed(units.to_si(tree))[0]
    fields = {name: getattr(in_si, name) for name in Tree.__struct_fields__}
    named = tuple(NamedState(name=name, open=machines) for name, machines in asked.opened)
    answered = gate_states.answered(GateStatesRequest(**fields, states=named)).answer
    return tuple(
        LayoutStateResult(
            name=state.name,
            open=opened[state.name],
            flow=state.flow,
            fan_static_pressure=state.fan_static_pressure,
            outcome=state.outcome,
            holds=state.holds,
            share_of_design=state.share_of_design,
            most_starved_hood=state.most_starved_hood,
            transport_margin=state.transport_margin,
        )
        for state in answered.states
        if state.named
    ), answered.findings


def shared(root: Stretch, points: Places) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return the stretches of duct that serve several machines, by the places of their ends, m."""
    lattice, out = points.lattice, []
    for run in root.runs():
        if run.machines & (run.machines - 1) == 0:
            continue
        spots = [(float(lattice.x[point]), float(lattice.y[point])) for point in run.points]
        out += list(pairwise(spots))
    return out
