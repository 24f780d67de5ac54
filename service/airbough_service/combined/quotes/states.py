"""The sized shop in each state of its gates."""

from __future__ import annotations

from dataclasses import dataclass

from airbough.wire.answer import Finding, HoodResult
from airbough.wire.gate_states import GateStatesRequest, StateResult
from airbough.wire.quote import QuotedHood, QuotedState
from airbough.wire.sizing import SizingAnswer, SizingState
from airbough.wire.state import NamedState
from airbough.wire.tree import Run, Tree
from airbough_service.questions.gate_states import question as gate_states
from airbough_service.questions.sizing.states import each_alone
from airbough_service.shop.shop import build


@dataclass(frozen=True, slots=True)
class InStates:
    """What is told of the states."""

    states: tuple[QuotedState, ...]
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()


def in_states(tree: Tree, asked: tuple[SizingState, ...], sized: SizingAnswer) -> InStates:
    """Return the states asked for, or each machine alone: with a fan as it moves the air, else at design flows."""
    runs = {run.id: run for run in tree.runs}
    if tree.collector is None or tree.collector.fan is None:
        return InStates(_at_design_flows(runs, sized))
    fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    states = tuple(map(_plain, asked)) or _each_alone(tree)
    answer = gate_states.answer(GateStatesRequest(**fields, states=states, detail="runs", listed=0))
    told = tuple(_state(state, runs) for state in answer.states if state.named)
    names = {state.name for state in states}
    found = tuple(item for item in answer.findings if item.state is None or item.state in names)
    return InStates(told, found, answer.cautions)


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


def _at_design_flows(runs: dict[str, Run], sized: SizingAnswer) -> tuple[QuotedState, ...]:
    """Return the states of sizing: each open hood takes its design flow, and no fan is judged."""
    out = []
    for number, state in enumerate(sized.states):
        hoods = []
        for row in sized.sizes:
            own, flow = runs[row.run].hood, row.states[number].flow
            if own is not None:
                open_ = flow > 0.0
                hoods.append(
                    QuotedHood(
                        run=row.run,
                        flow=flow,
                        open=open_,
                        machine=own.machine,
                        machine_id=own.machine_id,
                        design_flow=flow if open_ else None,
                    )
                )
        broken = tuple(dict.fromkeys(item.rule for item in sized.broken if item.state == state.state))
        out.append(
            QuotedState(
                name=state.state,
                holds=not broken,
                flow=state.flow,
                fan_static_pressure=state.fan_static_pressure,
                hoods=tuple(hoods),
                findings=tuple(sorted({item.code for item in sized.findings if item.state == state.state})),
            )
        )
    return tuple(out)
