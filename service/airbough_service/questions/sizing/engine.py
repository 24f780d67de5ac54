"""The sized tree asked again of the engine, state by state, as any caller could."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, TypeAlias

from msgspec import structs

from airbough.wire.answer import Finding
from airbough.wire.problem import Fault
from airbough.wire.tree import (
    Run,
    Tree,
)
from airbough_service.judging.balance_findings import findings as balance_findings
from airbough_service.judging.state_findings import point_findings, state_findings
from airbough_service.questions.sizing.states import State
from airbough_service.shop import collector
from airbough_service.shop.filling import filled
from airbough_service.shop.gates import GateState
from airbough_service.shop.shop import Shop, build, gate_quadratic
from airbough_service.solving.balanced_tree import Balanced, balanced
from airbough_service.solving.solved_state import Solved, solve
from airbough_service.solving.suction import refuse_deep_suction
from airbough_service.terms.refusal import Refusal

_OF_FAN: Final = ("hood-starved", "fan-beyond-curve", "several-operating-points", "all-gates-shut")


AnyState: TypeAlias = Balanced | Solved


@dataclass(frozen=True, slots=True)
class Checked:
    """One state of the sized tree by the engine: at its design flows, and at what the fan moves; None without them."""

    balance: Balanced | None
    solved: Solved | None
    too_deep: bool = False


@dataclass(frozen=True, slots=True)
class Ready:
    """A sized tree in SI, and made ready for the solver with the gates and flows of its document."""

    tree: Tree
    shop: Shop

    def in_state(self, state: State) -> Shop:
        """Return the tree as it would be built of a document with the gates and design flows of a state."""
        shop = self.shop
        request, hoods, _ = filled(in_state(self.tree, state), shop.machines)
        runs = [structs.replace(run, run=own) for run, own in zip(shop.runs, request.runs, strict=True)]
        gate = shop.tree.gate.copy()
        for run in runs:
            if run.run.gate is not None:
                gate[shop.hood_row(run.index)] = gate_quadratic(run, shop.density)
        packed = shop.tree._replace(gate=gate)
        return structs.replace(shop, request=request, hoods=hoods, runs=tuple(runs), tree=packed)


def ready(tree: Tree) -> Ready:
    """Return a sized tree, in SI, made ready for the solver."""
    return Ready(tree, build(tree))


def checked(sized: Ready, states: tuple[State, ...], *, design: bool, fan: bool) -> list[Checked]:
    """Return what the engine says of a sized tree in each state.

    Args:
        sized: the tree.
        states: with their gates and design flows.
        design: whether there are design flows to balance.
        fan: whether there is a fan to find operating points with.
    """
    out = []
    curve = collector.build(sized.shop) if fan else None
    for state in states:
        shop = sized.in_state(state)
        at_design = _balanced(shop) if design else None
        solved, too_deep = None, False
        if curve is not None:
            try:
                solved = solve(shop, curve, GateState(named=state.named))
            except Refusal:  # suction beyond what one density can answer
                too_deep = True
        out.append(Checked(at_design, solved, too_deep))
    return out


def _balanced(shop: Shop) -> Balanced:
    """Return the balance of the sized tree.

    Raises:
        Refusal: where the best bores draw more suction than one density can answer, with what would hold it down.
    """
    try:
        found = balanced(shop, "gates", "square-root", bores=False)
        refuse_deep_suction(shop, found.runs)
    except Refusal as refusal:
        detail = f"{refusal.faults[0].detail}; limit the pressure to have wider diameters chosen"
        fault = Fault(path="limits.pressure_available", code=refusal.faults[0].code, detail=detail)
        raise Refusal(refusal.kind, [fault]) from None
    return found


def in_state(tree: Tree, state: State) -> Tree:
    """Return the tree with its gates and design flows as in a state."""
    runs = []
    for index, run in enumerate(tree.runs):
        if run.gate is not None and index in state.openings:
            run = structs.replace(run, gate=structs.replace(run.gate, opening=state.openings[index]))
        runs.append(run if run.hood is None else _with_flow(run, float(state.design[index])))
    return structs.replace(tree, runs=tuple(runs))


def _with_flow(run: Run, flow: float) -> Run:
    if run.hood is None or flow <= 0.0:
        return run
    return structs.replace(run, hood=structs.replace(run.hood, flow=flow))


def findings(checks: list[Checked], states: tuple[State, ...], *, design: bool) -> list[Finding]:
    """Return the engine's findings; one that every state has alike stands once, the others name their state."""
    by_state = [list(_findings(*pair, design=design)) for pair in zip(checks, states, strict=True)]
    seen = Counter(_key(item) for items in by_state for item in {_key(item): item for item in items}.values())
    out: dict[object, Finding] = {}
    for state, items in zip(states, by_state, strict=True):
        for item in items:
            if seen[_key(item)] == len(states):
                out.setdefault(_key(item), item)
            else:
                named = structs.replace(item, state=state.name)
                out.setdefault((state.name, _key(item)), named)
    return list(out.values())


def _findings(check: Checked, state: State, *, design: bool) -> Iterable[Finding]:
    """Give one state's findings: of the design flows, with what the fan makes of them; or of the fan alone."""
    if check.balance is not None and design:
        yield from balance_findings(check.balance, state.named)
    if check.solved is None:
        return
    found = state_findings(check.solved) if design else point_findings(check.solved)
    yield from (item for item in found if not design or item.code in _OF_FAN)


def _key(item: Finding) -> tuple[str, str | None, str]:
    return (item.code, item.at, item.message)
