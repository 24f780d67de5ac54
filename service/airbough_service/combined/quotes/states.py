"""The sized shop in each state of its gates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from msgspec import structs

from airbough.wire.answer import Finding, HoodResult
from airbough.wire.gate_states import GateStatesRequest, StateResult
from airbough.wire.quote import QuotedHood, QuotedState
from airbough.wire.sizing import SizingAnswer, SizingState
from airbough.wire.state import NamedState
from airbough.wire.tree import Run, Tree
from airbough_service.questions.gate_states import question as gate_states
from airbough_service.questions.sizing.states import each_alone
from airbough_service.shop import gates
from airbough_service.shop.shop import build


@dataclass(frozen=True, slots=True)
class InStates:
    """What is told of the states."""

    states: tuple[QuotedState, ...]
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()


def in_states(tree: Tree, asked: tuple[SizingState, ...], sized: SizingAnswer) -> InStates:
    """Return the states asked for, or each machine alone: with a fan as it moves the air, else at design flows."""
    if tree.collector is None or tree.collector.fan is None:
        return InStates(_at_design_flows(tree, asked, sized))
    alike = tuple(_plain(state) for state in asked if not state.flows)
    answers = [_solved(tree, alike or _each_alone(tree))] if alike or not asked else []
    answers += [_solved(_with_flows(tree, state), (_plain(state),)) for state in asked if state.flows]
    order = {state.name: place for place, state in enumerate(asked)}
    told = [state for answer in answers for state in answer.states]
    return InStates(
        tuple(sorted(told, key=lambda state: order.get(state.name, 0))),
        tuple(item for answer in answers for item in answer.findings),
        tuple(dict.fromkeys(text for answer in answers for text in answer.cautions)),
    )


def _solved(tree: Tree, states: tuple[NamedState, ...]) -> InStates:
    """Return states solved with the tree's fan, and what was found in them."""
    fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    answer = gate_states.answer(GateStatesRequest(**fields, states=states, detail="runs", listed=0))
    runs, names = {run.id: run for run in tree.runs}, {state.name for state in states}
    found = tuple(item for item in answer.findings if item.state is None or item.state in names)
    return InStates(tuple(_state(state, runs) for state in answer.states if state.named), found, answer.cautions)


def _with_flows(tree: Tree, state: SizingState) -> Tree:
    """Return the tree with the design flows that a state gives its hoods, by which it was sized."""
    given = state.flows or {}
    return structs.replace(tree, runs=tuple(_with_flow(run, given.get(run.id)) for run in tree.runs))


def _with_flow(run: Run, flow: float | str | None) -> Run:
    if run.hood is None or flow is None:
        return run
    return structs.replace(run, hood=structs.replace(run.hood, flow=flow))


def _plain(state: SizingState) -> NamedState:
    return NamedState(**{name: getattr(state, name) for name in NamedState.__struct_fields__})


def _each_alone(tree: Tree) -> tuple[NamedState, ...]:
    """Return the states that were sized for where none is named."""
    alone = each_alone(build(tree))
    return tuple(
        NamedState(name=str(state.name), open=(str(state.name),) if state.openings else None) for state in alone
    )


def _state(state: StateResult, runs: dict[str, Run]) -> QuotedState:
    return QuotedState(
        name=state.name,
        holds=state.holds,
        outcome=state.outcome,
        flow=state.flow,
        fan_static_pressure=state.fan_static_pressure,
        most_starved_hood=state.most_starved_hood,
        share_of_design=state.share_of_design,
        hoods=tuple(_hood(hood, runs) for hood in state.hoods),
        findings=state.findings,
        fix=state.fix,
    )


def _hood(hood: HoodResult, runs: dict[str, Run]) -> QuotedHood:
    own = runs[hood.run].hood
    return QuotedHood(
        run=hood.run,
        flow=hood.flow,
        open=hood.open,
        machine=hood.machine,
        machine_id=None if own is None else own.machine_id,
        design_flow=hood.design_flow,
        share_of_design=hood.share_of_design,
        served=hood.served,
    )


def _at_design_flows(tree: Tree, asked: tuple[SizingState, ...], sized: SizingAnswer) -> tuple[QuotedState, ...]:
    """Return the states of sizing: each open hood takes its design flow, and no fan is judged."""
    shop = build(tree)
    meant = gates.named_states(shop, asked) or each_alone(shop)
    filled = shop.request  # what machines of the catalogue take is filled in
    given = [_with_flows(filled, state).runs for state in asked] or [filled.runs] * len(meant)
    out = []
    for state, gate_state, runs in zip(sized.states, meant, given, strict=True):
        broken = tuple(dict.fromkeys(item.rule for item in sized.broken if item.state == state.state))
        out.append(
            QuotedState(
                name=state.state,
                holds=not broken,
                flow=state.flow,
                fan_static_pressure=state.fan_static_pressure,
                hoods=_designed(runs, gates.open_hoods(shop, gate_state.openings)),
                findings=tuple(sorted({item.code for item in sized.findings if item.state == state.state})),
            )
        )
    return tuple(out)


def _designed(runs: Sequence[Run], is_open: Sequence[bool]) -> tuple[QuotedHood, ...]:
    """Return the hoods at their design flows; a shut one takes none, whatever leaks into its run."""
    return tuple(
        QuotedHood(
            run=run.id,
            flow=float(run.hood.flow or 0.0) if opened else 0.0,
            open=opened,
            machine=run.hood.machine,
            machine_id=run.hood.machine_id,
            design_flow=None if run.hood.flow is None else float(run.hood.flow),
        )
        for run, opened in zip(runs, is_open, strict=True)
        if run.hood is not None
    )
